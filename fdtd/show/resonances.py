"""Resonances followed through the variants, and decay per third octave, over frequency."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from fdtd.analysis.audibility import THRESHOLDS, DecayThreshold
from fdtd.analysis.decay import BandDecay
from fdtd.listening.changes import WITHIN
from fdtd.listening.study import LOW, Listening, VariantListening
from fdtd.show.labels import Label, line_boxes, no_boxes, place_labels
from fdtd.show.style import (
    COLUMN_WIDTH,
    FULL_WIDTH,
    LINE_COLOURS,
    figure_style,
    frequency_axis,
    line_style,
    new_figure,
    safe_text,
    seconds_axis,
    variant_names,
)

MARKERS = ("o", "s", "^", "D", "v", "P", "X")
SMALLEST, LARGEST, RANGE = 5.0, 55.0, 30.0
"""Area of a marker, points², of a resonance `RANGE` dB below the loudest one and of that one."""
NAMED = 4
"""So many resonances get their frequency and decay times written beside them."""
THRESHOLD_LOOKS = ("-", "--", "-.", ":")
HEARD = {
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
        columns = 2 if width >= 5.0 else 1
        figure = new_figure(width, 3.1 + 0.15 * int(np.ceil((len(names) + 2 + len(THRESHOLDS)) / columns)))
        axes = figure.subplots()
        low = min([LOW, *(float(v.resonances.frequency.min(initial=LOW)) for v in listening.variants)])
        frequency_axis(axes, low / 1.03, listening.high * 1.03)
        _decay_axis(axes, [v.resonances.decay_time for v in listening.variants], "decay time T60 in s")
        curves = _draw_thresholds(axes, listening, low)
        _draw_followed(axes, listening)
        strongest = max(float(_loudest(v.seat_level).max(initial=-np.inf)) for v in listening.variants)
        for number, variant in enumerate(listening.variants):
            area = _area(_loudest(variant.seat_level), strongest)
            found = variant.resonances
            axes.scatter(found.frequency, found.decay_time, area, zorder=4 + number, **_look(number))
        axes.set_xlabel("frequency in Hz")
        entries = [_entry(n, _look(n), name) for n, name in enumerate(names)] + _size_entries() + curves
        figure.legend(handles=entries, loc="outside lower center", ncols=columns, columnspacing=1.5)
        axes.set_title(
            f"Resonances{': ' if width >= 5.0 else chr(10)}marker area is level at the seat where it is loudest"
        )
        _name_some(figure, axes, listening)
        return figure


def _look(number: int) -> dict[str, Any]:
    """The first variant is hollow, so that another one on top of it leaves both to be seen."""
    colour = LINE_COLOURS[number % len(LINE_COLOURS)]
    return {
        "marker": MARKERS[(number + number // len(MARKERS)) % len(MARKERS)],
        "facecolor": "white" if number == 0 else colour,
        "edgecolor": colour,
        "linewidth": 0.9 if number == 0 else 0.4,
    }


def _entry(number: int, look: dict[str, Any], name: str) -> Line2D:
    return Line2D(
        [], [], linestyle="", marker=look["marker"], markersize=5, markerfacecolor=look["facecolor"],
        markeredgecolor=look["edgecolor"], label=name,
    )  # fmt: skip


def _size_entries() -> list[Line2D]:
    return [
        Line2D([], [], linestyle="", marker="o", color="#909090", markersize=float(np.sqrt(_area(-down, 0.0))),
               label="loudest resonance" if down == 0 else f"{down:.0f} dB quieter")
        for down in (0.0, RANGE)
    ]  # fmt: skip


def _area(level: Any, strongest: float) -> Any:
    share = np.clip(1.0 + (np.asarray(level) - strongest) / RANGE, 0.0, 1.0)
    return SMALLEST + (LARGEST - SMALLEST) * np.where(np.isfinite(share), share, 0.0)


def _loudest(seat_level: NDArray[np.float64]) -> NDArray[np.float64]:
    """(seat, resonance) -> (resonance,) dB; -inf where no seat is there."""
    return np.where(np.isfinite(seat_level), seat_level, -np.inf).max(axis=0, initial=-np.inf)


def _decay_axis(axes: Any, times: list[NDArray[np.float64]], label: str) -> None:
    every = np.concatenate([np.asarray(one)[np.isfinite(one)] for one in times])
    low, high = (float(every.min()), float(every.max())) if every.size else (0.2, 1.0)
    seconds_axis(axes, min(low, 0.3) / 1.25, max(high, 1.0) * 1.25)
    axes.set_ylabel(label)


def _draw_thresholds(axes: Any, listening: Listening, low: float) -> list[Line2D]:
    frequency = np.geomspace(low / 1.1, listening.high * 1.1, 300)
    chosen = listening.threshold
    others = [one for one in THRESHOLDS if one.name != chosen.name]
    axes.fill_between(frequency, chosen.at(frequency), 100.0, color="#f3ead0", linewidth=0, zorder=0.4)
    if not np.isfinite(chosen.at(low)):
        axes.text(
            0.01, 0.02, "no threshold\npublished", transform=axes.transAxes, fontsize=6.0, color="#606060", va="bottom"
        )
    lines = []
    for one, look in zip([chosen, *others], THRESHOLD_LOOKS * 2, strict=False):
        wide = 1.3 if one is chosen else 0.8
        label = _threshold_words(one, "decays longer than this are heard" if one is chosen else "the same")
        lines += axes.plot(
            frequency, one.at(frequency), color="#8c8c8c", linestyle=look, linewidth=wide, label=label, zorder=1
        )
    return lines


def _threshold_words(one: DecayThreshold, start: str) -> str:
    """Legend entry: what the curve says, and author and year."""
    year = re.search(r"\b(19|20)\d\d\b", one.source)
    authors = one.source.split(",")[0] + (" et al." if " and " in one.source else "")
    about = HEARD.get(one.name, f", {one.name}")
    return f"{start}{about} ({authors}{' ' + year.group() if year else ''})"


def _draw_followed(axes: Any, listening: Listening) -> None:
    for chain in listening.followed:
        places = _places(listening, chain.numbers)
        if len(places) > 1:
            axes.plot(*zip(*places, strict=True), color="#606060", linewidth=0.7, zorder=2)


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
        figure.draw_without_rendering()
        spots = [np.array(axes.transData.transform(_points(v.resonances)).reshape(-1, 2)) for v in listening.variants]
        half = 3.0 * figure.dpi / 72.0
        middle = np.vstack(spots)
        curves = [line_boxes(axes, one) for one in _curves(axes)]
        place_labels(axes, labels, no_boxes(), np.vstack([np.hstack([middle - half, middle + half]), *curves]), 6.5)


def _curves(axes: Any) -> list[NDArray[np.float64]]:
    """(corner, 2) of the lines drawn, without the corners that have no value or lie outside."""
    (low, high), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    lines = [np.stack([line.get_xdata(), line.get_ydata()], axis=-1).astype(float) for line in axes.lines]
    inside = [(p[:, 0] >= low) & (p[:, 0] <= high) & (p[:, 1] >= bottom) & (p[:, 1] <= top) for p in lines]
    return [points[some] for points, some in zip(lines, inside, strict=True) if some.sum() > 1]


def _points(found: Any) -> NDArray[np.float64]:
    return np.stack([found.frequency, found.decay_time], axis=-1).reshape(-1, 2)


def draw_band_decay(listening: Listening, seat_index: int, width: float = COLUMN_WIDTH) -> Figure:
    """T20 per third octave at one seat, every variant; short dashes are the decay times of the single resonances.

    Only the resonances within 20 dB of the seat's loudest one are drawn; the others are not heard there.
    A filled marker is a straight decay that the band filter does not shape. Hollow: the decay is bent (resonances of
    different decay), or a cross: the filter's own ringing dominates; then the dashes say more.
    """
    with figure_style():
        names = variant_names((v.name for v in listening.variants), 40)
        columns = 1 if width < 5.0 and max(len(name) for name in names) > 18 else 2
        figure = new_figure(width, 2.7 + 0.14 * (2 + int(np.ceil(len(names) / columns))))
        axes = figure.subplots()
        times = []
        for number, variant in enumerate(listening.variants):
            told = heard_at(variant, seat_index)
            frequency, decay = variant.resonances.frequency[told], variant.resonances.decay_time[told]
            times += [_draw_bands(axes, variant.decays[seat_index], number), decay]
            axes.scatter(
                frequency, decay, 22, marker="_", linewidth=1.1,
                color=LINE_COLOURS[number % len(LINE_COLOURS)], zorder=2,
            )  # fmt: skip
        bands = [band.band for v in listening.variants for band in v.decays[seat_index]]
        low, high = (bands[0].lower, max(b.upper for b in bands)) if bands else (LOW, listening.high)
        frequency_axis(axes, low, high)
        _decay_axis(axes, times, "T20 per third octave in s")
        axes.set_xlabel("frequency in Hz")
        axes.set_title(safe_text(f"Seat: {listening.seats[seat_index]}", 48 if width < 5.0 else 90))
        lines = [
            Line2D([], [], label=name + ("" if v.decays[seat_index] else " (not there)"), **line_style(k))
            for k, (name, v) in enumerate(zip(names, listening.variants, strict=True))
        ]
        figure.legend(handles=lines + _band_entries(), loc="outside lower center", ncols=columns)
        return figure


def heard_at(variant: VariantListening, seat: int) -> NDArray[np.bool_]:
    """(resonance,) True where its level at the seat is at most 20 dB below that of the loudest one there."""
    level = np.where(np.isfinite(variant.seat_level[seat]), variant.seat_level[seat], -np.inf)
    heard: NDArray[np.bool_] = np.isfinite(level) & (level >= level.max(initial=-np.inf) - WITHIN)
    return heard


def _draw_bands(axes: Any, decays: tuple[BandDecay, ...], number: int) -> NDArray[np.float64]:
    """Steps of one variant; returns (band,) s."""
    seconds = np.array([one.times.t20.seconds for one in decays])
    if not decays:
        return seconds
    style = line_style(number)
    edges = [one.band.lower for one in decays] + [decays[-1].band.upper]
    axes.stairs(seconds, edges, baseline=None, linewidth=1.1, **style)
    for one, value in zip(decays, seconds, strict=True):
        if np.isfinite(value):
            marker = "x" if one.ringing else "o"
            hollow = not one.ringing and not one.times.straight
            axes.plot(
                one.band.middle, value, marker=marker, markersize=4, color=style["color"], zorder=4 + number,
                markerfacecolor="white" if hollow else style["color"],
            )  # fmt: skip
    return seconds


def _band_entries() -> list[Line2D]:
    def mark(marker: str, face: str, label: str) -> Line2D:
        return Line2D([], [], linestyle="", marker=marker, markersize=4, color="#606060", markerfacecolor=face,
                      label=label)  # fmt: skip

    return [
        mark("o", "#606060", "straight decay"),
        mark("o", "white", "bent decay"),
        mark("x", "#606060", "filter rings as long"),
        mark("_", "#606060", "single resonance heard here"),
    ]
