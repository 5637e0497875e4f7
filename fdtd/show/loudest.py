"""Where it is loudest: the floor as a plan, the walls unrolled below it, the loudest spots numbered on both."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Polygon
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from fdtd.scene.schema import Point3, Scene, Variant
from fdtd.show.geometry import ceiling_height, outlines, plan_view, wall_line
from fdtd.show.labels import Label, no_boxes, place_labels, text_box
from fdtd.show.style import (
    BLACK,
    FULL_WIDTH,
    LEVEL_COLOURS,
    SEAT_COLOUR,
    SOURCE_COLOUR,
    figure_style,
    new_figure,
    safe_text,
)
from fdtd.show.things import all_lines, draw_room, frame_room, room_path

DEPTH = 24.0
"""dB below the loudest that the colours cover."""
PIXEL = 0.04
"""m."""
NEIGHBOURS = 1.0
"""m along the row of walls within which a spot is marked once."""
FAR = 1.2
"""Times the usual distance of neighbours; farther than that from all of them a pixel is left white."""


def draw_loudest(
    scene: Scene, variant: Variant, surface: Sequence[str], at: NDArray[np.float64], level: NDArray[np.float64],
    spots: Sequence[tuple[Point3, tuple[str, ...]]], title: str,
) -> Figure:  # fmt: skip
    """Level over floor and walls.

    surface : (row,) "floor" or "wall n"; at : (row, 3) m on it; level : (row,) dB re the loudest
    spots : where each of the loudest is and the surfaces that meet there, loudest first
    """
    with figure_style():
        view = plan_view(variant)
        wide, tall = np.ptp(np.vstack(outlines(scene.room, view)), axis=0)
        perimeter = sum(wall_line(scene.room.plan, n + 1)[2] for n in range(len(scene.room.plan)))
        high = _top(scene)
        heights = [min((FULL_WIDTH - 0.6) * tall / wide, 5.5), (FULL_WIDTH - 0.6) * high / perimeter + 0.1]
        figure = new_figure(FULL_WIDTH, float(np.clip(sum(heights) + 1.7, 4.0, 10.0)))
        grid = figure.subplots(2, 1, height_ratios=heights, squeeze=False)[:, 0]
        names = np.array(surface)
        image = _draw_floor(grid[0], scene, view, at[names == "floor"], level[names == "floor"])
        marks = draw_room(grid[0], scene, variant, view)
        frame_room(grid[0], scene, view)
        grid[0].set_title("floor, from above", pad=3.0)
        _draw_walls(grid[1], scene, names, at, level, high, perimeter)
        bar = figure.colorbar(image, ax=list(grid), location="bottom", shrink=0.5, aspect=30, extend="min", pad=0.02)
        bar.set_label("level in dB re the loudest spot", labelpad=1)
        figure.suptitle(safe_text(title, 100))
        figure.draw_without_rendering()
        boxes = _write_numbers(grid[0], [(at_[0], at_[1], k) for k, (at_, _) in enumerate(spots, 1)])
        _write_numbers(grid[1], list(_unrolled(scene, spots)))
        named = [
            Label(safe_text(m.name, 24), m.at, SOURCE_COLOUR if m.kind == "source" else SEAT_COLOUR)
            for m in marks if m.kind in ("source", "seat")
        ]  # fmt: skip
        place_labels(grid[0], named, boxes, all_lines(grid[0], scene, view, marks))
        return figure


def _top(scene: Scene) -> float:
    return max(ceiling_height(scene.room.ceiling, x, y) for x, y in scene.room.plan)


def _nearest(
    points: NDArray[np.float64], level: NDArray[np.float64], u: NDArray[np.float64], v: NDArray[np.float64]
) -> NDArray[np.float64]:
    """(v, u) level of the nearest of the points (row, 2) at the middle of each pixel between the edges u and v.

    NaN where none is near: something stands before the surface there.
    """
    middle = np.meshgrid(0.5 * (u[1:] + u[:-1]), 0.5 * (v[1:] + v[:-1]))
    tree = cKDTree(points)
    gap, row = tree.query(np.column_stack([m.ravel() for m in middle]))
    between = tree.query(points, 2)[0][:, 1]
    usual = np.median(between[np.isfinite(between)]) if np.isfinite(between).any() else np.inf
    return np.where(gap <= FAR * usual, level[row], np.nan).reshape(middle[0].shape)


def _edges(low: float, high: float) -> NDArray[np.float64]:
    return np.linspace(low, high, max(2, int(np.ceil((high - low) / PIXEL)) + 1))


def _draw_floor(axes: Any, scene: Scene, view: Any, at: NDArray[np.float64], level: NDArray[np.float64]) -> Any:
    lower, upper = np.min(scene.room.plan, axis=0), np.max(scene.room.plan, axis=0)
    u, v = _edges(lower[0], upper[0]), _edges(lower[1], upper[1])
    image = axes.pcolormesh(u, v, _nearest(at[:, :2], level, u, v), rasterized=True, zorder=1, **_scale())
    image.set_clip_path(PathPatch(room_path(scene, view), transform=axes.transData))
    return image


def _scale() -> dict[str, Any]:
    return {"cmap": LEVEL_COLOURS, "vmin": -DEPTH, "vmax": 0.0}


def _draw_walls(
    axes: Any, scene: Scene, names: NDArray, at: NDArray[np.float64], level: NDArray[np.float64], high: float,
    perimeter: float,
) -> None:  # fmt: skip
    """The walls in a row from wall 1 on, each as wide as it is long."""
    begin = 0.0
    for number in range(1, len(scene.room.plan) + 1):
        start, way, length = wall_line(scene.room.plan, number)
        along = np.linspace(0.0, length, 60)
        tops = [ceiling_height(scene.room.ceiling, *(start + s * way)) for s in along]
        outline = [(begin, 0.0), (begin + length, 0.0), *zip(begin + along[::-1], tops[::-1], strict=True)]
        mine = names == f"wall {number}"
        if mine.any():
            points = np.column_stack([(at[mine, :2] - start) @ way + begin, at[mine, 2]])
            u, v = _edges(begin, begin + length), _edges(0.0, high)
            image = axes.pcolormesh(u, v, _nearest(points, level[mine], u, v), rasterized=True, zorder=1, **_scale())
            image.set_clip_path(Polygon(outline, closed=True, transform=axes.transData))
        axes.add_patch(Polygon(outline, closed=True, facecolor="none", edgecolor=BLACK, linewidth=0.9, zorder=4))
        text = f"wall {number}" if length > 0.06 * perimeter else f"{number}"
        axes.text(begin + 0.5 * length, -0.06 * high, text, ha="center", va="top", fontsize=6.5, color="#404040")
        begin += length
    axes.set_xlim(-0.01 * perimeter, 1.01 * perimeter)
    axes.set_ylim(-0.35 * high, 1.05 * high)
    axes.set_aspect("equal")
    axes.set_title("walls, unrolled in their order (numbers: the loudest spots, 1 the loudest)", pad=3.0)
    axes.set_axis_off()


def _unrolled(scene: Scene, spots: Sequence[tuple[Point3, tuple[str, ...]]]) -> Any:
    """(along the row of walls, height, number) of every spot at a wall; twice in the corner of the last and first."""
    lengths = [wall_line(scene.room.plan, n + 1)[2] for n in range(len(scene.room.plan))]
    for k, (at, surfaces) in enumerate(spots, 1):
        before = -np.inf
        for number in sorted(int(name[5:]) for name in surfaces if name.startswith("wall ")):
            start, way, _ = wall_line(scene.room.plan, number)
            along = sum(lengths[: number - 1]) + float((np.array(at[:2]) - start) @ way)
            if along - before > NEIGHBOURS:
                yield along, at[2], k
            before = along


def _write_numbers(axes: Any, places: Sequence[tuple[float, float, int]]) -> NDArray[np.float64]:
    boxes = [no_boxes()]
    for x, y, k in places:
        text = axes.text(
            x, y, str(k), ha="center", va="center", fontsize=6.5, fontweight="bold", color=BLACK, zorder=12,
            bbox={"boxstyle": "circle,pad=0.15", "facecolor": "white", "edgecolor": BLACK, "linewidth": 0.6},
        )  # fmt: skip
        text.set_in_layout(False)
        boxes.append(text_box(text))
    return np.vstack(boxes)
