"""Frequency x time pictures side by side: first variant, another one, and what changes, on one scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from fdtd.show.style import (
    LEVEL_COLOURS,
    SIGNED_COLOURS,
    frequency_axis,
    new_figure,
    signed_limit,
)

NOTHING = "#dcdcdc"
"""Colour of what is too quiet to compare: not the white of 'no change'."""


LOOKS = ("-", "--", ":")
"""Of the contours, in their order."""


LONG_HEADING = 46
"""Characters; longer ones take two lines in a column."""


@dataclass(frozen=True)
class Scale:
    """Levels from `low` to `high` dB.

    contours : dB, lines drawn at them; compared : dB, level that either picture must reach for a difference
    label : of the colour bar
    """

    low: float
    high: float
    contours: tuple[float, ...]
    compared: float
    label: str


@dataclass(frozen=True, eq=False)
class Picture:
    """Levels over frequency and time.

    title : drawn above; level : (frequency, time) dB; marks : (mark,) Hz, frequencies with a dash at the top edge
    note : written in the upper right corner
    """

    title: str
    level: NDArray[np.float64]
    marks: NDArray[np.float64]
    note: str = ""


def draw_panels(
    pictures: list[Picture],
    frequency: NDArray[np.float64],
    time: NDArray[np.float64],
    scale: Scale,
    heading: str,
    time_label: str,
    width: float,
    difference: bool,
) -> Figure:
    """One or two pictures on one scale; with `difference`, second minus first beside them.

    The difference is drawn where either picture is above `scale.compared`. Panels stand side by side, or below
    each other in a figure of less than 5 inches. Use inside `figure_style()`.
    """
    count = len(pictures) + (1 if difference else 0)
    beside = width >= 5.0 and count > 1
    figure = new_figure(width, 3.3 if beside else 0.75 + 1.75 * count)
    rows, columns = (1, count) if beside else (count, 1)
    grid = list(figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False).flat)
    edges = _edges(np.log(frequency)), _edges(time)
    for axes, picture in zip(grid, pictures, strict=False):
        image = _mesh(axes, edges, picture.level, LEVEL_COLOURS, scale.low, scale.high)
        _contours(axes, frequency, time, picture.level, scale)
        axes.set_title(picture.title, pad=7.0)
    bar = _bar(figure, image, grid[: len(pictures)], scale.label, beside)
    for height, look in zip(scale.contours, LOOKS, strict=False):
        (bar.ax.axvline if beside else bar.ax.axhline)(height, color="white", linewidth=0.9, linestyle=look)
    if difference:
        first, second = (picture.level for picture in pictures)
        change = np.where(np.fmax(first, second) > scale.compared, second - first, np.nan)
        limit = signed_limit([change])
        image = _mesh(grid[-1], edges, change, SIGNED_COLOURS, -limit, limit)
        grid[-1].set_title("difference", pad=7.0)
        _bar(figure, image, grid[-1:], "change in dB", beside)
    for axes, picture in zip(grid, [*pictures, pictures[-1]], strict=False):
        frequency_axis(axes, float(frequency[0]), float(frequency[-1]))
        axes.set_ylim(float(time[0]), float(time[-1]))
        axes.yaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 5, 10]))
        _few_ticks(axes, beside)
        _dashes(axes, picture.marks)
    for axes, picture in zip(grid, pictures, strict=False):
        _note(axes, picture.note)
    _labels(figure, grid, heading, time_label, beside)
    return figure


def _edges(middle: NDArray[np.float64]) -> NDArray[np.float64]:
    between = 0.5 * (middle[1:] + middle[:-1])
    return np.concatenate([[2 * middle[0] - between[0]], between, [2 * middle[-1] - between[-1]]])


def _mesh(axes: Any, edges: tuple[NDArray, NDArray], values: NDArray, colours: str, low: float, high: float) -> Any:
    axes.set_facecolor(NOTHING)
    shown = np.ma.masked_invalid(values.T)
    return axes.pcolormesh(np.exp(edges[0]), edges[1], shown, cmap=colours, vmin=low, vmax=high, rasterized=True)


def _contours(axes: Any, frequency: NDArray, time: NDArray, level: NDArray, scale: Scale) -> None:
    if not np.isfinite(level).any():
        axes.text(0.5, 0.5, "no seat or source here", transform=axes.transAxes, ha="center", va="center")
        return
    # A line where the level only grazes the height would be noise: draw what is inside the picture.
    inside = [height for height in sorted(scale.contours) if level.min() < height < level.max()]
    if inside:
        styles = [LOOKS[scale.contours.index(height) % 3] for height in inside]
        axes.contour(frequency, time, level.T, levels=inside, colors="white", linewidths=0.7, linestyles=styles)


def _few_ticks(axes: Any, beside: bool) -> None:
    axes.grid(False)
    if beside:  # narrow panels: octaves
        low, high = axes.get_xlim()
        axes.set_xticks([t for t in (10, 20, 40, 80, 160, 315) if low * 0.999 <= t <= high * 1.001])


def _dashes(axes: Any, marks: NDArray[np.float64]) -> None:
    across = axes.get_xaxis_transform()
    axes.vlines(marks, 1.0, 1.035, transform=across, color="black", linewidth=0.7, clip_on=False)


def _labels(figure: Figure, grid: list[Any], heading: str, time_label: str, beside: bool) -> None:
    narrow = figure.get_figwidth() < 5.0 and len(heading) > LONG_HEADING
    figure.suptitle(heading.replace(": ", ":\n", 1) if narrow else heading)
    for k, axes in enumerate(grid):
        if beside or k == len(grid) - 1:
            axes.set_xlabel("frequency in Hz")
        if not beside or k == 0:
            axes.set_ylabel(time_label)


def _note(axes: Any, note: str) -> None:
    if note:
        dark = {"facecolor": "#2b1040", "edgecolor": "none", "alpha": 0.7, "pad": 1.5}
        axes.text(
            0.98, 0.95, note, transform=axes.transAxes, ha="right", va="top", color="white", fontsize=6.5, bbox=dark
        )


def _bar(figure: Figure, image: Any, axes: list[Any], text: str, beside: bool) -> Any:
    place: dict[str, Any] = {"location": "bottom", "shrink": 0.8} if beside else {"location": "right"}
    bar = figure.colorbar(image, ax=axes, extend="both", aspect=17 * len(axes), pad=0.02, **place)
    bar.set_label(text)
    bar.outline.set_linewidth(0.4)
    return bar
