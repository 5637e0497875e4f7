"""Where a place is: as one would say it with a tape measure, and as seen from the nearest loudspeaker or seat."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fdtd.scene.faces import block_side, wall_number
from fdtd.scene.schema import Point3, Variant
from fdtd.scene.spots import Candidate, WallEnd
from fdtd.wording.names import named

NEAR = 1.8
"""m on the plan from a loudspeaker or seat within which a place is said to be behind or beside it."""
BEHIND = np.cos(np.radians(50.0))
BESIDE_EDGES = {"corner": "; in a corner", "edge": "; at an edge", "face": ""}
ENDS = {"corner": "corner with", "outer": "outer corner with", "straight": "end at"}
HEIGHTS = {"floor": "on the floor", "ceiling": "on the ceiling", "top": "under the ceiling"}


def place_text(place: Candidate) -> str:
    """Where a unit is, distances as of its edges, and whether it is in a corner or at an edge of the room."""
    return short_text(place) + BESIDE_EDGES[place.corner]


def short_text(place: Candidate) -> str:
    """Where a unit is, distances as of its edges."""
    x, y, _ = place.at
    if place.on in ("floor", "ceiling"):
        return f"{place.on}, its centre at x = {x:.2f} m, y = {y:.2f} m"
    if wall_number(place.on):
        where = f"beside {named(place.beside)}" if place.end is None else _end_text(place.end)
        return f"{place.on}, {where}, {height_text(place)}"
    name, side = block_side(place.on)
    if side[-1] not in "xy":
        return f"{named(name)}, side {side}, its centre at x = {x:.2f} m, y = {y:.2f} m"
    centre = f"y = {y:.2f} m" if side[-1] == "x" else f"x = {x:.2f} m"
    where = f"beside {named(place.beside)}" if place.beside else f"its centre at {centre}"
    return f"{named(name)}, side {side}, {where}, {height_text(place)}"


def _end_text(end: WallEnd) -> str:
    what = f"{ENDS[end.kind]} wall {end.wall}"
    if end.gap > 0.0:
        return f"{end.gap:.2f} m from its {what}"
    return f"{'in' if end.kind == 'corner' else 'at'} its {what}"


def height_text(place: Candidate) -> str:
    """How high a unit is, its cabinet included."""
    return HEIGHTS.get(place.height) or f"{place.bottom:.2f} m above the floor"


def seen_from_things(place: Candidate, variant: Variant) -> str:
    """`place` in words seen from the nearest loudspeaker or seat of `variant`, such as "in the corner behind 'left'".

    Behind a loudspeaker is away from the seats, behind a seat away from the loudspeakers.
    """
    sources, seats = [s.at for s in variant.sources], [s.at for s in variant.seats]
    things = [(s.name, s.at, seats) for s in variant.sources] + [(s.name, s.at, sources) for s in variant.seats]
    name, at, others = min(things, key=lambda thing: _distance(thing[1], place.at))
    return f"{_kind(place)} {_relation(place.at, at, others)} {named(name)}"


def _kind(place: Candidate) -> str:
    if place.on in ("floor", "ceiling") and place.corner == "face":
        return f"on the {place.on}"
    if block := block_side(place.on)[0]:
        return f"on {named(block)}"
    on_floor, high = place.height == "floor", height_text(place)
    # The corner of two walls; place.corner may be one that the floor belongs to.
    if place.end is not None and place.end.kind == "corner" and place.end.gap == 0.0:
        return "in the corner" if on_floor else f"up in the corner, {high},"
    if place.corner == "face":
        return f"on the wall, {high}," if wall_number(place.on) else "on the wall"
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
