"""Air in front of a small vibrating face in a wall or in a true corner, and what such a face can absorb at most.

A face small against the wavelength meets the acoustic impedance Zr = R + j w M (pressure averaged over the face per
volume velocity out of it). On a wall R = rho w² / (2 pi c); two more walls at right angles make it four times that,
since the images double the pressure with each wall (Pierce, Acoustics, 1981, ch. 4 and 5, for the monopole and its
images; values from memory).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.physics.medium import Medium

CORNER_RESISTANCE = 4.0
"""Radiation resistance in a corner over that on a wall: two more walls, each of which doubles it."""
CORNER_MASS = 2.0
"""Mass in a corner over that on a wall: the images complete the face to one of twice the size, see `piston_mass`."""


def inverse_distance(width: float, height: float) -> float:
    """Double integral of 1/distance over all pairs of points of a rectangle; width, height : m; result : m³.

    With a, b the sides: 2 a² b asinh(b/a) + 2 a b² asinh(a/b) + (2/3)(a³ + b³ - (a² + b²)^(3/2)). It follows from
    4 integral (a - x)(b - y)/sqrt(x² + y²) dx dy over the rectangle; a unit square gives 2.9732.
    """
    a, b = width, height
    mixed = 2.0 * a * a * b * math.asinh(b / a) + 2.0 * a * b * b * math.asinh(a / b)
    return mixed + 2.0 / 3.0 * (a**3 + b**3 - math.hypot(a, b) ** 3)


def piston_mass(width: float, height: float, medium: Medium, corner: bool = False) -> float:
    """Acoustic mass, kg/m⁴, of the air in front of a rectangular piston at low frequency; width, height : m.

    rho / (2 pi S²) times the double integral of 1/distance (Rayleigh's integral for a piston in a baffle, averaged over
    the piston). In a corner the piston touches both other walls; the images then form a piston of twice the width and
    height, of which it is a quarter, and that has twice the mass: the double integral grows with the cube of the size.
    """
    _check(width, height)
    area = width * height
    mass = medium.density * inverse_distance(width, height) / (2.0 * math.pi * area**2)
    return CORNER_MASS * mass if corner else mass


def piston_impedance(
    width: float, height: float, frequency: ArrayLike, medium: Medium, corner: bool = False
) -> NDArray[np.complex128]:
    """Acoustic radiation impedance of a rectangular piston in a wall, Pa·s/m³; `frequency` in Hz, its shape.

    Low-frequency limit, for sides well below the wavelength / pi. width, height : m; corner : whether the piston sits
    where three walls meet, touching both others.
    Raises ValueError if a side is not positive.
    """
    omega = 2.0 * np.pi * np.asarray(frequency, dtype=float)
    resistance = medium.density * omega**2 / (2.0 * np.pi * medium.speed_of_sound)
    if corner:
        resistance = CORNER_RESISTANCE * resistance
    return resistance + 1j * omega * piston_mass(width, height, medium, corner)


def equivalent_absorption_area(
    admittance: ArrayLike,
    face_area: float,
    width: float,
    height: float,
    frequency: ArrayLike,
    medium: Medium,
    corner: bool = False,
) -> NDArray[np.float64]:
    """Equivalent absorption area, m², of a small face in a diffuse field; negative where it feeds the field.

    admittance : specific, m/(Pa·s); face_area : moving area, m²; width, height : m, of the rectangle it fills;
    frequency : Hz; the two arrays broadcast.
    A blocked face sees twice the mean square pressure of the diffuse field on a wall, eight times that in a corner
    (images); it takes Re(y)/|1 + Zr y|² of it, with y = face_area times admittance, and the intensity on a wall is
    p²/(4 rho c): A = 8 rho c Re(y)/|1 + Zr y|², 32 instead of 8 in a corner (Kuttruff, Room Acoustics, ch. 5, for the
    intensity; value from memory). A face with Zr y << 1 takes 8 rho c Re(y), the limit of Paris' integral.
    """
    y = face_area * np.asarray(admittance, dtype=complex)
    field = 32.0 if corner else 8.0
    load = piston_impedance(width, height, frequency, medium, corner)
    return np.asarray(field * medium.impedance * y.real / np.abs(1.0 + load * y) ** 2)


def largest_absorption_area(frequency: ArrayLike, medium: Medium) -> NDArray[np.float64]:
    """Most that any small passive face absorbs in a diffuse field, lambda²/pi, m², on a wall as in a corner.

    Re(y)/|1 + Zr y|² is at most 1/(4 R), reached where 1/y is the complex conjugate of Zr.
    """
    wavelength = medium.speed_of_sound / np.asarray(frequency, dtype=float)
    return np.asarray(wavelength**2 / np.pi)


def _check(width: float, height: float) -> None:
    for name, value in (("width", width), ("height", height)):
        if not (math.isfinite(value) and value > 0.0):
            raise ValueError(f"a vibrating face needs a positive {name} in m, found {value}")
