"""One plane of a mode's portrait: colours, nodal lines, the room and what is in it."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.ticker import MaxNLocator

from fdtd.analysis.mode_shapes import Portrait
from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene, Variant
from fdtd.show.geometry import View, outlines, plan_view, scene_section
from fdtd.show.shape_map import draw_shape, quiet, shape_patches
from fdtd.show.style import look
from fdtd.show.things import SYMBOLS, draw_room

NAMES = "xyz"
SCALE = "pressure re loudest place; thick: nodal lines"


def views(scene: Scene, variant: Variant, height: float | None = None) -> tuple[View, View]:
    """The plan (`height` in m, by default that of the seats) and the section that portraits show."""
    return plan_view(variant, height), scene_section(scene)


def ratio(scene: Scene, view: View, small: bool = False) -> float:
    """Height over width of the room in a view, with the margin around it."""
    wide, tall = _extent(scene, view)
    margin = 2 * _margin(wide, tall, small)
    return float(np.clip((tall + margin) / (wide + margin), 0.15, 1.6))


def _extent(scene: Scene, view: View) -> tuple[float, float]:
    wide, tall = np.ptp(np.vstack(outlines(scene.room, view)), axis=0)
    return float(wide), float(tall)


def _margin(wide: float, tall: float, small: bool = False) -> float:
    return (0.012 if small else 0.05) * max(wide, tall)


def draw_view(
    axes: Any, scene: Scene, variant: Variant, cells: CellGrid, one: Portrait, view: View, small: bool = False
) -> Any:
    patches = shape_patches(cells, one.shape, variant, view)
    image = draw_shape(axes, scene, view, patches, thin=not small)
    draw_room(axes, scene, variant, view)
    corners = np.vstack(outlines(scene.room, view))
    margin = _margin(*_extent(scene, view), small)
    axes.set_xlim(corners[:, 0].min() - margin, corners[:, 0].max() + margin)
    axes.set_ylim(corners[:, 1].min() - margin, corners[:, 1].max() + margin)
    axes.set_aspect("equal")
    for side in axes.spines.values():
        side.set_visible(False)
    if small:
        axes.set_xticks([])
        axes.set_yticks([])
        for line in axes.lines:
            if line.get_marker() in SYMBOLS.values():
                line.set_markersize(3.2)
                line.set_markeredgewidth(0.4)
    else:
        name = "plan" if view.normal == 2 else "section"
        hush = ", nearly silent here: a nodal surface" if quiet(patches) else ""
        axes.set_title(f"{name} at {where(view)}{hush}", loc="left", pad=2.0)
        axes.tick_params(length=0, pad=1)
        for axis, name in zip((axes.xaxis, axes.yaxis), (NAMES[k] for k in view.axes), strict=True):
            axis.set_major_locator(MaxNLocator(6, integer=True, prune=None))
            axis.set_label_text(f"{name} in m")
            axis.labelpad = 3
    return image


def where(view: View) -> str:
    return f"{NAMES[view.normal]} = {view.position:.2f} m"


def cut_marks(axes: Any, scene: Scene, view: View, other: View) -> None:
    """Short strokes at both sides where the other picture's plane cuts this one."""
    corners = np.vstack(outlines(scene.room, view))
    margin = _margin(*_extent(scene, view))
    upright = view.axes[0] == other.normal
    low, high = corners[:, 1 if upright else 0].min(), corners[:, 1 if upright else 0].max()
    for start, end in ((low - margin, low - 0.25 * margin), (high + 0.25 * margin, high + margin)):
        along, across = [start, end], [other.position] * 2
        axes.plot(*((across, along) if upright else (along, across)), color=look().ink, linewidth=1.0, zorder=9)
