"""Cell edges along one axis: snapped to the planes that matter, evenly divided between them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.grid.shape import TOLERANCE, RoomShape

HARD_GAP = 1.0 / 3.0
"""Planes of walls and boxes closer together than this share of the spacing don't both become cell edges."""
SOFT_GAP = 0.5
"""The same for edges of patches, fills and openings, which can be area-weighted instead."""


@dataclass(frozen=True)
class Axis:
    """edges : cell edges, m; fine : cell edges and every hard plane; owner : cell of each interval of `fine`."""

    edges: NDArray[np.float64]
    fine: NDArray[np.float64]
    owner: NDArray[np.int64]


def _distinct(values: Iterable[float]) -> NDArray[np.float64]:
    ordered = np.sort(np.asarray(list(values), dtype=float))
    keep = np.concatenate([[True], np.diff(ordered) > TOLERANCE])
    return ordered[keep]


def _divide(planes: NDArray[np.float64], spacing: float) -> NDArray[np.float64]:
    pieces = [planes[:1]]
    for low, high in zip(planes[:-1], planes[1:], strict=True):
        count = max(1, int(np.ceil((high - low) / spacing - 1e-9)))
        pieces.append(np.linspace(low, high, count + 1)[1:])
    return np.concatenate(pieces)


def make_axis(
    ends: tuple[float, float],
    thin_partitions: Iterable[float],
    hard: Iterable[float],
    soft: Iterable[float],
    spacing: float,
) -> Axis:
    """Cell edges from `ends[0]` to `ends[1]`, no interval longer than `spacing` (m).

    `thin partitions` always become edges (a thin partition can't be cut), `hard` planes if they leave a third of the
    spacing to those already taken, `soft` ones if they leave half. Hard planes that don't become edges stay in `fine`.
    """
    low, high = ends
    inside = [p for p in thin_partitions if low + TOLERANCE < p < high - TOLERANCE]
    taken = list(_distinct([low, high, *inside]))
    hard = [p for p in _distinct([low, *hard]) if low + TOLERANCE < p < high - TOLERANCE]
    for planes, gap in ((hard, HARD_GAP), (sorted(soft), SOFT_GAP)):
        for plane in planes:
            distance = min(abs(plane - t) for t in taken)
            if low < plane < high and distance >= gap * spacing:
                taken.append(plane)
    edges = _divide(_distinct(taken), spacing)
    extra = [p for p in hard if np.min(np.abs(edges - p)) > TOLERANCE]
    fine = np.sort(np.concatenate([edges, extra]))
    owner = np.searchsorted(edges, 0.5 * (fine[1:] + fine[:-1])) - 1
    return Axis(edges, fine, owner)


def make_axes(shape: RoomShape, spacing: float) -> tuple[Axis, Axis, Axis]:
    """The three axes of a room; see `make_axis`."""
    plan = np.asarray(shape.plan, dtype=float)
    heights = np.min([a + b * plan[:, 0] + c * plan[:, 1] for a, b, c in shape.ceiling], axis=0)
    tops = [np.max(a + b * plan[:, 0] + c * plan[:, 1]) for a, b, c in shape.ceiling]
    ends = [(plan[:, 0].min(), plan[:, 0].max()), (plan[:, 1].min(), plan[:, 1].max()), (0.0, float(min(tops)))]
    hard: list[list[float]] = [[], [], []]
    soft: list[list[float]] = [list(marks) for marks in shape.marks]
    for start, stop in zip(plan, np.roll(plan, -1, axis=0), strict=True):
        straight = np.abs(stop - start) <= TOLERANCE
        for axis in (0, 1):
            (hard if straight.any() else soft)[axis].extend((float(start[axis]), float(stop[axis])))
    hard[2].extend(a for a, b, c in shape.ceiling if b == 0.0 and c == 0.0)
    soft[2].extend(float(h) for h in heights)
    thin_partitions: list[list[float]] = [[], [], []]
    for box in shape.boxes:
        for axis in range(3):
            hard[axis].extend((box.lower[axis], box.upper[axis]))
    for thin_partition in shape.thin_partitions:
        thin_partitions[thin_partition.axis].append(thin_partition.position)
        others = [axis for axis in range(3) if axis != thin_partition.axis]
        for lower, upper in (thin_partition.rectangle, *thin_partition.openings):
            for axis, a, b in zip(others, lower, upper, strict=True):
                hard[axis].extend((a, b))
    made = [make_axis(ends[axis], thin_partitions[axis], hard[axis], soft[axis], spacing) for axis in range(3)]
    return made[0], made[1], made[2]
