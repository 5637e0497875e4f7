"""Where drawings of the room stand on a figure: all in one scale, and as large as the page lets them be."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from fdtd.scene.schema import Scene
from fdtd.show.geometry import View, outlines
from fdtd.show.style import look, new_figure

BORDER = 0.34
"""Inches around the room, inside the axes, as a rule: walls, their numbers, the marks of a section."""
LEFT, BOTTOM, TOP, RIGHT = 0.40, 0.34, 0.20, 0.06
"""Inches around the axes: numbers and names of the axes, the title."""
TALLEST = 8.6
LARGEST_SCALE = 1.6
"""Inches for a metre."""
LETTERS = 15.6
"""Letters of 7.5 points on an inch."""

Frame = tuple[tuple[float, float], tuple[float, float]]
"""Lower and upper corner of what is drawn, m."""
Box = tuple[float, float, float, float]
"""left, bottom, width, height."""


def room_frame(scene: Scene, view: View) -> Frame:
    """The room in a view. A section is given the whole length of the plan, so that it can stand below it."""
    (u, _), plan = view.axes, np.array(scene.room.plan, dtype=float)
    lower, upper = plan.min(axis=0), plan.max(axis=0)
    if view.normal == 2:
        return (float(lower[0]), float(lower[1])), (float(upper[0]), float(upper[1]))
    tallest = max(float(piece[:, 1].max()) for piece in outlines(scene.room, view))
    return (float(lower[u]), 0.0), (float(upper[u]), tallest)


@dataclass(frozen=True)
class Page:
    """A figure and where its drawings are: axes in the order of their frames; scale : inches for a metre
    foot, side : (left, bottom, width, height) in inches of the strips below them and at their right."""

    figure: Figure
    axes: list[Any]
    scale: float
    foot: Box
    side: Box

    def add_axes(self, box: Box) -> Any:
        """Axes in a box in inches."""
        wide, tall = self.figure.get_size_inches()
        return self.figure.add_axes((box[0] / wide, box[1] / tall, box[2] / wide, box[3] / tall))


def lay_out(
    width: float,
    frames: list[Frame],
    heading: str,
    note: str = "",
    *,
    foot: float = 0.0,
    side: float = 0.0,
    least: float = 0.0,
    tallest: float = TALLEST,
    titled: bool = True,
    border: float = BORDER,
) -> Page:
    """A figure `width` inches wide with a heading, a note and a drawing for each frame, below or beside one another.

    foot : inches below for a legend or a scale of colours; side : inches at the right that are kept free
    least : inches from the heading down at least; titled : whether the drawings have titles of their own
    border : inches around the room, inside the axes
    """
    bold, small = _wrapped(heading, 0.82 * width * 7.5 / 8.5), _wrapped(note, width)
    head = 0.10 + 0.145 * len(bold) + 0.125 * len(small)
    sizes = np.array([np.subtract(upper, lower) for lower, upper in frames])
    top = TOP if titled else 0.0
    scale, below, height, spare = _best(sizes, width - side, tallest - head - foot, top, border)
    total = head + max(height + foot, least)
    figure = new_figure(width, total)
    figure.set_layout_engine("none")
    _write_head(figure, bold, small, width, total)
    grid, x, y = [], spare, total - head
    for (lower, upper), untreated in zip(frames, sizes, strict=True):
        size = untreated * scale + 2 * border
        y_here = y - top - size[1]
        box = np.array([x + LEFT, y_here, *size]) / [width, total, width, total]
        grid.append(figure.add_axes((float(box[0]), float(box[1]), float(box[2]), float(box[3]))))
        _frame(grid[-1], lower, upper, border / scale, scale)
        x, y = (x, y_here - BOTTOM) if below else (x + LEFT + RIGHT + size[0], y)
    low = total - head - height
    return Page(figure, grid, scale, (0.0, low - foot, width - side, foot), (width - side, 0.0, side, total - head))


def _best(sizes: Any, width: float, tallest: float, top: float, border: float) -> tuple[float, bool, float, float]:
    """Scale in inches for a metre, whether below one another, height and free width at the left in inches."""
    around = np.array([LEFT + RIGHT + 2 * border, BOTTOM + top + 2 * border])
    choices = []
    for below in (True, False):
        columns, rows = (1, len(sizes)) if below else (len(sizes), 1)
        free, high = width - columns * around[0], tallest - rows * around[1]
        across = sizes[:, 0].max() if below else sizes[:, 0].sum()
        upwards = sizes[:, 1].sum() if below else sizes[:, 1].max()
        scale = max(round(float(min(free / across, high / upwards, LARGEST_SCALE)), 3), 0.02)
        spare = max(0.0, 0.5 * float(free - across * scale))
        choices.append((scale, below, float(upwards * scale + rows * around[1]), spare))
    return max(choices)


def _frame(axes: Any, lower: tuple[float, float], upper: tuple[float, float], border: float, scale: float) -> None:
    axes.set_xlim(lower[0] - border, upper[0] + border)
    axes.set_ylim(lower[1] - border, upper[1] + border)
    step = metre_step(scale)
    for axis, low, high in ((axes.xaxis, lower[0], upper[0]), (axes.yaxis, lower[1], upper[1])):
        axis.set_ticks(np.arange(np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9) + 1) * step + 0.0)
        axis.set_major_formatter(lambda value, _: f"{value + 0.0:g}")
    axes.spines["left"].set_bounds(lower[1], upper[1])
    axes.spines["bottom"].set_bounds(lower[0], upper[0])


def metre_step(scale: float, apart: float = 0.42) -> float:
    """m between marks that are `apart` inches or more from each other; scale : inches for a metre."""
    return next(step for step in (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 1e9) if step * scale >= apart)


def _wrapped(text: str, width: float) -> list[str]:
    return textwrap.wrap(text, max(12, int(LETTERS * width)))


def _write_head(figure: Figure, bold: list[str], small: list[str], width: float, total: float) -> None:
    left, top = 0.06 / width, 1.0 - 0.05 / total
    figure.suptitle("\n".join(bold), x=left, y=top, ha="left", va="top", linespacing=1.15)
    if small:
        below = top - (0.145 * len(bold) + 0.01) / total
        figure.text(left, below, "\n".join(small), ha="left", va="top", color=look().muted, linespacing=1.15)


def name_axes(axes: Any, view: View) -> None:
    """Write what the two axes are."""
    axes.set_xlabel(f"{'xyz'[view.axes[0]]} in m", labelpad=1)
    axes.set_ylabel(f"{'xyz'[view.axes[1]]} in m", labelpad=1)
