"""Drawings of a partition study: where the resonances go and how long they ring, and every seat's response."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.colors import LogNorm, to_rgba
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from fdtd.analysis.response import level_db
from fdtd.listening.changes import strongest_followed
from fdtd.listening.study import LOW, Listening
from fdtd.results.result import RunResult
from fdtd.show.labels import note, on_paper
from fdtd.show.layout import colour_bar, heading, heading_height, legend_below, legend_height, mark_key, mark_runaways
from fdtd.show.style import (
    BESIDE,
    FULL_WIDTH,
    THIRD_OCTAVES,
    TINY,
    figure_style,
    frequency_axis,
    look,
    new_figure,
    safe_text,
    variant_names,
)

SMALLEST, LARGEST, RANGE = 10.0, 75.0, 30.0
"""Area of a marker, points², of a resonance `RANGE` dB below the loudest one and of that one."""
COUNT = 12
"""So many followed resonances are drawn, those that are loudest at any seat: more is a crowd above 100 Hz."""
CLOSE = 1.045
"""Of resonances that are within this factor of frequency only the loudest one is drawn; half of it in excess of 1 is
about the width of a marker."""
LONGEST = 3
"""Decay times written in each row, the longest ones."""
APART = 1.12
"""Decay times are written at markers that are at least this factor of frequency apart."""
PANEL = 0.82
"""Height of the panel of one variant, inches."""
DEEPEST = 45.0
"""dB below the highest level, where panels end; a mark at the edge says where a curve goes on."""
SPARSE = (20, 31.5, 50, 80, 125, 200)
"""Hz, ticks of narrow panels."""
TICKS = (0.1, 0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 3, 5, 7, 10)


def draw_partition_strip(listening: Listening, width: float = FULL_WIDTH) -> Figure:
    """A row for each variant, a marker for each of the strongest resonances.

    Colour is decay time, area is level at the seat where it is loudest.

    Lines follow a resonance through the variants; a dark ring marks those that ring longer than the published
    threshold. Decay times in s stand above the longest ones.
    """
    with figure_style():
        beside = width >= BESIDE
        names = variant_names((v.name for v in listening.variants), 30 if beside else 16)
        reported = [
            f"heard to ring (threshold: {listening.threshold.name})",
            "the same resonance as in the first variant",
        ]
        figure = new_figure(width, 0.95 + heading_height(1) + legend_height(reported, width) + 0.40 * len(names))
        axes = figure.subplots()
        lowest = min([LOW, *(float(v.resonances.frequency.min(initial=LOW)) for v in listening.variants)])
        frequency_axis(axes, lowest / 1.08, listening.high * 1.05, THIRD_OCTAVES if beside else SPARSE)
        axes.set_ylim(len(names) - 0.5, -0.65)
        axes.set_yticks(range(len(names)), names)
        axes.grid(True, axis="y")
        strong = _apart(listening, strongest_followed(listening, 4 * COUNT))
        drawn = [
            np.array([k for n in strong if (k := listening.followed[n].numbers[row]) is not None], dtype=int)
            for row in range(len(names))
        ]
        _lines(axes, listening, strong)
        shades = _markers(axes, listening, drawn)
        _decay_times(axes, listening, drawn, APART if beside else APART**2)
        place: dict[str, Any] = {"pad": 0.01} if beside else {"location": "bottom", "aspect": 30, "shrink": 0.8}
        bar = colour_bar(figure, shades, "decay time (60 dB) in s", 4.0, ax=axes, **place)
        low, high = shades.norm.vmin, shades.norm.vmax
        ticks = [t for t in TICKS if low <= t <= high]
        bar.set_ticks(ticks, labels=[f"{t:g}" for t in ticks])
        bar.minorticks_off()
        axes.set_xlabel("frequency in Hz")
        heading(
            figure,
            "The strongest resonances in each variant",
            "Marker area: level where it is loudest; numbers: the longest decay times in s.",
        )
        ring = mark_key("o", look().absorber, look().nothing, markersize=6, markeredgewidth=1.3)
        legend_below(figure, [ring, Line2D([], [], color=look().faint, linewidth=0.8)], reported, width)
        return figure


def _apart(listening: Listening, strong: list[int]) -> list[int]:
    """Numbers of the followed resonances that are drawn: none close to a stronger one in any variant."""
    kept: list[int] = []
    for number in strong:
        if len(kept) < COUNT and all(_ratio(listening, number, other) >= CLOSE for other in kept):
            kept.append(number)
    return kept


def _ratio(listening: Listening, one: int, other: int) -> float:
    """Least ratio, 1 or more, of the frequencies of two followed resonances where both are there."""
    ratios = [np.inf]
    chains = listening.followed[one].numbers, listening.followed[other].numbers
    for variant, a, b in zip(listening.variants, *chains, strict=True):
        if a is not None and b is not None:
            f, g = float(variant.resonances.frequency[a]), float(variant.resonances.frequency[b])
            ratios.append(max(f / g, g / f))
    return min(ratios)


def _markers(axes: Any, listening: Listening, drawn: list[Any]) -> Any:
    every = np.concatenate([v.resonances.decay_time[k] for v, k in zip(listening.variants, drawn, strict=True)])
    low, high = (float(every.min()), float(every.max())) if every.size else (0.2, 1.0)
    colours = LogNorm(low, max(high, 1.1 * low))
    levels = [np.where(np.isfinite(v.seat_level), v.seat_level, -np.inf).max(axis=0) for v in listening.variants]
    strongest = max((float(one.max(initial=-np.inf)) for one in levels), default=0.0)
    shades: Any = None
    style = {"cmap": look().level_colours, "norm": colours, "edgecolors": look().absorber, "zorder": 3}
    for k, (variant, level) in enumerate(zip(listening.variants, levels, strict=True)):
        found, own = variant.resonances, drawn[k]
        share = np.clip(1.0 + (level[own] - strongest) / RANGE, 0.0, 1.0)
        edge: Any = np.where(variant.audible[own], 1.3, 0.0)
        shades = axes.scatter(
            found.frequency[own],
            np.full(len(own), k),
            SMALLEST + (LARGEST - SMALLEST) * share,
            found.decay_time[own],
            linewidths=edge,
            **style,
        )
    return shades


def _lines(axes: Any, listening: Listening, numbers: list[int]) -> None:
    for number in numbers:
        chain = listening.followed[number]
        pairs = list(zip(listening.variants, chain.numbers, strict=True))
        places = [(v.resonances.frequency[k], row) for row, (v, k) in enumerate(pairs) if k is not None]
        if len(places) > 1:
            axes.plot(*zip(*places, strict=True), color=look().faint, linewidth=0.8, zorder=2)


def _decay_times(axes: Any, listening: Listening, drawn: list[Any], apart: float) -> None:
    """The longest decay times of each row above their markers, as far as they don't run into each other."""
    for row, (variant, there) in enumerate(zip(listening.variants, drawn, strict=True)):
        written: list[float] = []
        for k in sorted(there, key=lambda k: -float(variant.resonances.decay_time[k])):
            frequency = float(variant.resonances.frequency[k])
            if len(written) < LONGEST and all(max(frequency / f, f / frequency) >= apart for f in written):
                written.append(frequency)
                style = {"va": "bottom", "zorder": 5, "bbox": on_paper(0.05, alpha=1.0), "in_layout": True}
                note(axes, f"{variant.resonances.decay_time[k]:.2f}", (frequency, row), (0, 6.5), TINY, **style)


