"""A design of a placement study in words: its units and where they are, and what it changes."""

from __future__ import annotations

from numpy.typing import NDArray

from fdtd.placement.steps import AUDIBLE_DECAY, AUDIBLE_EVENNESS
from fdtd.placement.study import Design
from fdtd.scene.schema import Spots
from fdtd.study.design_figures import changes, figures, shorter
from fdtd.study.place import PlacementStudy, Units
from fdtd.wording.letters import decay_text, listed, more_even
from fdtd.wording.names import named
from fdtd.wording.places import place_text


def design_text(study: PlacementStudy, design: Design) -> str:
    """A design in one line."""
    return units_text(study.spots, study.units(design))


def units_text(spots: Spots, units: Units) -> str:
    """The units of a design in one line."""
    if not units:
        return "no unit"
    several = len(spots.devices) > 1
    text = []
    for place, device, gain in units:
        turned = device.control is not None and len(spots.gains) > 1
        extra = ([named(device.name)] if several else []) + ([f"gain {gain:g}"] if turned else [])
        text.append(f"{place.name} ({place_text(place)})" + (f", {', '.join(extra)}" if extra else ""))
    return "; ".join(text)


def effect(study: PlacementStudy, design: Design) -> str:
    """Decay and evenness, mean over the seats as in the tables, and whether each is heard."""
    change, after = changes(study, design), figures(study, design)
    even = more_even(study.found.untreated.uneven - after.uneven)
    decay = decay_text(shorter(study, after.ringing), len(study.variant.seats))
    heard = [_audible(study, change.ringing_at, AUDIBLE_DECAY), _audible(study, change.uneven_at, AUDIBLE_EVENNESS)]
    return f"{decay} ({heard[0]}), level {even} ({heard[1]})"


def _audible(study: PlacementStudy, change: NDArray, least: float) -> str:
    seats = [named(s.name) for s, c in zip(study.variant.seats, change, strict=True) if abs(float(c)) >= least]
    if not seats:
        return "inaudible"
    return "audible" if len(seats) == len(study.variant.seats) else f"audible at {listed(seats)}"
