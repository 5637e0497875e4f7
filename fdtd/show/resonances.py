"""Resonances followed through the variants, and decay per third octave, over frequency."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from fdtd.analysis.audibility import THRESHOLDS, DecayThreshold
from fdtd.listening.study import LOW, Listening
from fdtd.show.labels import Label, line_boxes, no_boxes, place_labels, text_box
from fdtd.show.layout import heading, legend_below, legend_height, mark_key, settle
from fdtd.show.style import (
    FULL_WIDTH,
    SMALL,
    TINY,
    decay_axis,
    figure_style,
    frequency_axis,
    look,
    new_figure,
    variant_names,
)

MARKERS = ("o", "s", "^", "D", "v", "P", "X")
SMALLEST, LARGEST, RANGE = 5.0, 55.0, 30.0
"""Area of a marker, points², of a resonance `RANGE` dB below the loudest one and of that one."""
NAMED = 4
"""So many resonances get their frequency and decay times written beside them."""
THRESHOLD_LOOKS = ("-", "--", "-.", ":")
AUDIBLE = {
    "any stimulus": "",
    "music": " in music",
    "test signals": " in test signals",
    "Q of 16": " in another study",
}
"""What a threshold is about, in plain words, by its name; any other name stands as it is."""


def draw_resonances(listening: Listening, width: float = FULL_WIDTH) -> Figure:
    """Decay time over frequency: a marker per resonance and variant, lines along what is followed.

    Markers grow with the level at the seat where the resonance is loudest. Grey curves are published thresholds of
    audible modal decay; the shade lies above the one that the tables use. The resonances that change or ring most are
    named.
    """
    with figure_style():
        names = variant_names((v.name for v in listening.variants), 40)
        entries = [_entry(_look(n), name) for n, name in enumerate(names)] + _size_entries()
        labels = [str(entry.get_label()) for entry in entries] + [_threshold_text(one, "") for one in THRESHOLDS]
        figure = new_figure(width, 3.1 + legend_height([*labels, " " * 50], width))
        axes = figure.subplots()
        low = min([LOW, *(float(v.resonances.frequency.min(initial=LOW)) for v in listening.variants)])
        frequency_axis(axes, low / 1.03, listening.high * 1.03)
        decay_axis(axes, [v.resonances.decay_time for v in listening.variants], "decay time T60 in s")
        curves = _draw_thresholds(axes, listening, low)
        _draw_followed(axes, listening)
        strongest = max(float(_loudest(v.seat_level).max(initial=-np.inf)) for v in listening.variants)
        for number, variant in enumerate(listening.variants):
            area = _area(_loudest(variant.seat_level), strongest)
            found = variant.resonances
            axes.scatter(found.frequency, found.decay_time, area, zorder=4 + number, **_look(number))
        axes.set_xlabel("frequency in Hz")
        entries += curves
        legend_below(figure, entries, [str(entry.get_label()) for entry in entries], width)
        heading(figure, "Resonances and how long they ring", "area of a mark: level at the seat where it is loudest")
        _name_some(figure, axes, listening)
        return figure


def _look(number: int) -> dict[str, Any]:
    """The first variant is hollow, so that another one on top of it leaves both to be seen."""
    colours = look().line_colours
    colour = colours[number % len(colours)]
    return {
        "marker": MARKERS[(number + number // len(MARKERS)) % len(MARKERS)],
        "facecolor": look().paper if number == 0 else colour,
        "edgecolor": colour if number == 0 else look().paper,
        "linewidth": 1.0 if number == 0 else 0.4,
    }


def _entry(mark: dict[str, Any], name: str) -> Line2D:
    return mark_key(mark["marker"], mark["edgecolor"], mark["facecolor"], name, markersize=5)


def _size_entries() -> list[Line2D]:
    sizes = {0.0: "loudest resonance", RANGE: f"{RANGE:.0f} dB quieter"}
    return [
        mark_key("o", look().faint, label=label, markersize=float(np.sqrt(_area(-down, 0.0))))
        for down, label in sizes.items()
    ]


def _area(level: Any, strongest: float) -> Any:
    share = np.clip(1.0 + (np.asarray(level) - strongest) / RANGE, 0.0, 1.0)
    return SMALLEST + (LARGEST - SMALLEST) * np.where(np.isfinite(share), share, 0.0)


def _loudest(seat_level: NDArray[np.float64]) -> NDArray[np.float64]:
    """(seat, resonance) -> (resonance,) dB; -inf where no seat is there."""
    return np.where(np.isfinite(seat_level), seat_level, -np.inf).max(axis=0, initial=-np.inf)


def _draw_thresholds(axes: Any, listening: Listening, low: float) -> list[Line2D]:
    frequency = np.geomspace(low / 1.1, listening.high * 1.1, 300)
    chosen = listening.threshold
    others = [one for one in THRESHOLDS if one.name != chosen.name]
    axes.fill_between(frequency, chosen.at(frequency), 100.0, color=look().shade, linewidth=0, zorder=0.4)
    if not np.isfinite(chosen.at(low)):
        style = {"transform": axes.transAxes, "fontsize": TINY, "color": look().muted}
        axes.text(0.01, 0.02, "no threshold\npublished", va="bottom", **style)
    known = frequency[np.isfinite(chosen.at(frequency))]
    if known.size:
        at = 1.02 * float(known[0])
        axes.text(at, 0.97, "heard to ring", transform=axes.get_xaxis_transform(), color=look().muted, va="top")
    lines = []
    for one, dash in zip([chosen, *others], THRESHOLD_LOOKS * 2, strict=False):
        wide = 1.3 if one is chosen else 0.8
        label = _threshold_text(one, "decays longer than this are heard" if one is chosen else "the same")
        style = {"color": look().faint, "linestyle": dash, "linewidth": wide}
        lines += axes.plot(frequency, one.at(frequency), label=label, zorder=1, **style)
    return lines


def _threshold_text(one: DecayThreshold, start: str) -> str:
    """Legend entry: what the curve says, and author and year."""
    year = re.search(r"\b(19|20)\d\d\b", one.source)
    authors = one.source.split(",")[0] + (" et al." if " and " in one.source else "")
    about = AUDIBLE.get(one.name, f", {one.name}")
    return f"{start}{about} ({authors}{' ' + year.group() if year else ''})"


def _draw_followed(axes: Any, listening: Listening) -> None:
    for chain in listening.followed:
        places = _places(listening, chain.numbers)
        if len(places) > 1:
            axes.plot(*zip(*places, strict=True), color=look().muted, linewidth=0.7, zorder=2)


def _places(listening: Listening, numbers: tuple[int | None, ...]) -> list[tuple[float, float]]:
    """(frequency, decay time) of one resonance in the variants that have it."""
    found = [(v.resonances, k) for v, k in zip(listening.variants, numbers, strict=True) if k is not None]
    return [(float(one.frequency[k]), float(one.decay_time[k])) for one, k in found]


def _name_some(figure: Figure, axes: Any, listening: Listening) -> None:
    """Write what happens to the loudest resonances that are heard to ring or lie below all thresholds' range."""
    first = listening.variants[0]
    loudest = _loudest(first.seat_level)
    rings = [k for k in range(len(loudest)) if first.audible[k] or not np.isfinite(first.limit[k])]
    chosen = sorted(rings, key=lambda k: -loudest[k])[:NAMED]
    labels = []
    for chain in listening.followed:
        if chain.numbers[0] in chosen:
            places = _places(listening, chain.numbers)
            seconds = " → ".join(f"{t:.2f}" for _, t in places)
            followed = f": {seconds} s" if len(listening.variants) <= 2 else ""
            labels.append(Label(f"{places[0][0]:.1f} Hz{followed}", places[0]))
    if labels:
        settle(figure)
        spots = [np.array(axes.transData.transform(_points(v.resonances)).reshape(-1, 2)) for v in listening.variants]
        half = 3.0 * figure.dpi / 72.0
        middle = np.vstack(spots)
        curves = [line_boxes(axes, one) for one in _curves(axes)]
        taken = np.vstack([no_boxes(), *(text_box(text) for text in axes.texts)])
        place_labels(axes, labels, taken, np.vstack([np.hstack([middle - half, middle + half]), *curves]), SMALL)


def _curves(axes: Any) -> list[NDArray[np.float64]]:
    """(corner, 2) of the lines drawn, without the corners that have no value or lie outside."""
    (low, high), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    lines = [np.stack([line.get_xdata(), line.get_ydata()], axis=-1).astype(float) for line in axes.lines]
    inside = [(p[:, 0] >= low) & (p[:, 0] <= high) & (p[:, 1] >= bottom) & (p[:, 1] <= top) for p in lines]
    return [points[some] for points, some in zip(lines, inside, strict=True) if some.sum() > 1]


def _points(found: Any) -> NDArray[np.float64]:
    return np.stack([found.frequency, found.decay_time], axis=-1).reshape(-1, 2)
