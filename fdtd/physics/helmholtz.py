"""Helmholtz resonator: a neck on a closed volume."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fdtd.physics import holes
from fdtd.physics.bounds import more_than_zero, zero_or_more
from fdtd.physics.cavity import first_resonance
from fdtd.physics.layers import ComplexArray
from fdtd.physics.medium import Medium


@dataclass(frozen=True)
class HelmholtzResonator:
    """Neck on a closed volume, both small against the wavelength; per area of the neck, at its mouth.

    neck_area : m²; neck_length : m, without end corrections (0 for a hole in a thin wall); volume : m³; resistance :
    of a cloth or wool in the neck, Pa·s/m, on top of the viscous losses. The neck counts as round, flush with the wall
    at both ends. Source: Kinsler, Frey, Coppens, Sanders, Fundamentals of Acoustics, section 10.8; viscous losses as in
    `holes`. Raises ValueError on numbers out of bounds.
    """

    kind: ClassVar[str] = "helmholtz"

    neck_area: float
    neck_length: float
    volume: float
    resistance: float = 0.0

    def __post_init__(self) -> None:
        owner = "Helmholtz resonator"
        more_than_zero(owner, "area of the neck", self.neck_area, "m²")
        zero_or_more(owner, "length of the neck", self.neck_length, "m")
        more_than_zero(owner, "volume", self.volume, "m³")
        zero_or_more(owner, "resistance", self.resistance, "Pa·s/m")

    @property
    def end_correction(self) -> float:
        """Air that moves along at one end of the neck, m of neck: 8/(3 pi) radii (Rayleigh, flanged)."""
        return holes.FLANGED_END * self._radius

    def admittance(self, frequency: ArrayLike, medium: Medium) -> ComplexArray:
        """Specific admittance of the mouth, m/(Pa·s), at `frequency` in Hz (> 0); the shape of `frequency`.

        Of the two end corrections only the inner one is in it. The outer one is air of the room in front of the mouth,
        which the room's own field already carries (as the radiation mass of a port of this area); counted here too, it
        would be there twice and tune the resonator too low. The viscous loss of both ends is in it: the room has none.
        """
        return np.asarray(1.0 / self._impedance(frequency, medium), dtype=complex)

    def resonance(self, medium: Medium) -> float:
        """Resonance of the resonator set flush in a large wall, both end corrections included, Hz."""

        def reactance(f: ArrayLike) -> ComplexArray:
            outside = 2j * np.pi * np.asarray(f) * medium.density * self.end_correction
            return self._impedance(f, medium) + outside

        return first_resonance(lambda f: reactance(f).imag)

    @property
    def _radius(self) -> float:
        return float(np.sqrt(self.neck_area / np.pi))

    def _impedance(self, frequency: ArrayLike, medium: Medium) -> ComplexArray:
        """Impedance of neck, inner end and volume, Pa·s/m."""
        s = 2j * np.pi * np.asarray(frequency, dtype=float)
        neck = holes.hole_impedance(frequency, medium, self._radius, self.neck_length)
        inner = s * medium.density * self.end_correction
        losses = self.resistance + 2.0 * holes.edge_resistance(frequency, medium)
        spring = medium.bulk_modulus * self.neck_area / (s * self.volume)
        return np.asarray(neck + inner + losses + spring, dtype=complex)
