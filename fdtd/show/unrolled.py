"""The walls of a room unrolled: side by side in their order, each in its outline up to the ceiling, in rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from matplotlib.patches import Polygon
from numpy.typing import NDArray

from fdtd.scene.schema import Point3, Room
from fdtd.show.geometry import ceiling_line, wall_line
from fdtd.show.labels import note
from fdtd.show.page import metre_step
from fdtd.show.style import look

LEGIBLE = 0.12
"""Inches for a metre that walls are drawn in at least, if more rows make it so."""
NAMES = 0.34
"""Inches below a row for the names of its walls."""
NEIGHBOURS = 1.0
"""m along a row within which a spot is marked once."""


@dataclass(frozen=True)
class Row:
    """Walls beside each other. walls : their numbers; begins : m, where each begins; length, high : m, of the row."""

    walls: tuple[int, ...]
    begins: tuple[float, ...]
    length: float
    high: float


def wall_outline(room: Room, number: int) -> NDArray[np.float64]:
    """(corner, 2) m along wall `number` and upwards: the floor from its first corner to its last, the ceiling back."""
    start, way, length = wall_line(room.plan, number)
    return np.vstack([[(0.0, 0.0), (length, 0.0)], ceiling_line(room.ceiling, start, way, 0.0, length)[::-1]])


def wall_rows(room: Room, width: float) -> list[Row]:
    """The walls in as few rows `width` inches long as make them legible."""
    outlines = [wall_outline(room, number + 1) for number in range(len(room.plan))]
    lengths = np.array([one[1, 0] for one in outlines])
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    capacities = {end - start for start, end in combinations(ends, 2) if end - start >= lengths.max() - 1e-9}
    packed = [_packed(lengths, capacity) for capacity in capacities]

    def worse(rows: list[list[int]]) -> tuple[float, int, float]:
        scale = width / max(float(lengths[row].sum()) for row in rows)
        return -min(scale, LEGIBLE), len(rows), -scale

    return [_row(row, outlines) for row in min(packed, key=worse)]


def _packed(lengths: NDArray[np.float64], capacity: float) -> list[list[int]]:
    """Indices of the walls in rows of at most `capacity` m."""
    rows: list[list[int]] = [[]]
    for index, length in enumerate(lengths):
        if rows[-1] and lengths[rows[-1]].sum() + length > capacity + 1e-9:
            rows.append([])
        rows[-1].append(index)
    return rows


def _row(indices: list[int], outlines: list[NDArray[np.float64]]) -> Row:
    lengths = [float(outlines[k][1, 0]) for k in indices]
    begins = tuple(float(sum(lengths[:k])) for k in range(len(lengths)))
    high = max(float(outlines[k][:, 1].max()) for k in indices)
    return Row(tuple(k + 1 for k in indices), begins, sum(lengths), high)


def row_scale(rows: Sequence[Row], width: float) -> float:
    """Inches for a metre, the same in all rows."""
    return width / max(row.length for row in rows)


def rows_height(rows: Sequence[Row], scale: float) -> float:
    """Inches that the rows take with the names below each."""
    return sum(row.high * scale + NAMES for row in rows)


def frame_row(axes: Any, room: Room, row: Row, scale: float) -> list[NDArray[np.float64]]:
    """Draw the outlines of a row's walls with their names below; returns the outlines, m along the row and upwards."""
    drawn = []
    for number, begin in zip(row.walls, row.begins, strict=True):
        outline = wall_outline(room, number) + np.array([begin, 0.0])
        length = float(outline[1, 0]) - begin
        # The thick line lies around the wall, so that all of it is seen.
        line = {"facecolor": "none", "edgecolor": look().ink, "linewidth": 0.9}
        axes.add_patch(Polygon(outline, closed=True, zorder=4, clip_on=False, **line))
        room_for = length * scale
        text = f"wall {number}" if room_for > 0.38 else f"{number}"
        text += f"\n{length:.2f} m" if room_for > 0.42 else ""
        note(axes, text, (begin + 0.5 * length, 0.0), (0, -4), va="top", color=look().muted, linespacing=1.1)
        drawn.append(outline)
    axes.set_xlim(0.0, row.length)
    axes.set_ylim(0.0, row.high)
    axes.set_xticks([*row.begins, row.length], [])
    axes.set_yticks(np.arange(0.0, row.high + 1e-6, metre_step(scale, 0.2)))
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.set_ylabel("z in m", labelpad=1)
    axes.spines["bottom"].set_visible(False)
    return drawn


def unrolled(
    room: Room, rows: Sequence[Row], spots: Sequence[tuple[Point3, tuple[str, ...]]]
) -> Iterator[tuple[int, float, float, int]]:
    """(number of the row, along it, height, rank) of every spot at a wall; once for both walls at a corner in a row."""
    for rank, (at, surfaces) in enumerate(spots, 1):
        for k, row in enumerate(rows):
            before = -np.inf
            for number, begin in zip(row.walls, row.begins, strict=True):
                if f"wall {number}" not in surfaces:
                    continue
                start, way, _ = wall_line(room.plan, number)
                along = begin + float((np.array(at[:2]) - start) @ way)
                if along - before > NEIGHBOURS:
                    yield k, along, at[2], rank
                before = along
