"""Where something is: with a tape measure, from the nearest loudspeaker or seat, from the walls, or along them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Point

from fdtd.results.placement_record import LoudSpot
from fdtd.scene.faces import block_side, wall_number
from fdtd.scene.schema import Point3, Variant
from fdtd.scene.shape import Shape
from fdtd.scene.spots import Candidate, WallEnd
from fdtd.wording.names import named

ACROSS = math.sin(math.radians(30.0))
"""Walls that meet at less are taken as one when a place is told by its distance from two of them."""
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


def position_text(shape: Shape, at: Point3) -> str:
    """Where a place is: its coordinates, and its distance from the two nearest walls that are not in one line."""
    point = Point(at[:2])
    walls = []
    for number, (start, end) in enumerate(shape.walls, start=1):
        length = math.dist(start, end)
        way = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
        walls.append((LineString((start, end)).distance(point), number, way))
    walls.sort()
    nearest = walls[0]
    across = [w for w in walls[1:] if abs(w[2][0] * nearest[2][1] - w[2][1] * nearest[2][0]) >= ACROSS]
    text = " and ".join(f"{d:.2f} m from wall {n}" for d, n, _ in (nearest, *across[:1]))
    return f"x = {at[0]:.2f} m, y = {at[1]:.2f} m ({text})"


def spot_text(shape: Shape, spot: LoudSpot) -> tuple[str, str]:
    """Where a spot is along floor and walls, and how high: "all over wall 3" and floors have no height, ""."""
    x, y, z = spot.at
    walls = [number for name in spot.surfaces if (number := wall_number(name))]
    if spot.whole:
        return f"all over {' and '.join(spot.whole)}", ""
    if not walls:
        return f"on the floor, {position_text(shape, (x, y, z))}", ""
    if spot.any_height:
        height = "at any height"
    elif "floor" in spot.surfaces:
        height = "on the floor"
    elif shape.ceiling_at(x, y) - z < 0.25:
        height = "under the ceiling"
    else:
        height = f"{z:.1f} m up"
    if len(walls) > 1:
        return f"corner of wall {walls[0]} and wall {walls[1]}", height
    number, count = walls[0], len(shape.walls)
    first, last = (float(np.hypot(x - p[0], y - p[1])) for p in shape.walls[number - 1])
    beside = (number - 2) % count + 1 if first <= last else number % count + 1
    return f"wall {number}, {min(first, last):.1f} m from its end at wall {beside}", height
