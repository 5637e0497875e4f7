"""Where something is in the plan, in words: coordinates, walls near it, corners."""

from __future__ import annotations

import math

import numpy as np
from shapely.geometry import LineString, Point

from fdtd.results.placement_record import LoudSpot
from fdtd.scene.faces import wall_number
from fdtd.scene.schema import Point3
from fdtd.scene.shape import Shape

ACROSS = math.sin(math.radians(30.0))
"""Walls that meet at less are taken as one when a place is told by its distance from two of them."""


def place_text(shape: Shape, at: Point3) -> str:
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
        return f"on the floor, {place_text(shape, (x, y, z))}", ""
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
