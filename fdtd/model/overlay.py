"""What lies on a wall face: its surface, patches over it, absorbers over those, each with its share of the area."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.grid.polygons import Polygon, area_and_centroid, clip_rectangle


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
    low, high = outline.min(axis=0), outline.max(axis=0)
    reached = [
        (k, c) for k, c in covers if all(c.lower[a] < high[a] - 1e-9 and c.upper[a] > low[a] + 1e-9 for a in (0, 1))
    ]
    if not reached:
        return [((), area)]
    lines: list[NDArray] = []
    for axis in (0, 1):
        inner = [v for _, c in reached for v in (c.lower[axis], c.upper[axis]) if low[axis] < v < high[axis]]
        lines.append(np.unique([low[axis], *inner, high[axis]]))
    whole = abs(area_and_centroid(outline)[0])
    shares: dict[tuple[int, ...], float] = {}
    for u0, u1 in zip(lines[0][:-1], lines[0][1:], strict=True):
        for v0, v1 in zip(lines[1][:-1], lines[1][1:], strict=True):
            part = abs(area_and_centroid(clip_rectangle(outline, np.array([u0, v0]), np.array([u1, v1])))[0])
            if part <= 1e-12 * whole:
                continue
            u, v = 0.5 * (u0 + u1), 0.5 * (v0 + v1)
            key = tuple(k for k, c in reached if c.lower[0] < u < c.upper[0] and c.lower[1] < v < c.upper[1])
            shares[key] = shares.get(key, 0.0) + part * area / whole
    return list(shares.items())
