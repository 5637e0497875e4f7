"""The hard surfaces around a point of the room."""

from __future__ import annotations

import math

from shapely.geometry import LineString, Point

from fdtd.scene.schema import Point3, Room
from fdtd.scene.shape import Shape

ACROSS = math.sin(math.radians(60.0))
"""Walls count as being at a right angle to each other from 60° up."""


def walls_near(room: Room, point: Point3) -> tuple[float, ...]:
    """Distances in m from `point` to the floor, the nearest wall, and the nearest wall across that one (if any)."""
    walls = []
    for a, b in Shape(room).walls:
        length = math.dist(a, b)
        direction = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
        walls.append((LineString((a, b)).distance(Point(point[:2])), direction))
    nearest, along = min(walls)
    across = [d for d, (ux, uy) in walls if abs(ux * along[1] - uy * along[0]) >= ACROSS]
    return (point[2], nearest, *([min(across)] if across else []))
