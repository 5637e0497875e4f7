"""Frequency x time pictures side by side: first variant, another one, and what changes, on one scale.

Below them there may be one more drawing, over the full width.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, NullFormatter
from numpy.typing import NDArray

from fdtd.listening.study import Listening
from fdtd.show.layout import colour_bar, heading, heading_height
from fdtd.show.style import (
    BESIDE,
    THIRD_OCTAVES,
    frequency_axis,
    look,
    new_figure,
    plain_ticks,
    safe_text,
    signed_limit,
)

LOOKS = ("-", "--", ":")
"""Of the contours, in their order."""


LETTERS_PER_INCH = 15.0
"""Of a heading; longer ones are broken."""
NARROW_TICKS = (10, 15, 20, 30, 40, 60, 80, 120, 160, 240, 320)
"""Hz, frequencies that are written in narrow panels; every 10 Hz has a tick."""
TIMES = (0.0, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0, 1.5, 2.0)
"""s, ticks of the time axis."""
EARLY, LEAST_CHANGE, LARGEST_CHANGE = 0.3, 6.0, 15.0
"""s and dB: the scale of the difference is that of so early a time, and reaches no further. Late in a tail
differences grow without end, while the ear has made up its mind."""
ENOUGH = 0.8
"""A picture ends when this share of its frequencies has died."""
KEY = "dashes at the upper edge: resonances; grey: too quiet to compare; white lines: {lines} dB"


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
    missing : what is written where there is no level
    """

    title: str
    level: NDArray[np.float64]
    marks: NDArray[np.float64]
    missing: str = ""


@dataclass(frozen=True, eq=False)
class Strip:
    """A drawing below the pictures, `height` inches.

    draw(figure, part, axes) : called last; `part` is the part of the figure that the axes are in
    """

    draw: Callable[[Figure, Any, Any], None]
    height: float


def draw_panels(
    pictures: list[Picture],
    frequency: NDArray[np.float64],
    time: NDArray[np.float64],
    scale: Scale,
    title: str,
    note: str,
    time_label: str,
    width: float,
    strip: Strip | None = None,
) -> Figure:
    """One or two pictures on one scale; with two, second minus first beside them; below all, `strip`.

    The difference is drawn where either picture is above `scale.compared`. Panels stand side by side, or below
    each other in a figure of less than 5 inches. The time axis is that of the square root, which gives the first
    moments more room. Use inside `figure_style()`.
    """
    count = 3 if len(pictures) > 1 else 1
    beside = width >= BESIDE and count > 1
    height = 3.3 if beside else 0.95 + 1.75 * count
    figure = new_figure(width, height + (strip.height if strip else 0.0) + heading_height(1 if beside else 2))
    upper: Any = figure
    if strip:
        parts: Any = figure.subfigures(2, 1, height_ratios=[height, strip.height])
        upper, lower = parts
    grid = list(upper.subplots(*((1, count) if beside else (count, 1)), sharex=True, sharey=True, squeeze=False).flat)
    edges = _edges(np.log(frequency)), _edges(time)
    for axes, picture in zip(grid, pictures, strict=False):
        image = _mesh(axes, edges, picture.level, look().level_colours, scale.low, scale.high)
        _contours(axes, frequency, time, picture, scale)
        axes.set_title(picture.title, pad=8.5)
    bar = _bar(upper, image, grid[: len(pictures)], scale.label, beside)
    for line, dash in zip(scale.contours, LOOKS, strict=False):
        (bar.ax.axvline if beside else bar.ax.axhline)(line, color=look().halo, linewidth=0.9, linestyle=dash)
    if count > 1:
        _difference(upper, grid[-1], edges, time, pictures, scale, beside)
    for axes, picture in zip(grid, [*pictures, pictures[-1]], strict=False):
        low, high = float(frequency[0]), float(frequency[-1])
        frequency_axis(axes, low, high, NARROW_TICKS if beside else THIRD_OCTAVES)
        if beside:
            axes.xaxis.set_minor_locator(FixedLocator([t for t in range(10, 400, 10) if low <= t <= high]))
            axes.xaxis.set_minor_formatter(NullFormatter())
        axes.grid(False)
        _time_axis(axes, float(time[0]), float(time[-1]))
        _dashes(axes, picture.marks)
    _labels(grid, time_label, beside)
    heading(figure, title, note)
    lines = ", ".join(f"\u2212{abs(line):g}" for line in scale.contours)
    upper.supxlabel(_broken(KEY.format(lines=lines), 1.25 * width), fontsize=6.5, color=look().muted, x=0.01, ha="left")
    if strip:
        strip.draw(figure, lower, lower.subplots())
    return figure


def shorter(name: str, limit: int) -> str:
    """A safe name cut for a narrow title."""
    return safe_text(name.replace(r"\$", "$"), limit)


