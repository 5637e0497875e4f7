"""Seat responses: level of every variant over frequency, and below it what each variant changes."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from fdtd.analysis.smoothing import smoothed_levels
from fdtd.listening.study import variant_levels
from fdtd.results.result import RunResult
from fdtd.show.layout import draw_curves, heading, legend_below, legend_height
from fdtd.show.style import (
    BESIDE,
    COLUMN_WIDTH,
    figure_style,
    frequency_axis,
    look,
    new_figure,
    safe_text,
    variant_names,
)

DEEPEST = 60.0
"""Notches deeper than this below the highest level, dB, run out of the picture."""
LEAST_CHANGE, SAFE_CHANGE, LARGEST_CHANGE = 2.0, 6.0, 20.0
"""dB on either side of 0: what the lower scale has at least, what is always inside, what it has at most."""
ENOUGH = 0.985
"""Beyond `SAFE_CHANGE` the lower scale covers this share of all changes: the depth of a single notch must not flatten
the rest."""


def draw_responses(
    result: RunResult, seat_index: int, width: float = COLUMN_WIDTH, smoothing: float | None = None
) -> Figure:
    """Level at one seat of every variant, 20 Hz to the run's highest frequency, and differences to the first variant.

    The scales are those of all seats, so that the figures of a run can be compared. Where a curve leaves the picture a
    small triangle stands at the edge.

    Parameters
    ----------
    result : the run; seat_index : number of the seat in `result.seats`; width : inches
    smoothing : n to smooth every curve over 1/n octave (the heading says so), None for the curves as they are
    """
    with figure_style():
        several = len(result.variants) > 1
        names = variant_names((variant.name for variant in result.variants), 40)
        figure = new_figure(width, (3.5 if several else 2.4) + legend_height(names, width))
        grid = figure.subplots(2 if several else 1, 1, sharex=True, squeeze=False, height_ratios=[3, 2][: 1 + several])
        upper, lower = grid[0, 0], grid[-1, 0]
        levels = np.array([variant_levels(result, variant) for variant in result.variants])
        if smoothing is not None:
            smooth = [[smoothed_levels(seat, result.frequency, smoothing) for seat in variant] for variant in levels]
            levels = np.array(smooth)
        low, high = min(20.0, result.max_frequency / 2.0), min(result.max_frequency, float(result.frequency[-1]))
        shown = (result.frequency >= low) & (result.frequency <= high)
        frequency_axis(upper, low, high)
        upper.set_ylim(*_level_limits(levels[..., shown]))
        draw_curves(upper, result.frequency, levels[:, seat_index], names)
        upper.set_ylabel("level in dB re free\nfield at 1 m")
        if several:
            frequency_axis(lower, low, high)
            lower.set_ylim(*_change_limits((levels[1:] - levels[0])[..., shown]))
            lower.yaxis.set_major_locator(MaxNLocator(5, steps=[1, 2, 5, 10], integer=True))
            lower.axhline(0.0, color=look().faint, linewidth=0.8)
            draw_curves(lower, result.frequency, levels[:, seat_index] - levels[0, seat_index], names, start=1)
            lower.set_ylabel(f"change in dB from\n“{safe_text(result.variants[0].name, 20)}”")
        lower.set_xlabel("frequency in Hz")
        figure.align_ylabels()
        heading(figure, *_title(result.seats[seat_index], width, smoothing))
        handles, labels = upper.get_legend_handles_labels()
        legend_below(figure, handles, labels, width)
        return figure


def _title(seat: str, width: float, smoothing: float | None) -> list[str]:
    title = f"Level at “{safe_text(seat, 30 if width < BESIDE else 70)}”"
    return [title] if smoothing is None else [title, f"smoothed over 1/{smoothing:g} octave"]


def _level_limits(levels: NDArray[np.float64]) -> tuple[float, float]:
    finite = levels[np.isfinite(levels)]
    if not finite.size:
        return 0.0, 1.0
    top = 5.0 * np.ceil((float(finite.max()) + 1.0) / 5.0)
    return max(5.0 * np.floor((float(finite.min()) - 1.0) / 5.0), top - DEEPEST), top


def _change_limits(changes: NDArray[np.float64]) -> tuple[float, float]:
    finite = changes[np.isfinite(changes)]
    if not finite.size:
        return -LEAST_CHANGE, LEAST_CHANGE
    return -_reach(-finite), _reach(finite)


def _reach(changes: NDArray[np.float64]) -> float:
    """dB that the lower scale reaches upwards."""
    most = max(SAFE_CHANGE, 1.2 * float(np.quantile(changes, ENOUGH)))
    return float(np.clip(np.ceil(min(most, float(changes.max()) + 0.2)), LEAST_CHANGE, LARGEST_CHANGE))
