"""Small polygon geometry for cut cells: half-plane clips, areas, strips under a sloped ceiling."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.grid.shape import TOLERANCE

Polygon = NDArray[np.float64]
"""(corner, 2) float64, counter-clockwise, not closed."""
Planes = tuple[tuple[float, float, float], ...]


def area_and_centroid(polygon: Polygon) -> tuple[float, NDArray[np.float64]]:
    """Area (positive if counter-clockwise) and centroid of a polygon (shoelace formula)."""
    if len(polygon) < 3:
        return 0.0, np.zeros(2)
    # In plain numbers: arrays of a few corners take ten times as long.
    corners = polygon.tolist()
    x0, y0 = corners[0]
    area, x_moment, y_moment, x, y = 0.0, 0.0, 0.0, 0.0, 0.0
    for u, v in corners[1:]:
        u, v = u - x0, v - y0
        cross = x * v - u * y
        area += 0.5 * cross
        x_moment += (x + u) * cross
        y_moment += (y + v) * cross
        x, y = u, v
    if abs(area) < 1e-30:
        return 0.0, polygon.mean(axis=0)
    return area, np.array([x0 + x_moment / (6.0 * area), y0 + y_moment / (6.0 * area)])


def clip_half_plane(polygon: Polygon, offset: float, slope: tuple[float, float]) -> Polygon:
    """The part of `polygon` where offset + slope . (x, y) >= 0 (Sutherland and Hodgman's clip; exact areas)."""
    if len(polygon) == 0:
        return polygon
    value = offset + polygon @ np.asarray(slope)
    if (value >= 0.0).all():
        return polygon
    points = []
    for k in range(len(polygon)):
        here, there = value[k - 1], value[k]
        if (here >= 0.0) != (there >= 0.0):
            points.append(polygon[k - 1] + (polygon[k] - polygon[k - 1]) * (here / (here - there)))
        if there >= 0.0:
            points.append(polygon[k])
    return np.array(points) if len(points) > 2 else np.empty((0, 2))


def clip_rectangle(polygon: Polygon, lower: NDArray[np.float64], upper: NDArray[np.float64]) -> Polygon:
    """The part of `polygon` inside an axis-aligned rectangle."""
    for axis in (0, 1):
        unit = (1.0, 0.0) if axis == 0 else (0.0, 1.0)
        polygon = clip_half_plane(polygon, -lower[axis], unit)
        polygon = clip_half_plane(polygon, upper[axis], (-unit[0], -unit[1]))
    return polygon


def _difference(first: tuple[float, float, float], second: tuple[float, float, float]) -> tuple[float, tuple]:
    return first[0] - second[0], (first[1] - second[1], first[2] - second[2])


def above_height(polygon: Polygon, planes: Planes, height: float) -> Polygon:
    """The part of a plan polygon over which every ceiling plane is higher than `height`."""
    for a, b, c in planes:
        polygon = clip_half_plane(polygon, a - height - TOLERANCE, (b, c))
    return polygon


def under_plane(polygon: Polygon, planes: Planes, m: int, bottom: float, top: float) -> Polygon:
    """The part of a plan polygon where ceiling plane `m` is the lowest and lies in bottom < z <= top."""
    a, b, c = planes[m]
    polygon = clip_half_plane(polygon, a - bottom - TOLERANCE, (b, c))
    polygon = clip_half_plane(polygon, top + TOLERANCE - a, (-b, -c))
    for k, other in enumerate(planes):
        if k != m and len(polygon):
            offset, slope = _difference(other, planes[m])
            if slope == (0.0, 0.0) and (offset < 0.0 or (offset == 0.0 and k < m)):
                return np.empty((0, 2))
            polygon = clip_half_plane(polygon, offset, slope)
    return polygon


def strip_under_ceiling(start: NDArray, stop: NDArray, bottom: float, top: float, planes: Planes) -> Polygon:
    """Part of the vertical strip over the segment start-stop, between heights, under the ceiling.

    Returns a polygon in (distance along the segment, height), m; empty if the ceiling is below `bottom`.
    """
    length = float(np.hypot(*(stop - start)))
    first = np.array([a + b * start[0] + c * start[1] for a, b, c in planes])
    last = np.array([a + b * stop[0] + c * stop[1] for a, b, c in planes])
    breaks = [0.0, 1.0]
    lines = [(f, s) for f, s in zip(first, last, strict=True)] + [(bottom, bottom), (top, top)]
    for k, (f0, s0) in enumerate(lines):
        for f1, s1 in lines[k + 1 :]:
            denominator = (s0 - f0) - (s1 - f1)
            if denominator != 0.0:
                t = (f1 - f0) / denominator
                if 0.0 < t < 1.0:
                    breaks.append(t)
    t = np.unique(breaks)
    ceiling = np.min(first[:, None] + (last - first)[:, None] * t, axis=0)
    roof = np.clip(ceiling, bottom, top)
    if roof.max() <= bottom + TOLERANCE:
        return np.empty((0, 2))
    floor = np.array([[0.0, bottom], [length, bottom]])
    return np.concatenate([floor, np.column_stack([t * length, roof])[::-1]])
