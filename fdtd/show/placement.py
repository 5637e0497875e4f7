"""Figures of a placement study: ranked places, what each more unit adds, before and after."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from fdtd.results.placement_record import CountRecord
from fdtd.show.labels import note
from fdtd.show.layout import draw_curves, heading, heading_height, legend_below, legend_height, mark_key
from fdtd.show.style import (
    BESIDE,
    FULL_WIDTH,
    TINY,
    figure_style,
    frequency_axis,
    line_style,
    look,
    new_figure,
    safe_text,
)

LOW, HIGH = 20.0, 160.0
"""Hz, band that is judged and drawn."""
DEEPEST = 60.0
"""dB below the highest level; where a null is deeper, a mark at the edge says so."""
LARGEST_CHANGE = 24.0
AUDIBLE = (0.05, 0.5)
"""Least steps that are heard: share of the decay time, dB of evenness. A test compares them with the ones that a study
judges by (`fdtd.placement.steps`), which drawings must not load."""
LETTERS = 17.5
"""Letters of small print on an inch."""


@dataclass(frozen=True)
class Bar:
    """One place for a unit. label : its name and where it is; benefit : dB; low, high : dB, 10 and 90 % of perturbed
    rooms, NaN where not known."""

    label: str
    benefit: float
    low: float = float("nan")
    high: float = float("nan")


def draw_ranking(title: str, bars: Sequence[Bar], places: int, width: float = FULL_WIDTH) -> Figure:
    """Bars of the best places for one unit, best on top, each below its name; places : how many were compared."""
    with figure_style():
        colours = look()
        names = [textwrap.wrap(safe_text(b.label, 140), int(LETTERS * (width - 0.4))) for b in bars]
        # Names are written in lines above the bars: 1 unit upwards is one line.
        tops = np.cumsum([0.0, *(len(name) + 1.25 for name in names)])
        figure = new_figure(width, 0.75 + heading_height(2) + 0.125 * float(tops[-1]))
        axes = figure.add_subplot()
        at = tops[:-1] + [len(name) + 0.45 for name in names]
        shades = [to_rgba(colours.absorber, 0.75), *[to_rgba(colours.source, 0.35)] * len(bars)][: len(bars)]
        axes.barh(at, [b.benefit for b in bars], height=0.72, linewidth=0.0, color=shades)
        known = np.array([[b.low, b.high] for b in bars], dtype=float).reshape(-1, 2)
        sure = np.isfinite(known).all(axis=1)
        axes.hlines(at[sure], known[sure, 0], known[sure, 1], color=colours.ink, linewidth=1.2, zorder=4)
        axes.plot(known[sure].ravel(), np.repeat(at[sure], 2), "|", color=colours.ink, markersize=5, zorder=4)
        for k, name in enumerate(names):
            weight = "bold" if k == 0 else "normal"
            style: dict[str, Any] = {
                "ha": "left",
                "va": "top",
                "linespacing": 1.1,
                "fontweight": weight,
                "in_layout": True,
            }
            at_left = (0.0, tops[k] - 0.1)
            note(axes, "\n".join(name), at_left, (3, 0), xycoords=axes.get_yaxis_transform(), **style)
        _end_values(axes, bars, at)
        axes.set_ylim(float(tops[-1]), -0.5)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.axvline(0.0, color=colours.muted, linewidth=0.6)
        axes.set_xlabel("benefit in dB against no unit")
        remark = f"One unit: the best {len(bars)} of {places} places."
        remark += " Lines: 10 to 90 % of perturbed rooms." if sure.any() else ""
        heading(figure, safe_text(title, 90), remark)
        return figure


def _end_values(axes: Any, bars: Sequence[Bar], at: NDArray[np.float64]) -> None:
    """The benefit in numbers behind each bar."""
    ends = [np.nanmax([b.benefit, b.high, 0.0]) for b in bars]
    low = min([0.0, *(float(np.nanmin([b.benefit, b.low])) for b in bars)])
    span = max([1e-6, *(float(e) - low for e in ends)])
    axes.set_xlim(low - (0.02 * span if low < 0.0 else 0.0), low + 1.12 * span)
    for bar, end, y in zip(bars, ends, at, strict=True):
        note(axes, f"{bar.benefit:.2f}", (end, y), (4, 0), ha="left", in_layout=True)


def draw_returns(
    title: str,
    counts: Sequence[CountRecord],
    seats: Sequence[str],
    width: float = FULL_WIDTH,
) -> Figure:
    """Benefit against the number of units, and decay and evenness at each seat.

    Steps that are too small to be heard have hollow marks.
    """
    with figure_style():
        beside = width >= BESIDE
        names = [safe_text(seat, 26) for seat in seats]
        extra = [AUDIBLE_STEP, UNHEARD_STEP]
        foot = legend_height([*names, *extra], width)
        figure = new_figure(width, heading_height(1) + foot + (2.2 if beside else 4.9))
        left, middle, right = figure.subplots(*((1, 3) if beside else (3, 1)), squeeze=False).ravel()
        number = [0, *(c.count for c in counts)]
        _draw_benefit(left, counts, number)
        shorter = [np.concatenate([[0.0], [100.0 * float(c.shorter[k]) for c in counts]]) for k in range(len(seats))]
        even = [np.concatenate([[0.0], [float(c.more_even[k]) for c in counts]]) for k in range(len(seats))]
        steps = [_relative_steps(one) for one in shorter], [np.abs(np.diff(one)) for one in even]
        for axes, curves, changes, least, unit in (
            (middle, shorter, steps[0], 100.0 * AUDIBLE[0], "%"),
            (right, even, steps[1], AUDIBLE[1], "dB"),
        ):
            for k, (curve, change) in enumerate(zip(curves, changes, strict=True)):
                axes.plot(number, curve, label=names[k], **line_style(k + 1))
                _step_marks(axes, number[1:], curve[1:], change >= least, line_style(k + 1)["color"])
            _least_audible(axes, least, unit)
        middle.set_title("decay of what rings, % shorter")
        right.set_title("level, dB more even")
        for axes in (left, middle, right):
            axes.set_xlabel("number of units" if beside or axes is right else "")
            axes.xaxis.set_major_locator(MaxNLocator(integer=True))
            axes.axhline(0.0, color=look().muted, linewidth=0.6)
            axes.grid(True)
            axes.set_ylim(min(axes.get_ylim()[0], 0.0))
        heading(figure, safe_text(title, 90), "What more units add, against none.")
        steps_heard = [mark_key("o", look().muted, face, markersize=4.5) for face in (look().muted, look().paper)]
        handles = [*middle.get_legend_handles_labels()[0], *steps_heard]
        legend_below(figure, handles, [*names, *extra], width)
        return figure


AUDIBLE_STEP, UNHEARD_STEP = "the step to it is heard there", "the step to it is too small to be heard"


def _relative_steps(shorter: NDArray[np.float64]) -> NDArray[np.float64]:
    """Size in % of each step between decays that are so many % shorter than at first."""
    left = np.maximum(1.0 - shorter / 100.0, 1e-9)
    return np.asarray(100.0 * np.abs(1.0 - left[1:] / left[:-1]))


def _draw_benefit(axes: Any, counts: Sequence[CountRecord], number: Sequence[int]) -> None:
    axes.plot(number, [0.0, *(c.benefit for c in counts)], "o-", color=look().ink, markersize=4)
    known = [c for c in counts if np.isfinite(c.benefit_low) and np.isfinite(c.benefit_high)]
    x, low, high = ([getattr(c, part) for c in known] for part in ("count", "benefit_low", "benefit_high"))
    axes.vlines(x, low, high, color=look().absorber, linewidth=3.0, alpha=0.5, zorder=1)
    axes.set_title("benefit in dB" + ("; bars: 10 to 90 %\nof perturbed rooms" if known else ""))


def _step_marks(axes: Any, x: Sequence[int], y: NDArray[np.float64], audible: NDArray[np.bool_], colour: str) -> None:
    for at, value, clear in zip(x, y, audible, strict=True):
        filled = {"markeredgecolor": colour, "markerfacecolor": colour if clear else look().paper}
        axes.plot(at, value, "o", markersize=4.5, zorder=4, **filled)


def _least_audible(axes: Any, least: float, unit: str) -> None:
    """A band as high as the least step that is heard, around no unit."""
    axes.axhspan(-least, least, facecolor=look().shade, edgecolor="none", zorder=0)
    axes.axhline(least, color=look().muted, linewidth=0.7, linestyle=(0, (3, 2)), zorder=1)
    style = {"ha": "right", "va": "bottom", "fontsize": TINY, "color": look().muted}
    text = f"least heard step: {least:g} {unit}"
    axes.text(0.985, -0.9 * least, text, transform=axes.get_yaxis_transform(), **style)


def draw_before_after(
    title: str,
    frequency: NDArray[np.float64],
    seats: Sequence[str],
    names: Sequence[str],
    levels: Sequence[NDArray[np.float64]],
    width: float = FULL_WIDTH,
) -> Figure:
    """Level at every seat without units and with designs, and what these change, 20 to 160 Hz, on equal scales.

    names : of the curves, the room without units first; levels : for each (frequency, seat), dB
    """
    with figure_style():
        beside = width >= BESIDE
        text = [safe_text(name, 60) for name in names]
        rows = len(seats) * (1 if beside else 2)
        figure = new_figure(width, heading_height() + legend_height(text, width) + 0.35 + 1.55 * rows)
        ratios = [3, 2] if beside else [1]
        panels = figure.subplots(rows, len(ratios), sharex=True, squeeze=False, width_ratios=ratios)
        grid = panels.reshape(len(seats), 2)
        curves = np.stack(levels)
        limits = _limits(curves[:, (frequency >= LOW) & (frequency <= HIGH)])
        for k, seat in enumerate(seats):
            changes = curves[:, :, k] - curves[0, :, k]
            for axes, lines, unit in ((grid[k, 0], curves[:, :, k], 0), (grid[k, 1], changes, 1)):
                frequency_axis(axes, LOW, HIGH)
                axes.set_ylim(*limits[unit])
                if unit:
                    axes.axhline(0.0, color=look().muted, linewidth=0.6)
                draw_curves(axes, frequency, lines, text, start=unit)
            grid[k, 0].set_ylabel("level in dB re\nfree field at 1 m")
            grid[k, 1].set_ylabel("change in dB")
            grid[k, 0].set_title(safe_text(f"at “{seat}”", 48))
            if not beside:
                grid[k, 1].set_title(safe_text(f"change at “{seat}”", 48))
        for axes in grid[-1, :] if beside else grid[-1, 1:]:
            axes.set_xlabel("frequency in Hz")
        heading(figure, safe_text(title, 90))
        legend_below(figure, grid[0, 0].get_legend_handles_labels()[0], text, width)
        return figure


def _limits(levels: NDArray[np.float64]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Ends of the axes of level and change for all seats; levels : (curve, frequency, seat) dB within the band."""
    top = 5.0 * float(np.ceil((levels.max() + 1.0) / 5.0))
    bottom = max(5.0 * float(np.floor((levels.min() - 1.0) / 5.0)), top - DEEPEST)
    size = float(np.clip(1.08 * np.abs(levels - levels[0]).max(), 3.0, LARGEST_CHANGE))
    return (bottom, top), (-size, size)
