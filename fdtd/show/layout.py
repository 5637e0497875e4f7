"""Heading, legend and marks that all figures share: bold heading and plain second line at the left, legend below."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from fdtd.show.style import SMALL, line_style, look

POINTS = 72.0
TITLE, SUBTITLE, MARGIN, GAP = 8.5, 7.0, 4.0, 4.0
"""Points: sizes of the heading's lines, what is left free around and below them."""
WIDE_LETTER, LETTER = 0.63, 0.56
"""Mean width of a letter by its size, bold and plain; generous, for text that must fit."""
HANDLE = 4.4
"""Width of a legend entry without its text, by the size of the text: line, gap, gap to the next column."""


def heading(figure: Figure, title: str, *notes: str) -> None:
    """Write a bold heading and plain lines below it at the upper left; the drawing begins below them.

    Lines that are too long for the figure are broken. Call once, before the figure is laid out.
    """
    wide, tall = figure.get_size_inches() * POINTS
    lines = [(line, TITLE, "bold", look().ink) for line in _broken(title, wide, TITLE * WIDE_LETTER)]
    for note in notes:
        lines += [(line, SUBTITLE, "normal", look().muted) for line in _broken(note, wide, SUBTITLE * LETTER)]
    down = MARGIN
    for line, size, weight, colour in lines:
        text = figure.text(
            MARGIN / wide, 1.0 - down / tall, line, fontsize=size, fontweight=weight, color=colour, va="top", ha="left"
        )
        text.set_in_layout(False)
        down += 1.32 * size
    engine: Any = figure.get_layout_engine()
    engine.set(rect=(0.0, 0.0, 1.0, 1.0 - (down + GAP) / tall))


def heading_height(notes: int = 0) -> float:
    """Inches that a heading with so many lines below it takes, if none is broken."""
    return (MARGIN + 1.32 * (TITLE + notes * SUBTITLE) + GAP) / POINTS


def _broken(text: str, wide: float, letter: float) -> list[str]:
    return textwrap.wrap(text, max(int((wide - 2.0 * MARGIN) / letter), 10))


def settle(figure: Any) -> None:
    """Work out where everything is, once and for all: labels can be placed, and writing files is quick.

    What is added to the figure afterwards moves nothing.
    """
    engine = figure.get_layout_engine()
    if engine is not None:
        # Numbers on the axes follow their size: the second time there is room for those that are drawn.
        engine.execute(figure)
        engine.execute(figure)
    renderer = figure.canvas.get_renderer()
    for axes in figure.axes:
        locator = axes.get_axes_locator()
        axes.apply_aspect(locator(axes, renderer) if locator is not None else None)
    figure.set_layout_engine("none")


def legend_below(figure: Any, handles: list[Any], labels: list[str], width: float, **options: Any) -> int:
    """A legend at the lower left, in as many columns as fit into `width` inches; returns its rows."""
    columns = legend_columns(labels, width)
    if handles:
        figure.legend(handles, labels, loc="outside lower left", ncols=columns, **options)
    return legend_rows(labels, width)


def legend_columns(labels: list[str], width: float) -> int:
    """As many columns as fit into `width` inches; a legend is filled column by column."""
    for columns in range(min(len(labels), 4), 1, -1):
        parts = np.array_split(np.array([len(label) for label in labels]), columns)
        longest = [int(part.max()) for part in parts]
        if sum((HANDLE + LETTER * letters) * SMALL for letters in longest) <= width * POINTS - 2.0 * MARGIN:
            return columns
    return 1


def legend_rows(labels: list[str], width: float) -> int:
    """Rows of a legend with `labels` in a figure of `width` inches."""
    return -(-len(labels) // legend_columns(labels, width)) if labels else 0


def legend_height(labels: list[str], width: float) -> float:
    """Inches that a legend takes."""
    return 0.135 * legend_rows(labels, width) + 0.08


def mark_key(marker: str, colour: str, face: str = "", label: str = "", **style: Any) -> Line2D:
    """A mark for a legend, filled with `face`, or with its own colour; style : of the line that matplotlib draws."""
    style |= {"markeredgecolor": colour, "markerfacecolor": face or colour}
    return Line2D([], [], linestyle="", marker=marker, label=label, **style)


def colour_bar(figure: Any, image: Any, label: str, off: float = 1.0, **place: Any) -> Any:
    """A colour scale with a thin outline; off : points from its numbers to its label; place : of `Figure.colorbar`."""
    bar = figure.colorbar(image, **place)
    bar.set_label(label, labelpad=off)
    bar.outline.set_linewidth(0.4)
    return bar


def draw_curves(axes: Any, frequency: Any, curves: Any, names: list[str], start: int = 0) -> None:
    """Curves (curve, frequency) from number `start` on, each in its own style, marked where it leaves the picture."""
    for number in range(start, len(curves)):
        axes.plot(frequency, curves[number], label=names[number], **line_style(number))
        mark_runaways(axes, frequency, curves[number], line_style(number)["color"])


def mark_runaways(axes: Any, x: NDArray[np.float64], y: NDArray[np.float64], colour: str) -> None:
    """Small triangles at the edge where a curve leaves the picture upwards or downwards; limits must be set."""
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    inside = (x >= left) & (x <= right) & np.isfinite(y)
    for beyond, edge, marker, best in ((y < low, 0.0, 7, np.argmin), (y > high, 1.0, 6, np.argmax)):
        outside = np.flatnonzero(inside & beyond)
        runs = np.split(outside, np.flatnonzero(np.diff(outside) > 1) + 1) if len(outside) else []
        at = [x[run[int(best(y[run]))]] for run in runs]
        if at:
            axes.plot(
                at,
                np.full(len(at), edge),
                linestyle="",
                marker=marker,
                markersize=4.5,
                color=colour,
                markeredgewidth=0.0,
                transform=axes.get_xaxis_transform(),
                clip_on=False,
                zorder=6,
            )
