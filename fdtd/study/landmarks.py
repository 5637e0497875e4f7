"""Where a place is as people say it: in the corner behind the loudspeaker, beside the sofa, under the window."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fdtd.scene.schema import Point3, Variant
from fdtd.scene.spots import Candidate

NEAR = 1.8
"""m on the plan from a loudspeaker or seat within which a place is said to be behind or beside it."""
BEHIND = np.cos(np.radians(50.0))


def seen_from_things(place: Candidate, variant: Variant) -> str:
    """`place` in words seen from the nearest loudspeaker or seat of `variant`, such as "in the corner behind 'left'".

    Behind a loudspeaker is away from the seats, behind a seat away from the loudspeakers.
    """
    sources, seats = [s.at for s in variant.sources], [s.at for s in variant.seats]
    things = [(s.name, s.at, seats) for s in variant.sources] + [(s.name, s.at, sources) for s in variant.seats]
    name, at, others = min(things, key=lambda thing: _distance(thing[1], place.at))
    return f"{_kind(place)} {_relation(place.at, at, others)} '{name}'"


def _kind(place: Candidate) -> str:
    if place.on in ("floor", "ceiling") and place.corner == "face":
        return f"on the {place.on}"
    if place.on.startswith("block"):
        return f"on '{place.on[6:].rpartition(' ')[0]}'"
    on_floor = place.height == "on the floor"
    if "in its corner" in place.words:  # of two walls; "corner" would be one that the floor belongs to
        return "in the corner" if on_floor else f"up in the corner, {place.height},"
    if place.corner == "face":
        return f"on the wall, {place.height}," if place.on.startswith("wall") else "on the wall"
    return "at the foot of the wall" if on_floor else "at the edge of the wall"


def _relation(place: Point3, thing: Point3, others: Sequence[Point3]) -> str:
    away = _flat(thing) - np.mean([_flat(other) for other in others], axis=0)
    way = _flat(place) - _flat(thing)
    apart, length = float(np.hypot(*way)), float(np.hypot(*away))
    if apart > NEAR:
        return f"{apart:.1f} m from"
    if apart < 0.05 or length < 0.05:
        return "at"
    return "behind" if float(way @ away) > BEHIND * apart * length else "beside"


def _distance(one: Point3, other: Point3) -> float:
    return float(np.hypot(*(_flat(one) - _flat(other))))


def _flat(point: Point3) -> NDArray[np.float64]:
    return np.array(point[:2], dtype=float)
