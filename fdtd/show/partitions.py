"""Drawings of a partition study: where the resonances go and how long they ring, and every seat's response."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.colors import LogNorm
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from fdtd.analysis.response import level_db
from fdtd.listening.changes import strongest_followed
from fdtd.listening.study import LOW, Listening
from fdtd.results.result import RunResult
from fdtd.show.style import (
    FULL_WIDTH,
    LEVEL_COLOURS,
    VERMILION,
    figure_style,
    frequency_axis,
    new_figure,
    safe_text,
    variant_names,
)

SMALLEST, LARGEST, RANGE = 12.0, 130.0, 30.0
"""Area of a marker, points², of a resonance `RANGE` dB below the loudest one and of that one."""
COUNT = 12
"""So many followed resonances are drawn, those that are loudest at any seat: more is a crowd above 100 Hz."""
LONGEST = 3
"""Decay times written in each row, the longest ones."""
APART = 1.09
"""Decay times are written at markers that are at least this factor of frequency apart."""
PANEL = 0.82
"""Height of the panel of one variant, inches."""
DEEPEST = 45.0
"""dB below the highest level, where panels end."""


def draw_partition_strip(listening: Listening, width: float = FULL_WIDTH) -> Figure:
    """A row for each variant, a marker for each of the strongest resonances.

    Colour is decay time, area is level at the seat where it is loudest.

    Lines follow a resonance through the variants; a dark ring marks those that ring longer than the published
    threshold. Decay times in s stand above the longest ones.
    """
    with figure_style():
        names = variant_names((v.name for v in listening.variants), 30)
        figure = new_figure(width, 1.5 + 0.42 * len(names))
        axes = figure.subplots()
        lowest = min([LOW, *(float(v.resonances.frequency.min(initial=LOW)) for v in listening.variants)])
        frequency_axis(axes, lowest / 1.08, listening.high * 1.05)
        axes.set_ylim(len(names) - 0.5, -0.65)
        axes.set_yticks(range(len(names)), names)
        axes.grid(True, axis="y")
        strong = strongest_followed(listening, COUNT)
        drawn = [
            np.array([k for n in strong if (k := listening.followed[n].numbers[row]) is not None], dtype=int)
            for row in range(len(names))
        ]
        _lines(axes, listening, strong)
        every = np.concatenate(
            [v.resonances.decay_time[k] for v, k in zip(listening.variants, drawn, strict=True)]
        )  # fmt: skip
        low, high = (float(every.min()), float(every.max())) if every.size else (0.2, 1.0)
        colours = LogNorm(low, max(high, 1.1 * low))
        levels = [np.where(np.isfinite(v.seat_level), v.seat_level, -np.inf).max(axis=0) for v in listening.variants]
        strongest = max((float(one.max(initial=-np.inf)) for one in levels), default=0.0)
        shades: Any = None
        for k, (variant, level) in enumerate(zip(listening.variants, levels, strict=True)):
            found, own = variant.resonances, drawn[k]
            share = np.clip(1.0 + (level[own] - strongest) / RANGE, 0.0, 1.0)
            edge: Any = np.where(variant.audible[own], 1.4, 0.0)
            shades = axes.scatter(
                found.frequency[own], np.full(len(own), k), SMALLEST + (LARGEST - SMALLEST) * share,
                c=found.decay_time[own], cmap=LEVEL_COLOURS, norm=colours, linewidths=edge, edgecolors=VERMILION,
                zorder=3,
            )  # fmt: skip
        _decay_times(axes, listening, drawn)
        bar = figure.colorbar(shades, ax=axes, pad=0.01, label="decay time (60 dB) in s")
        ticks = [t for t in (0.1, 0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 3, 5, 7, 10) if low <= t <= high]
        bar.set_ticks(ticks, labels=[f"{t:g}" for t in ticks])
        bar.minorticks_off()
        axes.set_xlabel("frequency in Hz")
        axes.set_title(
            f"The {len(strong)} strongest resonances in each variant: marker area is level where it is loudest"
        )
        label = f"heard to ring (threshold: {listening.threshold.name})"
        ring = Line2D([], [], linestyle="", marker="o", markersize=7, markerfacecolor="#c0c0c0", markeredgewidth=1.4,
                      markeredgecolor=VERMILION, label=label)  # fmt: skip
        followed = Line2D([], [], color="#909090", linewidth=0.8, label="the same resonance as in the first variant")
        figure.legend(handles=[ring, followed], loc="outside lower center", ncols=2)
        return figure


def _lines(axes: Any, listening: Listening, numbers: list[int]) -> None:
    for number in numbers:
        chain = listening.followed[number]
        pairs = list(zip(listening.variants, chain.numbers, strict=True))
        places = [(v.resonances.frequency[k], row) for row, (v, k) in enumerate(pairs) if k is not None]
        if len(places) > 1:
            axes.plot(*zip(*places, strict=True), color="#909090", linewidth=0.8, zorder=2)


def _decay_times(axes: Any, listening: Listening, drawn: list[Any]) -> None:
    """The longest decay times of each row above their markers, as far as they don't run into each other."""
    for row, (variant, there) in enumerate(zip(listening.variants, drawn, strict=True)):
        written: list[float] = []
        for k in sorted(there, key=lambda k: -float(variant.resonances.decay_time[k])):
            frequency = float(variant.resonances.frequency[k])
            if len(written) < LONGEST and all(max(frequency / f, f / frequency) >= APART for f in written):
                written.append(frequency)
                axes.annotate(f"{variant.resonances.decay_time[k]:.2f}", (frequency, row), xytext=(0, 7),
                              textcoords="offset points", ha="center", va="bottom", fontsize=6.0, zorder=5)  # fmt: skip


