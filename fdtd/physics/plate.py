"""Plate or membrane over a closed cavity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fdtd.physics.admittance import Branch, Branches
from fdtd.physics.bounds import check_porous_volume, more_than_zero, zero_or_more
from fdtd.physics.cavity import cavity_impedance, first_resonance
from fdtd.physics.layers import ComplexArray
from fdtd.physics.medium import Medium

DEEP = 0.2
"""m; a deeper cavity is no longer a spring with a little mass up to 200 Hz (k d = 0.73, where 0.6 % is left out)."""


@dataclass(frozen=True)
class Plate:
    """Plate that moves as a limp or sprung mass over a closed cavity: r + j omega m + s/(j omega) - j rho c cot(k d).

    mass : kg/m²; depth : of the cavity, m; loss : loss factor of plate and mounting, resistance = loss x omega0 x mass
    with omega0 the resonance over this cavity (0.1 unless measured, common practice); stiffness : the plate's own,
    Pa/m, 0 where the air is much stiffer; fill_depth : m, fill_resistivity : Pa·s/m² of porous material against the
    back wall.
    Source: Kuttruff, Room Acoustics, section 2.4 (plate resonance); Cox and D'Antonio, Acoustic Absorbers and
    Diffusers, ch. 7. Raises ValueError on numbers out of bounds.
    """

    kind: ClassVar[str] = "plate"

    mass: float
    depth: float
    loss: float = 0.1
    stiffness: float = 0.0
    fill_depth: float = 0.0
    fill_resistivity: float = 0.0

    def __post_init__(self) -> None:
        owner = "plate absorber"
        more_than_zero(owner, "mass", self.mass, "kg/m²")
        zero_or_more(owner, "loss factor", self.loss, "")
        zero_or_more(owner, "stiffness", self.stiffness, "Pa/m")
        check_porous_volume(owner, self.depth, self.fill_depth, self.fill_resistivity)

    def admittance(self, frequency: ArrayLike, medium: Medium) -> ComplexArray:
        """Specific admittance of the plate's face, m/(Pa·s), at `frequency` in Hz (> 0); the shape of `frequency`."""
        return np.asarray(1.0 / (self._lossless(frequency, medium) + self.resistance(medium)), dtype=complex)

    def resonance(self, medium: Medium) -> float:
        """Frequency of zero reactance, Hz; near 60/sqrt(mass x depth) when empty and the plate is limp."""
        return first_resonance(lambda f: self._lossless(f, medium).imag)

    def resistance(self, medium: Medium) -> float:
        """Loss of the plate and its mounting, Pa·s/m; that of a fill comes on top."""
        return self.loss * 2.0 * np.pi * self.resonance(medium) * self.mass if self.loss else 0.0

    def branches(self, medium: Medium) -> Branches | None:
        """One branch for an empty cavity; None with a fill, whose drag and heat need a fit of `admittance`, or if deep.

        From the series -cot(x) = -1/x + x/3 + x³/45 + ...: the cavity is a stiffness rho c²/d and a mass rho d/3 (a
        third of its air moves along). What is left out is (k d)^4/45 of the cavity's stiffness: 1e-4 for
        0.1 m at 140 Hz.
        """
        if self.fill_depth or self.depth > DEEP:
            return None
        mass = self.mass + medium.density * self.depth / 3.0
        stiffness = self.stiffness + medium.bulk_modulus / self.depth
        return (Branch(mass, self.resistance(medium), stiffness),)

    def _lossless(self, frequency: ArrayLike, medium: Medium) -> ComplexArray:
        """Impedance without the plate's own resistance, Pa·s/m."""
        s = 2j * np.pi * np.asarray(frequency, dtype=float)
        cavity = cavity_impedance(frequency, medium, self.depth, self.fill_depth, self.fill_resistivity)
        return np.asarray(s * self.mass + self.stiffness / s + cavity, dtype=complex)
