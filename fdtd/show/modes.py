"""Mode shapes on the plan at ear height."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import ArrayLike, NDArray

from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene
from fdtd.show.geometry import outlines, plan_view
from fdtd.show.layout import heading, heading_height, legend_below, legend_height
from fdtd.show.mode_shape_views import paint_shape, shape_patches
from fdtd.show.style import BESIDE, FULL_WIDTH, figure_style, frequency_text, new_figure
from fdtd.show.things import Mark, draw_room, frame_room, legend_entries

NOT_A_MODE = 0.5
"""Hz: below it lies only the uniform pressure of a closed room, which has no shape to show."""


def shown_modes(frequencies: NDArray[np.float64], count: int) -> list[int]:
    """Indices of the lowest `count` frequencies (mode,) Hz that are modes."""
    return [k for k in range(len(frequencies)) if frequencies[k] >= NOT_A_MODE][:count]


def draw_modes(
    scene: Scene,
    cells: CellGrid,
    frequencies: ArrayLike,
    shapes: NDArray[np.generic],
    count: int = 6,
    variant_index: int = 0,
    rigid: bool = True,
    width: float = FULL_WIDTH,
) -> Figure:
    """The lowest `count` mode shapes on the plan.

    Parameters
    ----------
    frequencies : (mode,) Hz, rising; shapes : (mode, cell), any scale (each is drawn relative to its own maximum)
    rigid : or with all that absorbs, for the title
    width : inches
    """
    with figure_style():
        variant = scene.variants[variant_index]
        view = plan_view(variant)
        axis = np.asarray(frequencies, dtype=float)
        chosen = shown_modes(axis, count)
        columns = min(3 if width >= BESIDE else 2, max(len(chosen), 1))
        rows = int(np.ceil(max(len(chosen), 1) / columns))
        corners = np.vstack(outlines(scene.room, view))
        wide, tall = np.ptp(corners, axis=0)
        panel = (width - 0.5) / columns - 0.15
        text = f"{'Rigid' if rigid else 'Damped'} modes, {view.position:.2f} m above the floor"
        inner = rows * (panel * min(float(tall / wide), 1.6) + 0.4) + 0.75
        figure = new_figure(width, inner + heading_height() + legend_height(["sheet"] * 6, width))
        grid = figure.subplots(rows, columns, squeeze=False, sharex=True, sharey=True)
        image = None
        marks: list[Mark] = []
        for axes, k, number in zip(grid.flat, chosen, range(1, len(chosen) + 1), strict=False):
            shape = np.real(np.asarray(shapes[k]))
            shape = shape / max(float(np.abs(shape).max()), 1e-300)
            image = paint_shape(axes, scene, view, shape_patches(cells, shape, scene, variant, view)) or image
            marks += draw_room(axes, scene, variant, view)
            axes.set_title(f"mode {number}: {frequency_text(float(axis[k]))}", pad=2.0)
        for axes in grid.flat:
            frame_room(axes, scene, view)
            axes.tick_params(length=0.0)  # the walls are the axes
            axes.xaxis.labelpad = axes.yaxis.labelpad = 3.0
        for axes in grid.flat[len(chosen) :]:
            axes.set_visible(False)
        if image is not None:
            bar = figure.colorbar(image, ax=list(grid.flat), location="bottom", shrink=0.5, aspect=40, pad=0.02)
            bar.set_label("pressure relative to its largest value in the room", labelpad=1)
            bar.outline.set_linewidth(0.4)
        heading(figure, text)
        legend_below(figure, *legend_entries(marks, {}), width)
        return figure
