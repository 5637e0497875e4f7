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
from fdtd.show.geometry import plan_view, wall_line
from fdtd.show.layout import colour_bar
from fdtd.show.page import LEFT, lay_out, room_frame
from fdtd.show.plan import letters, plan_axes, write_plan
from fdtd.show.style import FULL_WIDTH, figure_style, look, safe_text
from fdtd.show.things import room_path
from fdtd.show.units import badge
from fdtd.show.unrolled import NAMES, Row, frame_row, row_scale, rows_height, unrolled, wall_rows

DEPTH = 24.0
"""dB below the loudest that the colours cover."""
PIXEL = 0.04
"""m."""
FAR = 1.2
"""Times the usual distance of neighbours; farther than that from all of them a pixel is left empty."""
BAR, TITLE = 0.62, 0.28
"""Inches for the scale of colours, and above the walls for their title."""


def draw_loudest(
    scene: Scene,
    variant: Variant,
    surface: Sequence[str],
    at: NDArray[np.float64],
    level: NDArray[np.float64],
    spots: Sequence[tuple[Point3, tuple[str, ...]]],
    title: str,
    width: float = FULL_WIDTH,
) -> Figure:
    """Level over floor and walls.

    surface : (row,) "floor" or "wall n"; at : (row, 3) m on it; level : (row,) dB re the loudest
    spots : where each of the loudest is and the surfaces that meet there, loudest first; width : inches
    """
    with figure_style():
        view = plan_view(variant)
        # The walls have a scale of their own: in a row they are several times as long as the plan.
        along = width - LEFT - 0.15
        rows = wall_rows(scene.room, along)
        scale = row_scale(rows, along)
        note = "Numbers: the loudest spots, 1 the loudest."
        page = lay_out(
            width,
            [room_frame(scene, view)],
            safe_text(title, 100),
            note,
            tallest=9.0,
            foot=TITLE + rows_height(rows, scale) + BAR,
        )
        floor, names = page.axes[0], np.array(surface)
        image = _draw_floor(floor, scene, view, at[names == "floor"], level[names == "floor"])
        drawing = plan_axes(floor, scene, variant, labels=False, tinted=False)
        floor.set_title("Floor, from above")
        walls, top = [], page.foot[1] + page.foot[3] - TITLE
        for row in rows:
            walls.append(page.add_axes((LEFT, top - row.high * scale, row.length * scale, row.high * scale)))
            _draw_walls(walls[-1], scene, row, names, at, level, scale)
            top -= row.high * scale + NAMES
        walls[0].set_title("Walls, unrolled in their order", pad=6.0)
        place = {"cax": page.add_axes((0.25 * width, 0.34, 0.5 * width, 0.09)), "orientation": "horizontal"}
        colour_bar(page.figure, image, "level in dB re the loudest spot", extend="min", **place)
        taken = _write_numbers(floor, [(at_[0], at_[1], k) for k, (at_, _) in enumerate(spots, 1)])
        for k, x, z, rank in unrolled(scene.room, rows, spots):
            _write_numbers(walls[k], [(x, z, rank)])
        write_plan(
            floor,
            scene,
            drawing,
            taken=taken,
            without=("patch", "absorber", "block", "porous fill", "sheet"),
            limit=letters(width),
        )
        return page.figure


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
    axes: Any,
    scene: Scene,
    row: Row,
    names: NDArray[Any],
    at: NDArray[np.float64],
    level: NDArray[np.float64],
    scale: float,
) -> None:
    """The walls of a row, each as wide as it is long and up to the ceiling; scale : inches for a metre."""
    for number, outline in zip(row.walls, frame_row(axes, scene.room, row, scale), strict=True):
        start, way, _ = wall_line(scene.room.plan, number)
        mine = names == f"wall {number}"
        if mine.any():
            (begin, _), (end, _) = outline[:2]
            points = np.column_stack([(at[mine, :2] - start) @ way + begin, at[mine, 2]])
            u, v = _edges(begin, end), _edges(0.0, float(outline[:, 1].max()))
            image = axes.pcolormesh(u, v, _nearest(points, level[mine], u, v), rasterized=True, zorder=1, **_scale())
            image.set_clip_path(Polygon(outline, closed=True, transform=axes.transData))


def _write_numbers(axes: Any, places: Sequence[tuple[float, float, int]]) -> NDArray[np.float64]:
    return np.vstack([np.empty((0, 4)), *(badge(axes, (x, y), str(k)) for x, y, k in places)])