def draw_partition_responses(result: RunResult, listening: Listening, seat: int, width: float = FULL_WIDTH) -> Figure:
    """Level at one seat in every variant, a panel each with the first variant in grey behind, two panels a row."""
    with figure_style():
        names = variant_names((v.name for v in listening.variants), 40)
        shown = (result.frequency >= LOW) & (result.frequency <= min(result.max_frequency, result.frequency[-1]))
        axis = result.frequency[shown]
        curves = [level_db(v.transfer[seat], result.frequency, result.density)[shown] for v in listening.variants]
        highest = max((float(c.max()) for c in curves if np.isfinite(c).all()), default=0.0)
        rows = int(np.ceil(max(len(names) - 1, 1) / 2))
        figure = new_figure(width, 0.8 + (PANEL + 0.25) * rows)
        panels = figure.subplots(rows, 2, sharex=True, sharey=True, squeeze=False)
        for number, panel in enumerate(panels.ravel()):
            if number + 1 >= len(names):
                panel.set_visible(False)
                continue
            frequency_axis(panel, float(axis[0]), float(axis[-1]))
            _sparse_ticks(panel)
            panel.fill_between(axis, curves[0], curves[number + 1], color="#f3d9c9", linewidth=0, zorder=1)
            panel.plot(axis, curves[0], color="#707070", linewidth=0.9, zorder=2)
            panel.plot(axis, curves[number + 1], color=VERMILION, linewidth=1.1, zorder=3)
            panel.set_title(names[number + 1], loc="left", pad=2)
            panel.set_ylim(highest - DEEPEST, highest + 3.0)
            panel.tick_params(labelbottom=number + 2 >= len(names) - 1)
        figure.supxlabel("frequency in Hz", fontsize=7.5)
        figure.supylabel("level in dB re free field at 1 m", fontsize=7.5)
        figure.suptitle(f"Seat: {safe_text(listening.seats[seat], 60)} (grey: {names[0]})")
        return figure


def _sparse_ticks(panel: Any) -> None:
    low, high = panel.get_xlim()
    panel.set_xticks([f for f in (20, 31.5, 50, 80, 125, 200) if low * 0.999 <= f <= high * 1.001])
