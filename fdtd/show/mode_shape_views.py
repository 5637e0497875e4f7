"""One plane of a mode shape: smooth signed colours, lines of equal pressure, nodal lines, the room and what is in it.

Thin partitions are cuts in the field: the pressure jumps across a closed one, and that jump is no nodal line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.patches import PathPatch
from numpy.typing import NDArray

from fdtd.analysis.mode_shapes import ModeShape
from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene, Variant
from fdtd.show.geometry import View, outlines, plan_view, scene_section
from fdtd.show.labels import Boxes, line_boxes, no_boxes
from fdtd.show.page import name_axes
from fdtd.show.plane_field import Picture, plane_air, plane_values
from fdtd.show.style import look
from fdtd.show.things import SYMBOLS, Mark, draw_room, room_path

Real = NDArray[np.float64]

NAMES = "xyz"
SCALE = "pressure re loudest place; thick: nodal lines"
STROKE = (0.07, 0.24)
"""Inches from the room to both ends of the mark of a cut."""
FINER = 5
"""Points drawn for each cell, each way."""
CLOSE = 1e-7
"""m from a sheet to the first point beside it."""
QUIET = 0.05
"""Share of the peak below which a plane as a whole is called silent: nodal lines in it would mean nothing."""
LEVELS = (-0.75, -0.5, -0.25, 0.25, 0.5, 0.75)
"""Thin lines of equal pressure."""


def views(scene: Scene, variant: Variant) -> tuple[View, View]:
    """The plan at the height of the seats and the section that mode shapes show."""
    return plan_view(variant), scene_section(scene)


def draw_view(
    axes: Any, scene: Scene, variant: Variant, cells: CellGrid, one: ModeShape, view: View, small: bool = False
) -> tuple[Any, list[Mark]]:
    """Draw a mode on axes whose limits are set (`page.lay_out`); small: smaller marks, and no lines but nodal ones.

    Returns the image, None where there is no air, and what was drawn in it.
    """
    patches = shape_patches(cells, one.shape, scene, variant, view)
    image = draw_shape(axes, scene, view, patches, thin=not small)
    marks = draw_room(axes, scene, variant, view)
    if small:
        for line in axes.lines:
            if line.get_marker() in SYMBOLS.values():
                line.set_markersize(3.2)
                line.set_markeredgewidth(0.4)
    else:
        name = "plan" if view.normal == 2 else "section"
        hush = ", nearly silent: a nodal surface" if quiet(patches) else ""
        axes.set_title(f"{name} at {where(view)}{hush}")
        name_axes(axes, view)
    return image, marks


def where(view: View) -> str:
    return f"{NAMES[view.normal]} = {view.position:.2f} m"


def cut_marks(axes: Any, scene: Scene, view: View, other: View, scale: float) -> Boxes:
    """Short strokes at both sides of the room where the other picture's plane cuts this one; returns their boxes.

    scale : inches for a metre
    """
    corners = np.vstack(outlines(scene.room, view))
    upright = view.axes[0] == other.normal
    along = corners[:, 1 if upright else 0]
    boxes = [no_boxes()]
    for wall, out in ((along.min(), -1.0), (along.max(), 1.0)):
        ends, across = [wall + out * inches / scale for inches in STROKE], [other.position] * 2
        x, y = (across, ends) if upright else (ends, across)
        axes.plot(x, y, color=look().ink, linewidth=1.0, zorder=9)
        boxes.append(line_boxes(axes, np.column_stack([x, y])))
    return np.vstack(boxes)


@dataclass(frozen=True)
class Patch:
    """A piece of the plane between sheets: u, v : (n,), (m,) m; values : (n, m) pressure relative to the peak."""

    u: Real
    v: Real
    values: Real


def shape_patches(cells: CellGrid, shape: Real, scene: Scene, variant: Variant, view: View) -> list[Patch]:
    """The field on the plane in smooth pieces that end at the planes of sheets.

    shape : (cell,) with its peak at 1
    """
    plane = np.real(plane_values(cells, shape, scene, variant, view))
    known = np.isfinite(plane)
    if not known.any():
        return []
    first, second = (cells.edges[axis] for axis in view.axes)
    air = plane_air((first, second), known, scene, variant, view)
    u, v = (
        [_points(piece) for piece in _pieces(edges, variant, axis)]
        for edges, axis in zip((first, second), view.axes, strict=True)
    )
    values = np.clip(Picture(air, np.concatenate(u), np.concatenate(v))(plane), -1.0, 1.0)
    rows, columns = (np.split(np.arange(sum(map(len, one))), np.cumsum([len(p) for p in one])[:-1]) for one in (u, v))
    return [
        Patch(a, b, values[np.ix_(row, column)])
        for a, row in zip(u, rows, strict=True)
        for b, column in zip(v, columns, strict=True)
    ]


def quiet(patches: list[Patch]) -> bool:
    """Whether the whole plane is nearly silent."""
    return max((float(np.abs(p.values).max()) for p in patches), default=0.0) < QUIET


def draw_shape(axes: Any, scene: Scene, view: View, patches: list[Patch], thin: bool = True) -> Any:
    """Draw the pieces clipped to the room; returns the last image, for a colour bar. thin : lines of equal pressure."""
    image = paint_shape(axes, scene, view, patches)
    clip = PathPatch(room_path(scene, view), transform=axes.transData)
    silent = quiet(patches)
    for patch in patches:
        if thin:
            _contour(axes, patch, LEVELS, clip, colors=look().ink, linewidths=0.3, alpha=0.35, linestyles="solid")
        if not silent:
            _contour(axes, patch, (0.0,), clip, colors=look().ink, linewidths=1.3, linestyles="solid")
    return image


def paint_shape(axes: Any, scene: Scene, view: View, patches: list[Patch]) -> Any:
    """The colours alone; returns the last image."""
    image = None
    clip = PathPatch(room_path(scene, view), transform=axes.transData)
    for patch in patches:
        style = {"cmap": look().signed_colours, "vmin": -1, "vmax": 1, "shading": "gouraud"}
        image = axes.pcolormesh(patch.u, patch.v, patch.values.T, rasterized=True, zorder=1, **style)
        image.set_clip_path(clip)
    return image


def _contour(axes: Any, patch: Patch, levels: tuple[float, ...], clip: PathPatch, **line: Any) -> None:
    low, high = float(patch.values.min()), float(patch.values.max())
    inside = [level for level in levels if low < level < high]
    if inside:
        axes.contour(patch.u, patch.v, patch.values.T, levels=inside, zorder=2, **line).set_clip_path(clip)


def _pieces(edges: Real, variant: Variant, axis: int) -> list[Real]:
    """The edges of cells along `axis` in pieces between the planes of sheets."""
    at = {int(np.argmin(np.abs(edges - s.position))) for s in variant.thin_partitions if s.axis == axis}
    cuts = sorted({0, len(edges) - 1} | at)
    return [edges[start : end + 1] for start, end in zip(cuts[:-1], cuts[1:], strict=True)]


def _points(piece: Real) -> Real:
    """Points from end to end of a piece, which just don't lie on the sheets that part it from others."""
    return np.linspace(piece[0] + CLOSE, piece[-1] - CLOSE, FINER * (len(piece) - 1) + 1)
