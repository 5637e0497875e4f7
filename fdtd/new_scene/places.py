"""Sensible places for loudspeakers and seats in a room of any plan: a first guess that the user then moves."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from fdtd.scene.schema import Point2, Point3
from fdtd.scene.shape import Shape

CLEAR = 0.35
"""m that loudspeakers and seats keep off every wall."""
HEADROOM = 0.25
"""m that they keep below the ceiling."""
APART = 0.6
"""m between any two of them, where the room allows."""
_MOST_POINTS = 60
"""Points looked at along the longer side."""
_STEPS = 16
"""Equal parts of each side, besides the corners, between which the main part of a plan begins and ends."""
_WIDE = 3.0
"""m: a part of a plan that is this wide is as good as a wider one of the same area."""


def main_part(shape: Shape) -> Polygon:
    """The rectangle along x and y, all of it in the plan, in which people would sit: large, and not a corridor.

    Whatever is in it is in sight of everything else in it. Empty if the plan holds none.
    """
    x0, y0, x1, y1 = shape.plan.bounds
    xs = np.unique([*(p[0] for p in shape.room.plan), *np.linspace(x0, x1, _STEPS + 1)])
    ys = np.unique([*(p[1] for p in shape.room.plan), *np.linspace(y0, y1, _STEPS + 1)])
    cells = shapely.box(xs[:-1, None], ys[None, :-1], xs[1:, None], ys[None, 1:])
    missing = ~shapely.covers(shape.plan.buffer(1e-6, join_style="mitre"), cells)
    count = np.pad(missing.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    first_x, last_x = np.triu_indices(len(xs), 1)
    first_y, last_y = np.triu_indices(len(ys), 1)

    def of(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return count[x[:, None], y[None, :]]

    holes = of(last_x, last_y) - of(first_x, last_y) - of(last_x, first_y) + of(first_x, first_y)
    along, across = (xs[last_x] - xs[first_x])[:, None], (ys[last_y] - ys[first_y])[None, :]
    merit = np.where(holes == 0, along * across * np.minimum(np.minimum(along, across), _WIDE), 0.0)
    i, j = np.unravel_index(int(np.argmax(merit)), merit.shape)
    if merit[i, j] <= 0.0:
        return Polygon()
    return box(xs[first_x[i]], ys[first_y[j]], xs[last_x[i]], ys[last_y[j]])


def free_points(shape: Shape, part: Polygon, height: float) -> list[Point2]:
    """Points of a square pattern, to the centimetre, where something of `height` (m) is clear of walls and ceiling.

    part : of the plan, in which they lie
    """
    region = shape.plan.buffer(-CLEAR).intersection(part)
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


def near(shape: Shape, part: Polygon, wish: Point2, height: float, taken: Sequence[Point3]) -> Point3 | None:
    """The free point nearest to `wish` that keeps off all that is `taken`; the farthest from that in a tight room.

    It is in sight of all that is taken. None if nothing of this height has such a place in `part` of the plan.
    """
    points = _in_sight(shape, free_points(shape, part, height), taken)
    if not points:
        return None

    def gap(point: Point2) -> float:
        return min((math.dist(point, other[:2]) for other in taken), default=math.inf)

    apart = [p for p in points if gap(p) >= APART]
    x, y = min(apart, key=lambda p: (math.dist(p, wish), p)) if apart else max(points, key=lambda p: (gap(p), p))
    return x, y, height


def _in_sight(shape: Shape, points: Sequence[Point2], taken: Sequence[Point3]) -> list[Point2]:
    """The points from which a straight line over the floor leads to everything that is taken."""
    plan, seen = shape.plan.buffer(1e-6), np.ones(len(points), dtype=bool)
    shapely.prepare(plan)
    for x, y, _ in taken:
        seen &= shapely.covers(plan, shapely.linestrings([[(x, y), point] for point in points]))
    return [point for point, good in zip(points, seen, strict=True) if good]


def at_share(part: Polygon, along: float, across: float) -> Point2:
    """The point at these shares of the box around `part` of a plan, `along` counted on its longer side.

    `across` runs from the left to the right of somebody who sits far along and looks back.
    """
    x0, y0, x1, y1 = part.bounds
    if x1 - x0 >= y1 - y0:
        return x0 + along * (x1 - x0), y0 + across * (y1 - y0)
    return x0 + (1.0 - across) * (x1 - x0), y0 + along * (y1 - y0)
