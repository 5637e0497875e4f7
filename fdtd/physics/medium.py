"""The air as build-up formulas need it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Medium:
    """density : kg/m³; speed_of_sound : m/s; viscosity : Pa·s; the last three have the values of air near 20 °C.

    The viscosity is that of Sutherland's formula at 20 °C; ratio of specific heats and Prandtl number are handbook
    values for air (Allard and Atalla, Propagation of Sound in Porous Media, 2009, table 4.1: 1.84e-5 Pa·s, 1.4, 0.71;
    values from memory).
    """

    density: float
    speed_of_sound: float
    viscosity: float = 1.84e-5
    heat_ratio: float = 1.4
    prandtl: float = 0.71

    @property
    def impedance(self) -> float:
        """Characteristic impedance rho c, Pa·s/m."""
        return self.density * self.speed_of_sound

    @property
    def bulk_modulus(self) -> float:
        """Adiabatic bulk modulus rho c², Pa."""
        return self.density * self.speed_of_sound**2
