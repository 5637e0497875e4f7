"""Seat responses: level of every variant over frequency, and below it what each variant changes."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from fdtd.analysis.response import combined_transfer, level_db
from fdtd.analysis.smoothing import smoothed_levels
from fdtd.results.result import RunResult, VariantResult
from fdtd.show.style import (
    COLUMN_WIDTH,
    figure_style,
    frequency_axis,
    line_style,
    new_figure,
    safe_text,
)

DEEPEST = 50.0
"""Notches deeper than this below the highest level, dB, run out of the picture."""
LARGEST_CHANGE = 20.0
"""So do larger changes, dB."""


def variant_levels(result: RunResult, variant: VariantResult) -> NDArray[np.float64]:
    """(seat, frequency) level of all sources together, dB.

    0 dB is the free field at 1 m of a source of level 0 without roll-off and crossovers.
    """
    together = combined_transfer(variant.transfer, variant.playback)
    return level_db(together, result.frequency, result.density)


def draw_responses(
    result: RunResult, seat_index: int, width: float = COLUMN_WIDTH, smoothing: float | None = None
) -> Figure:
    """Level at one seat of every variant, 20 Hz to the run's highest frequency, and differences to the first variant.

    Parameters
    ----------
    result : the run; seat_index : number of the seat in `result.seats`; width : inches
    smoothing : n to smooth every curve over 1/n octave (the title says so), None for the curves as they are
    """
    with figure_style():
        several = len(result.variants) > 1
        longest = max(len(variant.name) for variant in result.variants)
        columns = 1 if width < 5.0 and (longest > 18 or len(result.variants) < 4) else 2
        rows = int(np.ceil(len(result.variants) / columns))
        figure = new_figure(width, (3.6 if several else 2.5) + 0.14 * rows)
        grid = figure.subplots(2 if several else 1, 1, sharex=True, squeeze=False, height_ratios=[3, 2][: 1 + several])
        upper, lower = grid[0, 0], grid[-1, 0]
        levels = [variant_levels(result, variant)[seat_index] for variant in result.variants]
        if smoothing is not None:
            levels = [smoothed_levels(level, result.frequency, smoothing) for level in levels]
        low, high = min(20.0, result.max_frequency / 2.0), min(result.max_frequency, float(result.frequency[-1]))
        shown = (result.frequency >= low) & (result.frequency <= high)
        for number, (variant, level) in enumerate(zip(result.variants, levels, strict=True)):
            upper.plot(result.frequency, level, label=safe_text(variant.name, 40), **line_style(number))
            if number > 0:
                lower.plot(result.frequency, level - levels[0], **line_style(number))
        frequency_axis(upper, low, high)
        _limit_levels(upper, np.array(levels)[:, shown])
        upper.set_title(_title(result.seats[seat_index], width, smoothing))
        upper.set_ylabel("level in dB re free\nfield at 1 m")
        if several:
            frequency_axis(lower, low, high)
            lower.axhline(0.0, color="#808080", linewidth=0.6)
            below, above = lower.get_ylim()
            # The depth of a notch is a matter of luck; it must not flatten the rest.
            lower.set_ylim(max(below, -LARGEST_CHANGE), min(above, LARGEST_CHANGE))
            first = safe_text(result.variants[0].name, 22)
            lower.set_ylabel(f"change in dB from\n{first}")
        lower.set_xlabel("frequency in Hz")
        figure.align_ylabels()
        figure.legend(*upper.get_legend_handles_labels(), loc="outside lower center", ncols=columns)
        return figure


def _title(seat: str, width: float, smoothing: float | None) -> str:
    room = 48 if width < 5.0 else 90
    if smoothing is None:
        return safe_text(f"Seat: {seat}", room)
    return safe_text(f"Seat: {seat}", room - 26) + f", smoothed over 1/{smoothing:g} octave"


def _limit_levels(axes: object, levels: NDArray[np.float64]) -> None:
    finite = levels[np.isfinite(levels)]
    if finite.size:
        top = float(finite.max()) + 3.0
        axes.set_ylim(max(float(finite.min()) - 3.0, top - DEEPEST), top)  # type: ignore[attr-defined]
