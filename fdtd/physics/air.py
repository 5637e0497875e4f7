"""Speed of sound and density of moist air.

Speed of sound: O. Cramer, J. Acoust. Soc. Am. 93 (1993) 2510-2516, valid for 0-30 °C and 75-102 kPa.
Saturation vapour pressure and enhancement factor: R. S. Davis, Metrologia 29 (1992) 67-70, as used by Cramer.
Density: CIPM-2007, A. Picard, R. S. Davis, M. Gläser, K. Fujii, Metrologia 45 (2008) 149-155. The coefficients of its
compressibility factor were written down from memory and then checked, through the densities they give, against
independently computed values (tests/scene/test_air.py).
"""

from __future__ import annotations

import math

_CRAMER = (
    (331.5024, 0.603055, -0.000528),
    (51.471935, 0.1495874, -0.000782),
    (-1.82e-7, 3.73e-8, -2.93e-10),
    (-85.20931, -0.228525, 5.91e-5),
)
"""Of 1, water vapour, pressure and carbon dioxide: factors of 1, t and t²."""
_CRAMER_SQUARES = (-2.835149, -2.15e-13, 29.179762, 0.000486)
"""Of the squares of water vapour, pressure and carbon dioxide, and of all three together."""

CARBON_DIOXIDE = 0.0004
"""Mole fraction of carbon dioxide taken for room air."""


def water_vapour(temperature: float, humidity: float, pressure: float) -> float:
    """Mole fraction of water vapour. temperature : °C; humidity : % relative; pressure : kPa."""
    pascal, kelvin = 1000.0 * pressure, temperature + 273.15
    saturation = math.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6343.1645 / kelvin)
    enhancement = 1.00062 + 3.14e-8 * pascal + 5.6e-7 * temperature**2
    return humidity / 100.0 * enhancement * saturation / pascal


def speed_of_sound(
    temperature: float, humidity: float, pressure: float, carbon_dioxide: float = CARBON_DIOXIDE
) -> float:
    """Speed of sound at zero frequency, m/s. temperature : °C; humidity : % relative; pressure : kPa."""
    t, p, c = temperature, 1000.0 * pressure, carbon_dioxide
    w = water_vapour(temperature, humidity, pressure)
    linear = sum(amount * (a + b * t + d * t**2) for amount, (a, b, d) in zip((1.0, w, p, c), _CRAMER, strict=True))
    water, pressures, carbon, all_three = _CRAMER_SQUARES
    return linear + water * w**2 + pressures * p**2 + carbon * c**2 + all_three * w * p * c


def density(temperature: float, humidity: float, pressure: float, carbon_dioxide: float = CARBON_DIOXIDE) -> float:
    """Density, kg/m³. temperature : °C; humidity : % relative; pressure : kPa."""
    t, kelvin, p = temperature, temperature + 273.15, 1000.0 * pressure
    w = water_vapour(temperature, humidity, pressure)
    virial = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2
    virial += (5.707e-6 - 2.051e-8 * t) * w + (1.9898e-4 - 2.376e-6 * t) * w**2
    compressibility = 1.0 - p / kelvin * virial + (p / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * w**2)
    molar = (3.483740 + 1.4446 * (carbon_dioxide - 0.0004)) * 1e-3
    return molar * p / (compressibility * kelvin) * (1.0 - 0.3780 * w)
