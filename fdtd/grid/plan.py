"""The plan cut into columns: parts of columns, the lines they share, the walls they touch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from fdtd.errors import GeometryError
from fdtd.grid.polygons import Polygon, area_and_centroid

ON_LINE = 1e-8
"""m; a polygon corner this close to a grid line lies on it."""

Interval = tuple[float, float]


@dataclass
class Part:
    """A connected part of one column: position (i, j) on the grid, outline, and its intervals on the four sides.

    sides : for -x, +x, -y, +y the intervals (along the other axis) in which it touches that grid line
    """

    i: int
    j: int
    polygon: Polygon
    full: bool
    sides: tuple[list[Interval], list[Interval], list[Interval], list[Interval]]
    inner_walls: list[tuple[NDArray, NDArray]]


@dataclass(frozen=True)
class Plan:
    """parts; links (part, part, axis, start, stop); walls (part, start, stop, wall number from 0)."""

    parts: list[Part]
    links: list[tuple[int, int, int, NDArray, NDArray]]
    walls: list[tuple[int, NDArray, NDArray, int]]


def _full_part(i: int, j: int, x: NDArray, y: NDArray) -> Part:
    box = np.array([[x[i], y[j]], [x[i + 1], y[j]], [x[i + 1], y[j + 1]], [x[i], y[j + 1]]])
    tall, wide = [(y[j], y[j + 1])], [(x[i], x[i + 1])]
    return Part(i, j, box, True, (tall, list(tall), wide, list(wide)), [])


def _cut_part(i: int, j: int, x: NDArray, y: NDArray, outline: shapely.Polygon) -> Part | None:
    corners = shapely.get_coordinates(outline.exterior)[:-1]
    if not outline.exterior.is_ccw:
        corners = corners[::-1]
    keep = np.hypot(*(corners - np.roll(corners, 1, axis=0)).T) > 1e-10
    corners = corners[keep]
    if len(corners) < 3 or area_and_centroid(corners)[0] < 1e-12:
        return None
    part = Part(i, j, corners, False, ([], [], [], []), [])
    lines = ((0, x[i]), (0, x[i + 1]), (1, y[j]), (1, y[j + 1]))
    for start, stop in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        for side, (axis, line) in enumerate(lines):
            if abs(start[axis] - line) < ON_LINE and abs(stop[axis] - line) < ON_LINE:
                along = sorted((float(start[1 - axis]), float(stop[1 - axis])))
                part.sides[side].append((along[0], along[1]))
                break
        else:
            part.inner_walls.append((start, stop))
    return part


def _overlaps(first: list[Interval], second: list[Interval]) -> list[Interval]:
    found = []
    for a0, a1 in first:
        for b0, b1 in second:
            low, high = max(a0, b0), min(a1, b1)
            if high - low > ON_LINE:
                found.append((low, high))
    return found


def _rest(intervals: list[Interval], taken: list[Interval]) -> list[Interval]:
    rest = []
    for low, high in intervals:
        for t0, t1 in sorted(taken):
            if t1 > low and t0 < high:
                if t0 - low > ON_LINE:
                    rest.append((low, t0))
                low = max(low, t1)
        if high - low > ON_LINE:
            rest.append((low, high))
    return rest


def _line_points(axis: int, line: float, interval: Interval) -> tuple[NDArray, NDArray]:
    low, high = interval
    if axis == 0:
        return np.array([line, low]), np.array([line, high])
    return np.array([low, line]), np.array([high, line])


class _WallFinder:
    """Which wall of the plan a short segment lies on."""

    def __init__(self, plan: NDArray) -> None:
        self.start = plan
        self.along = np.roll(plan, -1, axis=0) - plan
        self.length2 = (self.along**2).sum(axis=1)

    def __call__(self, start: NDArray, stop: NDArray) -> int:
        middle, direction = 0.5 * (start + stop), stop - start
        t = np.clip(((middle - self.start) * self.along).sum(axis=1) / self.length2, 0.0, 1.0)
        distance = np.hypot(*(self.start + t[:, None] * self.along - middle).T)
        skew = np.abs(self.along[:, 0] * direction[1] - self.along[:, 1] * direction[0])
        skew /= np.sqrt(self.length2) * np.hypot(*direction)
        return int(np.argmin(distance + 1e-3 * skew))


def cut_plan(corners: NDArray[np.float64], x: NDArray[np.float64], y: NDArray[np.float64]) -> Plan:
    """Cut a simple polygon, (corner, 2) in m, by the grid lines `x` and `y`.

    Raises GeometryError if the polygon has no area.
    """
    outline = shapely.Polygon(corners)
    if not outline.is_valid or outline.area <= 0.0:
        raise GeometryError("the plan crosses itself or has no area")
    nx, ny = len(x) - 1, len(y) - 1
    boxes = shapely.box(*np.broadcast_arrays(x[:-1, None], y[None, :-1], x[1:, None], y[None, 1:]))
    pieces = shapely.intersection(boxes, outline)
    share = shapely.area(pieces) / shapely.area(boxes)
    parts: list[Part] = []
    at: dict[tuple[int, int], list[int]] = {}
    for i in range(nx):
        for j in range(ny):
            if share[i, j] > 1.0 - 1e-10:
                new = [_full_part(i, j, x, y)]
            elif share[i, j] > 1e-10:
                shapes = [g for g in shapely.get_parts(pieces[i, j]) if g.geom_type == "Polygon"]
                new = [p for p in (_cut_part(i, j, x, y, g) for g in shapes) if p is not None]
            else:
                continue
            at[i, j] = list(range(len(parts), len(parts) + len(new)))
            parts.extend(new)
    return _connect(parts, at, x, y, _WallFinder(corners))


def _connect(parts: list[Part], at: dict, x: NDArray, y: NDArray, wall_of: _WallFinder) -> Plan:
    links, walls = [], []
    taken: list[tuple[list[Interval], ...]] = [([], [], [], []) for _ in parts]
    for a, part in enumerate(parts):
        for axis, line in ((0, x[part.i + 1]), (1, y[part.j + 1])):
            neighbour = (part.i + 1, part.j) if axis == 0 else (part.i, part.j + 1)
            for b in at.get(neighbour, ()):
                for interval in _overlaps(part.sides[2 * axis + 1], parts[b].sides[2 * axis]):
                    links.append((a, b, axis, *_line_points(axis, line, interval)))
                    taken[a][2 * axis + 1].append(interval)
                    taken[b][2 * axis].append(interval)
    for a, part in enumerate(parts):
        lines = ((0, x[part.i]), (0, x[part.i + 1]), (1, y[part.j]), (1, y[part.j + 1]))
        for side, (axis, line) in enumerate(lines):
            for interval in _rest(part.sides[side], taken[a][side]):
                start, stop = _line_points(axis, line, interval)
                walls.append((a, start, stop, wall_of(start, stop)))
        for start, stop in part.inner_walls:
            walls.append((a, start, stop, wall_of(start, stop)))
    return Plan(parts, links, walls)
