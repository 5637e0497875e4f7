"""What to know about units and surfaces, in whole sentences."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from fdtd.physics.active import ActiveUnit
from fdtd.physics.design import Design
from fdtd.surface.lines import FINE, runs
from fdtd.surface.units import BANDS, Unit

HINT = (
    "Absorption of a device, at normal or random incidence, is that of plane waves on a surface of such faces only. "
    "A small unit in a room does something else, it draws sound from all around: go by its equivalent absorption area."
)
HEAVY = 3.0
"""kg/m² from which a plate gets a line on its weight."""
SMALLEST = 0.005
"""m²: a negative area below it is left unsaid."""


def feeding_text(unit: Unit) -> str:
    """Where a unit feeds energy into the room, in words; "" if nowhere between 15 and 250 Hz."""
    area = np.minimum(unit.area(FINE), unit.area(FINE, corner=True))
    parts = [
        f"{_hertz(FINE[a], FINE[b])} (down to {_area(area[a : b + 1].min())} m²)"
        for a, b in runs(area < 0.0)
        if area[a : b + 1].min() < -SMALLEST
    ]
    if not parts:
        return ""
    where = " and ".join((", ".join(parts[:-1]), parts[-1])) if len(parts) > 1 else parts[0]
    text = (
        f"'{unit.name}' feeds energy into the room {where}: there the real part of its admittance is negative, its "
        "equivalent area too, and it makes resonances of the room ring longer."
    )
    if isinstance(unit.design, ActiveUnit):
        text += " Filters and delay turn the phase at the edges of its band: try less gain, less delay or a wider band."
    return text


def _hertz(low: float, high: float) -> str:
    if high >= FINE[-1]:
        return f"from {low:.0f} Hz on"
    return f"up to {high:.0f} Hz" if low <= FINE[0] else f"from {low:.0f} to {high:.0f} Hz"


def _area(value: float) -> str:
    return f"{value:.2f}" if abs(value) < 1.0 else f"{value:.1f}"


def size_text(unit: Unit) -> str:
    """A caution for faces that are not small against the wavelength; "" for those that are."""
    highest = unit.medium.speed_of_sound / (math.pi * max(unit.width, unit.height))
    if highest >= BANDS[-1]:
        return ""
    return (
        f"'{unit.name}' has a face of {unit.width:.2f} by {unit.height:.2f} m: above about {highest:.0f} Hz it is no "
        "longer small against the wavelength, and its areas there are rough."
    )


def target_text(unit: Unit) -> str:
    """What an active unit aims at, in words; "" for others."""
    design = unit.design
    if not isinstance(design, ActiveUnit):
        return ""
    text = (
        f"'{unit.name}' aims at {design.target_resistance:g} Pa·s/m (rho c is {unit.medium.impedance:.0f}) from "
        f"{design.band_low:g} to {design.band_high:g} Hz at loop gain {unit.gain:g}."
    )
    missing = [
        word
        for word, limit in (("stroke", design.largest_stroke), ("current", design.largest_current))
        if limit is None
    ]
    if missing:
        text += f" No limit of {' or '.join(missing)} is given in the scene, so none is shown."
    return text


def safety_text(designs: Iterable[Design]) -> list[str]:
    """Safety lines that fit build-ups: fire, weight, mains; each once."""
    found: dict[str, str] = {}
    heaviest = 0.0
    for design in designs:
        if design.kind == "porous" or getattr(design, "fill_depth", 0.0) > 0.0:
            found["fire"] = (
                "Fire: porous fill can burn. Use wool or foam with a fire class for living rooms, away from heat."
            )
        mass = getattr(design, "mass", 0.0) if design.kind == "plate" else 0.0
        if mass >= HEAVY and mass > heaviest:
            heaviest = mass
            found["weight"] = (
                f"Weight: a plate of {mass:g} kg/m² that hangs needs fixings rated for it and a second one to catch it."
            )
        if design.kind == "active":
            found["mains"] = (
                "Mains: use tested amplifiers as they are sold; no mains wiring inside a home-made cabinet."
            )
    return list(found.values())
