"""What lies on a wall face: its surface, patches over it, absorbers over those, each with its share of the area."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fdtd.grid.polygons import Polygon, area_and_centroid, clip_rectangle

TOUCHING = 1e-9
"""m; covers that reach less far into a face only touch it."""


@dataclass(frozen=True)
class Cover:
    """A named rectangle on a surface, m, in that surface's coordinates. Later covers lie on top of earlier ones."""

    kind: str
    name: str
    on: str
    lower: tuple[float, float]
    upper: tuple[float, float]


def overlay(outline: Polygon, area: float, covers: Sequence[tuple[int, Cover]]) -> list[tuple[tuple[int, ...], float]]:
    """Split one face among the covers that reach it.

    outline : the face in surface coordinates; area : m², its true area (a sloped face is larger than its outline)
    covers : (number, cover) of the covers on the face's surface, bottom first
    Returns (numbers of the covers over that part, bottom first; its area), the areas adding up to `area`.
    """
    corners = outline.tolist()
    low = [min(corner[axis] for corner in corners) for axis in (0, 1)]
    high = [max(corner[axis] for corner in corners) for axis in (0, 1)]
    (left, bottom), (right, top) = [v + TOUCHING for v in low], [v - TOUCHING for v in high]
    reached = [
        (k, c)
        for k, c in covers
        if c.lower[0] < right and c.upper[0] > left and c.lower[1] < top and c.upper[1] > bottom
    ]
    if not reached:
        return [((), area)]
    lines: list[list[float]] = []
    for axis in (0, 1):
        inner = [v for _, c in reached for v in (c.lower[axis], c.upper[axis]) if low[axis] < v < high[axis]]
        lines.append(sorted({low[axis], *inner, high[axis]}))
    # Nearly all faces are rectangles, which need no clip.
    rectangle = len(corners) == 4 and all(u in (low[0], high[0]) and v in (low[1], high[1]) for u, v in corners)
    whole = (high[0] - low[0]) * (high[1] - low[1]) if rectangle else abs(area_and_centroid(outline)[0])
    shares: dict[tuple[int, ...], float] = {}
    for u0, u1 in pairwise(lines[0]):
        for v0, v1 in pairwise(lines[1]):
            part = (u1 - u0) * (v1 - v0)
            if not rectangle:
                part = abs(area_and_centroid(clip_rectangle(outline, np.array([u0, v0]), np.array([u1, v1])))[0])
            if part <= 1e-12 * whole:
                continue
            u, v = 0.5 * (u0 + u1), 0.5 * (v0 + v1)
            key = tuple(k for k, c in reached if c.lower[0] < u < c.upper[0] and c.lower[1] < v < c.upper[1])
            shares[key] = shares.get(key, 0.0) + part * area / whole
    return list(shares.items())
