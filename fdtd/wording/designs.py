"""A design of a placement study in words: its units and where they are, and what it changes."""

from __future__ import annotations

from collections.abc import Sequence

from numpy.typing import NDArray

from fdtd.placement.steps import HEARD_DECAY, HEARD_EVENNESS
from fdtd.placement.study import Design
from fdtd.results.placement_record import Unit
from fdtd.scene.schema import Spots
from fdtd.scene.spots import Candidate
from fdtd.study.design_figures import changes, figures, shorter
from fdtd.study.place import PlacementStudy, Units
from fdtd.study.place_answer import placed
from fdtd.wording.places import place_words


def design_words(study: PlacementStudy, design: Design) -> str:
    """A design in one line."""
    return units_words(study.spots, study.units(design))


def record_words(spots: Spots, places: Sequence[Candidate], units: Sequence[Unit]) -> str:
    """The units of a result file in one line; places : of its scene"""
    return units_words(spots, placed(spots, places, units))


def units_words(spots: Spots, units: Units) -> str:
    """The units of a design in one line."""
    if not units:
        return "no unit"
    several = len(spots.devices) > 1
    told = []
    for place, device, gain in units:
        turned = device.control is not None and len(spots.gains) > 1
        extra = ([device.name] if several else []) + ([f"gain {gain:g}"] if turned else [])
        told.append(f"{place.name} ({place_words(place)})" + (f", {', '.join(extra)}" if extra else ""))
    return "; ".join(told)


def effect(study: PlacementStudy, design: Design) -> str:
    """Decay and evenness, mean over the seats as in the tables, and whether each is heard."""
    change, after = changes(study, design), figures(study, design)
    decay, even = shorter(study, after.ringing), study.found.bare.uneven - after.uneven
    rings = f"dies away {round(100 * abs(decay))} % {'sooner' if decay >= 0.0 else 'later'}"
    heard = _heard(study, change.ringing_at, HEARD_DECAY)
    smooth = f"level {abs(even):.1f} dB {'more' if even >= 0.0 else 'less'} even"
    mean = " in the mean of the seats" if len(study.variant.seats) > 1 else ""
    smooth += f" ({_heard(study, change.uneven_at, HEARD_EVENNESS)})"
    return f"what rings in the room {rings}{mean} ({heard}), {smooth}"


def _heard(study: PlacementStudy, change: NDArray, least: float) -> str:
    seats = [f"'{s.name}'" for s, c in zip(study.variant.seats, change, strict=True) if abs(float(c)) >= least]
    if not seats:
        return "not heard"
    return "heard" if len(seats) == len(study.variant.seats) else f"heard at {' and '.join(seats)}"
