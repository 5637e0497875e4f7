"""Rigid panel with round holes or slots over a closed cavity."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fdtd.physics import holes
from fdtd.physics.bounds import check_porous_volume, more_than_zero, zero_or_more
from fdtd.physics.cavity import cavity_impedance, first_resonance
from fdtd.physics.layers import ComplexArray
from fdtd.physics.medium import Medium
from fdtd.physics.porous import johnson_champoux_allard


@dataclass(frozen=True)
class PerforatedPanel:
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
        _check(self, "perforated panel", "hole", self.hole_diameter, "diameter", self.hole_spacing)

    @property
    def open_share(self) -> float:
        """Area of the holes per area of the panel."""
        return float(np.pi * self.hole_diameter**2 / (4.0 * self.hole_spacing**2))

    def admittance(self, frequency: ArrayLike, medium: Medium) -> ComplexArray:
        """Specific admittance per area of panel, m/(Pa·s), at `frequency` in Hz (> 0); the shape of `frequency`."""
        radius = 0.5 * self.hole_diameter
        inside = holes.hole_impedance(frequency, medium, radius, self.thickness)
        return _admittance(self, inside, holes.hole_end(radius, self.open_share), frequency, medium)

    def resonance(self, medium: Medium) -> float:
        """Lowest frequency of zero reactance, Hz; near (c/2 pi) sqrt(share/(depth (thickness + both ends)))."""
        return first_resonance(lambda f: (1.0 / self.admittance(f, medium)).imag)


@dataclass(frozen=True)
class SlottedPanel:
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
        _check(self, "slotted panel", "slot", self.slot_width, "width", self.slot_spacing)

    @property
    def open_share(self) -> float:
        """Area of the slots per area of the panel."""
        return self.slot_width / self.slot_spacing

    def admittance(self, frequency: ArrayLike, medium: Medium) -> ComplexArray:
        """Specific admittance per area of panel, m/(Pa·s), at `frequency` in Hz (> 0); the shape of `frequency`."""
        inside = holes.slot_impedance(frequency, medium, self.slot_width, self.thickness)
        return _admittance(self, inside, holes.slot_end(self.slot_width, self.open_share), frequency, medium)

    def resonance(self, medium: Medium) -> float:
        """Lowest frequency of zero reactance, Hz."""
        return first_resonance(lambda f: (1.0 / self.admittance(f, medium)).imag)


def _check(
    panel: PerforatedPanel | SlottedPanel, owner: str, opening: str, size: float, size_name: str, spacing: float
) -> None:
    more_than_zero(owner, f"{size_name} of the {opening}s", size, "m")
    more_than_zero(owner, f"spacing of the {opening}s", spacing, "m")
    more_than_zero(owner, "thickness", panel.thickness, "m")
    zero_or_more(owner, "resistance of the cloth", panel.resistance, "Pa·s/m")
    check_porous_volume(owner, panel.depth, panel.fill_depth, panel.fill_resistivity)
    if size >= spacing:
        raise ValueError(
            f"{owner}: {opening}s {size!r} m wide run into each other at a spacing of {spacing!r} m; "
            "the spacing, centre to centre, must be larger"
        )


def _admittance(
    panel: PerforatedPanel | SlottedPanel, inside: ComplexArray, end: float, frequency: ArrayLike, medium: Medium
) -> ComplexArray:
    """Openings, both ends of them, cloth and cavity in series, per area of panel.

    inside : impedance of the openings per their own area, Pa·s/m; end : end correction of one side, m. Both ends count
    in full: the room resolves the panel, not the holes in it.
    """
    in_air = 2j * np.pi * np.asarray(frequency, dtype=float) * medium.density
    behind = in_air
    if math.isclose(panel.fill_depth, panel.depth):
        behind = johnson_champoux_allard(frequency, medium, panel.fill_resistivity).mass_impedance()
    edges = 2.0 * holes.edge_resistance(frequency, medium)
    through = (inside + (in_air + behind) * end + edges) / panel.open_share
    cavity = cavity_impedance(frequency, medium, panel.depth, panel.fill_depth, panel.fill_resistivity)
    return np.asarray(1.0 / (through + panel.resistance + cavity), dtype=complex)
