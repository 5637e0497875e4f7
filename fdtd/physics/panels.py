"""Passive build-ups with a resonance: plates, panels with holes or slots over a cavity, Helmholtz resonators."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.physics import holes, layers
from fdtd.physics.admittance import Branch, Branches
from fdtd.physics.bounds import check_porous_volume, more_than_zero, zero_or_more
from fdtd.physics.layers import ComplexArray
from fdtd.physics.medium import Medium
from fdtd.physics.porous import johnson_champoux_allard

LOWEST, HIGHEST = 1e-3, 1e5
"""Range in which a resonance is looked for, Hz."""


def cavity_impedance(
    frequency: ArrayLike, medium: Medium, depth: float, fill_depth: float = 0.0, fill_resistivity: float = 0.0
) -> ComplexArray:
    """Specific impedance at the front of a closed cavity, Pa·s/m; empty: -j rho c cot(k depth).

    frequency : Hz; depth, fill_depth : m; fill_resistivity : Pa·s/m². The fill lies against the back wall, with
    porosity and tortuosity as `porous.johnson_champoux_allard` takes them; the rest, in front, is air.
    """
    behind: ArrayLike = 0.0
    if fill_depth > 0.0:
        fill = johnson_champoux_allard(frequency, medium, fill_resistivity)
        behind = layers.admittance_in_front(fill, fill_depth)
    front = layers.admittance_in_front(layers.air(frequency, medium), depth - fill_depth, behind)
    return np.asarray(1.0 / front, dtype=complex)


def first_resonance(reactance: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> float:
    """Lowest frequency, Hz, at which the reactance rises through zero.

    reactance : frequencies, (frequency,) Hz, to Im Z, (frequency,). Raises ValueError where there is none.
    """
    from scipy.optimize import brentq  # slow to load, and most scenes do without it

    grid = np.geomspace(LOWEST, HIGHEST, 4000)
    value = reactance(grid)
    rising = np.flatnonzero((value[:-1] < 0.0) & (value[1:] >= 0.0))
    if not rising.size:
        raise ValueError(f"no resonance between {LOWEST:g} and {HIGHEST:g} Hz: check mass, depth and stiffness")
    low, high = grid[rising[0]], grid[rising[0] + 1]
    return float(brentq(lambda f: float(reactance(np.array([f]))[0]), low, high, xtol=1e-12, rtol=1e-12))


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


class _RigidPanel:
    """What panels with holes and with slots have in common: openings, cloth and a closed cavity in series."""

    thickness: float
    depth: float
    resistance: float
    fill_depth: float
    fill_resistivity: float

    def admittance(self, frequency: ArrayLike, medium: Medium) -> ComplexArray:
        """Specific admittance per area of panel, m/(Pa·s)."""
        raise NotImplementedError

    def resonance(self, medium: Medium) -> float:
        """Lowest frequency of zero reactance, Hz; of holes near (c/2 pi) sqrt(share/(depth (thickness + both ends)))"""
        return first_resonance(lambda f: (1.0 / self.admittance(f, medium)).imag)

    def _check(self, owner: str, opening: str, size_name: str, size: float, spacing: float) -> None:
        more_than_zero(owner, f"{size_name} of the {opening}s", size, "m")
        more_than_zero(owner, f"spacing of the {opening}s", spacing, "m")
        more_than_zero(owner, "thickness", self.thickness, "m")
        zero_or_more(owner, "resistance of the cloth", self.resistance, "Pa·s/m")
        check_porous_volume(owner, self.depth, self.fill_depth, self.fill_resistivity)
        if size >= spacing:
            raise ValueError(
                f"{owner}: {opening}s {size!r} m wide run into each other at a spacing of {spacing!r} m; "
                "the spacing, centre to centre, must be larger"
            )

    def _in_series(
        self, inside: ComplexArray, end: float, open_share: float, frequency: ArrayLike, medium: Medium
    ) -> ComplexArray:
        """Openings, both ends of them, cloth and cavity in series, per area of panel.

        inside : impedance of the openings per their own area, Pa·s/m; end : end correction of one side, m. Both ends
        count in full: the room resolves the panel, not the holes in it.
        """
        in_air = 2j * np.pi * np.asarray(frequency, dtype=float) * medium.density
        behind = in_air
        if math.isclose(self.fill_depth, self.depth):
            behind = johnson_champoux_allard(frequency, medium, self.fill_resistivity).mass_impedance()
        edges = 2.0 * holes.edge_resistance(frequency, medium)
        through = (inside + (in_air + behind) * end + edges) / open_share
        cavity = cavity_impedance(frequency, medium, self.depth, self.fill_depth, self.fill_resistivity)
        return np.asarray(1.0 / (through + self.resistance + cavity), dtype=complex)


@dataclass(frozen=True)
class PerforatedPanel(_RigidPanel):
    """Panel with round holes in a square pattern over a closed cavity; the panel itself does not move.

    hole_diameter, hole_spacing (centre to centre), thickness, depth (of the cavity) : m. resistance : of a cloth that
    the air passes over its whole area, just clear of the panel, Pa·s/m; for a cloth glued onto the panel, through which
    air passes at the holes only, give its resistance divided by `open_share`. fill_depth : m, fill_resistivity :
    Pa·s/m² of porous material against the back wall; when it fills the cavity it touches the panel, and the crowded
    flow behind each hole adds much resistance (N. Atalla, F. Sgard, J. Sound Vib. 303 (2007) 195-208).
    Other patterns: give the spacing of the square pattern with the same open share. Raises ValueError on numbers out of
    bounds.
    """

    kind: ClassVar[str] = "perforated"

    hole_diameter: float
    hole_spacing: float
    thickness: float
    depth: float
    resistance: float = 0.0
    fill_depth: float = 0.0
    fill_resistivity: float = 0.0

    def __post_init__(self) -> None:
        self._check("perforated panel", "hole", "diameter", self.hole_diameter, self.hole_spacing)

    @property
    def open_share(self) -> float:
        """Area of the holes per area of the panel."""
        return float(np.pi * self.hole_diameter**2 / (4.0 * self.hole_spacing**2))

    def admittance(self, frequency: ArrayLike, medium: Medium) -> ComplexArray:
        """Specific admittance per area of panel, m/(Pa·s), at `frequency` in Hz (> 0); the shape of `frequency`."""
        radius = 0.5 * self.hole_diameter
        inside = holes.hole_impedance(frequency, medium, radius, self.thickness)
        end = holes.hole_end(radius, self.open_share)
        return self._in_series(inside, end, self.open_share, frequency, medium)


@dataclass(frozen=True)
class SlottedPanel(_RigidPanel):
    """Panel with long parallel slots over a closed cavity; the panel itself does not move.

    slot_width, slot_spacing (centre to centre), thickness, depth : m; the rest as for `PerforatedPanel`.
    """

    kind: ClassVar[str] = "slotted"

    slot_width: float
    slot_spacing: float
    thickness: float
    depth: float
    resistance: float = 0.0
    fill_depth: float = 0.0
    fill_resistivity: float = 0.0

    def __post_init__(self) -> None:
        self._check("slotted panel", "slot", "width", self.slot_width, self.slot_spacing)

    @property
    def open_share(self) -> float:
        """Area of the slots per area of the panel."""
        return self.slot_width / self.slot_spacing

    def admittance(self, frequency: ArrayLike, medium: Medium) -> ComplexArray:
        """Specific admittance per area of panel, m/(Pa·s), at `frequency` in Hz (> 0); the shape of `frequency`."""
        inside = holes.slot_impedance(frequency, medium, self.slot_width, self.thickness)
        end = holes.slot_end(self.slot_width, self.open_share)
        return self._in_series(inside, end, self.open_share, frequency, medium)


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
