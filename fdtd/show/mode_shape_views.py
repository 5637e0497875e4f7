"""One plane of a mode's mode shape: colours, nodal lines, the room and what is in it."""

from __future__ import annotations

from typing import Any

import numpy as np

from fdtd.analysis.mode_shapes import ModeShape
from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene, Variant
from fdtd.show.geometry import View, outlines, plan_view, scene_section
from fdtd.show.labels import Boxes, line_boxes, no_boxes
from fdtd.show.page import name_axes
from fdtd.show.shape_map import draw_shape, quiet, shape_patches
from fdtd.show.style import look
from fdtd.show.things import SYMBOLS, Mark, draw_room

NAMES = "xyz"
SCALE = "pressure re loudest place; thick: nodal lines"
STROKE = (0.07, 0.24)
"""Inches from the room to both ends of the mark of a cut."""


def views(scene: Scene, variant: Variant, height: float | None = None) -> tuple[View, View]:
    """The plan (`height` in m, by default that of the seats) and the section that mode shapes show."""
    return plan_view(variant, height), scene_section(scene)


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
