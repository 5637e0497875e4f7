"""Sensible places for loudspeakers and seats in a room of any plan: a first guess that the user then moves."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from fdtd.scene.schema import Point2, Point3
from fdtd.scene.shape import Shape

CLEAR = 0.35
"""m that loudspeakers and seats keep off every wall."""
HEADROOM = 0.25
"""m that they keep below the ceiling."""
APART = 0.6
"""m between any two of them, where the room allows."""
SEAT_HEIGHT, LOUDSPEAKER_HEIGHT, SUBWOOFER_HEIGHT = 1.1, 0.9, 0.3
"""m: ears of a person who sits, acoustic centre of a loudspeaker on a stand and of a box on the floor."""
_MOST_POINTS = 60
"""Points looked at along the longer side."""


def free_points(shape: Shape, height: float) -> list[Point2]:
    """Points of a square pattern, to the centimetre, where something of `height` (m) is clear of walls and ceiling."""
    region = shape.plan.buffer(-CLEAR)
    if region.is_empty:
        return []
    x0, y0, x1, y1 = region.bounds
    step = max(0.05, max(x1 - x0, y1 - y0) / _MOST_POINTS)
    xs = np.unique(np.round(np.append(np.arange(x0, x1, step), x1), 2))
    ys = np.unique(np.round(np.append(np.arange(y0, y1, step), y1), 2))
    grid = np.array([(x, y) for x in xs for y in ys])
    # A pattern rounded to the centimetre may stick out of the region by half of one.
    inside = shapely.covers(region.buffer(0.006), shapely.points(grid))
    free = [(float(x), float(y)) for x, y in grid[inside]]
    return [(x, y) for x, y in free if shape.ceiling_at(x, y) >= height + HEADROOM]


def near(shape: Shape, wish: Point2, height: float, taken: Sequence[Point3]) -> Point3 | None:
    """The free point nearest to `wish` that keeps off all that is `taken`; the farthest from that in a tight room.

    None if nothing of this height has a place in the room.
    """
    points = free_points(shape, height)
    if not points:
        return None

    def gap(point: Point2) -> float:
        return min((math.dist(point, other[:2]) for other in taken), default=math.inf)

    apart = [p for p in points if gap(p) >= APART]
    x, y = min(apart, key=lambda p: (math.dist(p, wish), p)) if apart else max(points, key=lambda p: (gap(p), p))
    return x, y, height


def at_share(shape: Shape, along: float, across: float) -> Point2:
    """The point at these shares of the box around the plan, `along` counted on its longer side.

    `across` runs from the left to the right of somebody who sits far along and looks back.
    """
    x0, y0, x1, y1 = shape.plan.bounds
    if x1 - x0 >= y1 - y0:
        return x0 + along * (x1 - x0), y0 + across * (y1 - y0)
    return x0 + (1.0 - across) * (x1 - x0), y0 + along * (y1 - y0)