def _time_axis(axes: Any, start: float, end: float) -> None:
    def forward(value: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.sqrt(np.maximum(np.asarray(value) - start, 0.0))

    def back(value: NDArray[np.float64]) -> NDArray[np.float64]:
        return start + np.square(value)

    axes.set_yscale("function", functions=(forward, back))
    plain_ticks(axes.yaxis, [t for t in TIMES if start >= 0.0 or t != TIMES[1]], 0.0, end)
    axes.set_ylim(start, end)


def _difference(
    figure: Any,
    axes: Any,
    edges: tuple[NDArray, NDArray],
    time: NDArray,
    pictures: list[Picture],
    scale: Scale,
    beside: bool,
) -> None:
    first, second = pictures
    change = second.level - first.level
    change[~(np.fmax(first.level, second.level) > scale.compared)] = np.nan
    limit = signed_limit([change[:, time <= EARLY]], LEAST_CHANGE, LARGEST_CHANGE)
    image = _mesh(axes, edges, change, look().signed_colours, -limit, limit)
    # What the first one leaves of the line is for the second one.
    begun = shorter(first.title, max(12, 25 - len(second.title)))
    axes.set_title(f"{shorter(second.title, max(12, 25 - len(begun)))} minus {begun}", pad=8.5)
    bar = _bar(figure, image, [axes], "change in dB", beside)
    bar.set_ticks(list(np.linspace(-limit, limit, 7)))


def _broken(text: str, width: float) -> str:
    return "\n".join(textwrap.wrap(text, int(LETTERS_PER_INCH * width)))


def missing(listening: Listening, variant: int, seat: int) -> str:
    """Why the decay of a variant is not drawn at a seat, in a few words; "" if it is."""
    if not np.isfinite(listening.variants[variant].transfer[seat]).all():
        return "no seat or source here"
    return "simulation too short" if listening.variants[variant].too_short else ""


def reference_variant(listening: Listening, seat: int, chosen: list[int]) -> int:
    """Number of the variant whose level is 0 dB: the first of the `chosen` ones that is drawn."""
    return next((k for k in chosen if not missing(listening, k, seat)), chosen[0])


def resonances_within(listening: Listening, variant: int, frequency: NDArray[np.float64]) -> NDArray[np.float64]:
    """Hz of the resonances of a variant that lie within the range of `frequency`."""
    found = listening.variants[variant].resonances.frequency
    return found[(found >= frequency[0]) & (found <= frequency[-1])]


def time_span(
    levels: list[NDArray[np.float64]], time: NDArray[np.float64], died: float, spans: tuple[float, ...]
) -> float:
    """s that pictures of `levels` (frequency, time) need: the first of `spans` by which most frequencies have died.

    died : dB; the rest runs out of the picture, so that it does not crush what dies early
    """
    ends = [spans[0]]
    for level in levels:
        if np.isfinite(level).all():
            loud = level >= died
            last = np.where(loud.any(axis=1), time[len(time) - 1 - np.argmax(loud[:, ::-1], axis=1)], 0.0)
            ends.append(float(np.quantile(last, ENOUGH)))
    return next((span for span in spans if span >= max(ends)), spans[-1])


def _edges(middle: NDArray[np.float64]) -> NDArray[np.float64]:
    between = 0.5 * (middle[1:] + middle[:-1])
    return np.concatenate([[2 * middle[0] - between[0]], between, [2 * middle[-1] - between[-1]]])


def _mesh(axes: Any, edges: tuple[NDArray, NDArray], values: NDArray, colours: str, low: float, high: float) -> Any:
    axes.set_facecolor(look().nothing)
    shown = np.ma.masked_invalid(values.T)
    return axes.pcolormesh(np.exp(edges[0]), edges[1], shown, cmap=colours, vmin=low, vmax=high, rasterized=True)


def _contours(axes: Any, frequency: NDArray, time: NDArray, picture: Picture, scale: Scale) -> None:
    level = picture.level
    if not np.isfinite(level).any():
        axes.text(0.5, 0.5, picture.missing, transform=axes.transAxes, ha="center", va="center")
        return
    # A line where the level only grazes the height would be noise: draw what is inside the picture.
    inside = [height for height in sorted(scale.contours) if level.min() < height < level.max()]
    if inside:
        styles = [LOOKS[scale.contours.index(height) % 3] for height in inside]
        axes.contour(frequency, time, level.T, levels=inside, colors=look().halo, linewidths=0.7, linestyles=styles)


def _dashes(axes: Any, marks: NDArray[np.float64]) -> None:
    across = axes.get_xaxis_transform()
    axes.vlines(marks, 1.0, 1.035, transform=across, color=look().ink, linewidth=0.7, clip_on=False)


def _labels(grid: list[Any], time_label: str, beside: bool) -> None:
    for k, axes in enumerate(grid):
        if beside or k == len(grid) - 1:
            axes.set_xlabel("frequency in Hz")
        if not beside or k == 0:
            axes.set_ylabel(time_label)


def _bar(figure: Any, image: Any, axes: list[Any], text: str, beside: bool) -> Any:
    place: dict[str, Any] = {"location": "bottom", "shrink": 0.8} if beside else {"location": "right"}
    place["pad"] = 0.02
    return colour_bar(figure, image, text, 4.0, ax=axes, extend="both", aspect=17 * len(axes), **place)