def draw_partition_responses(result: RunResult, listening: Listening, seat: int, width: float = FULL_WIDTH) -> Figure:
    """Level at one seat in every variant, a panel each with the first variant in grey behind, two panels a row."""
    with figure_style():
        names = variant_names((v.name for v in listening.variants), 40)
        shown = (result.frequency >= LOW) & (result.frequency <= min(result.max_frequency, result.frequency[-1]))
        axis = result.frequency[shown]
        curves = [level_db(v.transfer[seat], result.frequency, result.density)[shown] for v in listening.variants]
        highest = max((float(c.max()) for c in curves if np.isfinite(c).all()), default=0.0)
        columns = 2 if width >= BESIDE else 1
        rows = int(np.ceil(max(len(names) - 1, 1) / columns))
        figure = new_figure(width, 0.45 + heading_height(1) + (PANEL + 0.25) * rows)
        panels = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False)
        for number, panel in enumerate(panels.ravel()):
            if number + 1 >= len(names):
                panel.set_visible(False)
                continue
            frequency_axis(panel, float(axis[0]), float(axis[-1]), SPARSE)
            panel.set_ylim(highest - DEEPEST, highest + 3.0)
            shade = to_rgba(look().absorber, 0.2)
            panel.fill_between(axis, curves[0], curves[number + 1], color=shade, linewidth=0, zorder=1)
            panel.plot(axis, curves[0], color=look().muted, linewidth=0.9, zorder=2)
            panel.plot(axis, curves[number + 1], color=look().absorber, linewidth=1.1, zorder=3)
            mark_runaways(panel, axis, curves[number + 1], look().absorber)
            panel.set_title(names[number + 1], pad=2)
            panel.tick_params(labelbottom=number + columns >= len(names) - 1)
        figure.supxlabel("frequency in Hz", fontsize=7.0)
        figure.supylabel("level in dB re free field at 1 m", fontsize=7.0)
        note = f"Grey: {names[0]}. Colour: what each panel says."
        heading(figure, f"Seat “{safe_text(listening.seats[seat], 60)}”", note)
        return figure
