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
from fdtd.show.geometry import ceiling_height, plan_view, wall_line
from fdtd.show.page import LEFT, lay_out, room_frame
from fdtd.show.plan import letters, plan_axes, write_plan
from fdtd.show.style import FULL_WIDTH, SMALL, figure_style, look, safe_text
from fdtd.show.things import room_path
from fdtd.show.units import badge

DEPTH = 24.0
"""dB below the loudest that the colours cover."""
PIXEL = 0.04
"""m."""
NEIGHBOURS = 1.0
"""m along the row of walls within which a spot is marked once."""
FAR = 1.2
"""Times the usual distance of neighbours; farther than that from all of them a pixel is left empty."""
BAR, GAP = 0.62, 0.62
"""Inches for the scale of colours, and around the walls for their names and their title."""


def draw_loudest(
    scene: Scene, variant: Variant, surface: Sequence[str], at: NDArray[np.float64], level: NDArray[np.float64],
    spots: Sequence[tuple[Point3, tuple[str, ...]]], title: str, width: float = FULL_WIDTH,
) -> Figure:  # fmt: skip
    """Level over floor and walls.

    surface : (row,) "floor" or "wall n"; at : (row, 3) m on it; level : (row,) dB re the loudest
    spots : where each of the loudest is and the surfaces that meet there, loudest first; width : inches
    """
    with figure_style():
        view = plan_view(variant)
        lengths = _lengths(scene)
        high = max(ceiling_height(scene.room.ceiling, x, y) for x, y in scene.room.plan)
        # The row of walls has a scale of its own: it is several times as long as the plan.
        along = width - LEFT - 0.15
        tall = along * high / sum(lengths)
        note = "Numbers: the loudest spots, 1 the loudest."
        page = lay_out(width, [room_frame(scene, view)], safe_text(title, 100), note, foot=tall + GAP + BAR,
                       tallest=9.0)  # fmt: skip
        floor, figure = page.axes[0], page.figure
        names = np.array(surface)
        image = _draw_floor(floor, scene, view, at[names == "floor"], level[names == "floor"])
        drawing = plan_axes(floor, scene, variant, labels=False, tinted=False)
        floor.set_title("Floor, from above")
        total = figure.get_figheight()
        walls = figure.add_axes((LEFT / width, (BAR + 0.40) / total, along / width, tall / total))
        _draw_walls(walls, scene, names, at, level, high, along / sum(lengths))
        bar_axes = figure.add_axes((0.25, 0.34 / total, 0.5, 0.09 / total))
        bar = figure.colorbar(image, cax=bar_axes, orientation="horizontal", extend="min")
        bar.set_label("level in dB re the loudest spot", labelpad=1)
        bar.outline.set_linewidth(0.4)
        taken = _write_numbers(floor, [(at_[0], at_[1], k) for k, (at_, _) in enumerate(spots, 1)])
        _write_numbers(walls, list(_unrolled(scene, spots)))
        write_plan(floor, scene, drawing, taken=taken, without=("patch", "absorber", "block", "porous fill", "sheet"),
                   limit=letters(width))  # fmt: skip
        return figure


def _lengths(scene: Scene) -> list[float]:
    return [wall_line(scene.room.plan, n + 1)[2] for n in range(len(scene.room.plan))]


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
    return {"cmap": look().level_colours, "vmin": -DEPTH, "vmax": 0.0}


def _draw_walls(
    axes: Any, scene: Scene, names: NDArray[Any], at: NDArray[np.float64], level: NDArray[np.float64], high: float,
    scale: float,
) -> None:  # fmt: skip
    """The walls in a row from wall 1 on, each as wide as it is long; scale : inches for a metre."""
    begin, colours = 0.0, look()
    ends = np.cumsum([0.0, *_lengths(scene)])
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
        axes.add_patch(Polygon(outline, closed=True, facecolor="none", edgecolor=colours.ink, linewidth=0.9, zorder=4))
        room_for = length * scale
        text = f"wall {number}" if room_for > 0.38 else f"{number}"
        text += f"\n{length:.2f} m" if room_for > 0.42 else ""
        axes.annotate(text, (begin + 0.5 * length, 0.0), xytext=(0, -4), textcoords="offset points", ha="center",
                      va="top", fontsize=SMALL, color=colours.muted, linespacing=1.1)  # fmt: skip
        begin += length
    axes.set_xlim(0.0, float(ends[-1]))
    axes.set_ylim(0.0, high)
    axes.set_xticks(ends, [])
    axes.set_yticks(np.arange(0.0, high + 1e-6, 1.0))
    axes.set_ylabel("z in m", labelpad=1)
    axes.spines["bottom"].set_visible(False)
    axes.set_title("Walls, unrolled in their order", pad=6.0)


def _unrolled(scene: Scene, spots: Sequence[tuple[Point3, tuple[str, ...]]]) -> Any:
    """(along the row of walls, height, number) of every spot at a wall; twice in the corner of the last and first."""
    lengths = _lengths(scene)
    for k, (at, surfaces) in enumerate(spots, 1):
        before = -np.inf
        for number in sorted(int(name[5:]) for name in surfaces if name.startswith("wall ")):
            start, way, _ = wall_line(scene.room.plan, number)
            along = sum(lengths[: number - 1]) + float((np.array(at[:2]) - start) @ way)
            if along - before > NEIGHBOURS:
                yield along, at[2], k
            before = along


def _write_numbers(axes: Any, places: Sequence[tuple[float, float, int]]) -> NDArray[np.float64]:
    return np.vstack([np.empty((0, 4)), *(badge(axes, (x, y), str(k)) for x, y, k in places)])
