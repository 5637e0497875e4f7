"""Decay per third octave at a seat, with the resonances that are heard there."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from fdtd.analysis.decay import BandDecay
from fdtd.listening.changes import WITHIN
from fdtd.listening.study import LOW, Listening, VariantListening
from fdtd.show.layout import heading, legend_below, legend_height, mark_key
from fdtd.show.style import (
    BESIDE,
    COLUMN_WIDTH,
    decay_axis,
    figure_style,
    frequency_axis,
    line_style,
    look,
    new_figure,
    safe_text,
    variant_names,
)


def draw_band_decay(listening: Listening, seat_index: int, width: float = COLUMN_WIDTH) -> Figure:
    """T20 per third octave at one seat, every variant; diamonds are the decay times of the single resonances.

    Only the resonances within 20 dB of the seat's loudest one are drawn; the others are not heard there.
    A dot is a straight decay that the band filter does not shape. Without one the decay is bent (resonances of
    different decay); at a cross the filter's own ringing dominates; then the diamonds say more.
    """
    with figure_style():
        names = variant_names((v.name for v in listening.variants), 40)
        labels = [
            name + ("" if v.decays[seat_index] else " (not there)")
            for name, v in zip(names, listening.variants, strict=True)
        ]
        entries = [Line2D([], [], label=name, **line_style(k)) for k, name in enumerate(labels)] + _band_entries()
        labels = [str(entry.get_label()) for entry in entries]
        figure = new_figure(width, 2.7 + legend_height(labels, width))
        axes = figure.subplots()
        times = []
        for number, variant in enumerate(listening.variants):
            text = audible_at(variant, seat_index)
            frequency, decay = variant.resonances.frequency[text], variant.resonances.decay_time[text]
            times += [_draw_bands(axes, variant.decays[seat_index], number), decay]
            face = {"facecolor": line_style(number)["color"], "edgecolor": look().paper, "linewidth": 0.5}
            axes.scatter(frequency, decay, 20, marker="d", zorder=6 + number, **face)
        bands = [band.band for v in listening.variants for band in v.decays[seat_index]]
        low, high = (bands[0].lower, max(b.upper for b in bands)) if bands else (LOW, listening.high)
        frequency_axis(axes, low, high)
        decay_axis(axes, times, "T20 per third octave in s")
        axes.set_xlabel("frequency in Hz")
        seat = safe_text(listening.seats[seat_index], 30 if width < BESIDE else 70)
        heading(figure, f"Decay at “{seat}”", "a step without a mark: bent decay, of several resonances")
        legend_below(figure, entries, labels, width)
        return figure


def audible_at(variant: VariantListening, seat: int) -> NDArray[np.bool_]:
    """(resonance,) True where its level at the seat is at most 20 dB below that of the loudest one there."""
    level = np.where(np.isfinite(variant.seat_level[seat]), variant.seat_level[seat], -np.inf)
    audible: NDArray[np.bool_] = np.isfinite(level) & (level >= level.max(initial=-np.inf) - WITHIN)
    return audible


def _draw_bands(axes: Any, decays: tuple[BandDecay, ...], number: int) -> NDArray[np.float64]:
    """Steps of one variant; returns (band,) s."""
    seconds = np.array([one.times.t20.seconds for one in decays])
    if not decays:
        return seconds
    style = line_style(number)
    edges = [one.band.lower for one in decays] + [decays[-1].band.upper]
    axes.stairs(seconds, edges, baseline=None, linewidth=1.2, **style)
    for one, value in zip(decays, seconds, strict=True):
        if np.isfinite(value) and (one.ringing or one.times.straight):
            mark = {"marker": "x" if one.ringing else "o", "markersize": 3.6, "color": style["color"]}
            axes.plot(one.band.middle, value, zorder=4 + number, **mark)
    return seconds


def _band_entries() -> list[Line2D]:
    marks = (("o", "straight decay"), ("x", "filter rings as long"), ("d", "single resonance"))
    return [mark_key(marker, look().muted, label=label, markersize=4) for marker, label in marks]
