"""What the variants of a partition do, side by side: resonances followed, what each seat hears, and that in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.response import level_db, seat_figures
from fdtd.listening.changes import frequency_of, strongest_followed
from fdtd.listening.study import DROP, LOW, Listening
from fdtd.results.result import RunResult

LEAST_TIME, LEAST_SHARE = 0.1, 0.05
"""s, and share, by which a tail must change to be told (the share is the just noticeable difference of decay times,
ISO 3382-1:2009 table A.1; the other is ours)."""
CELLS = 8.0
"""Cells to a wavelength below which details are not told (common practice)."""
LEAST_EVENER = 0.5
"""dB of standard deviation by which a variant must be more even to be told (ours)."""


@dataclass(frozen=True, eq=False)
class Compared:
    """All variants side by side; NaN where a resonance is not found or a seat not there.

    number : (row,) of the followed resonance; told : (row,) Hz, where it is in the first variant that has it
    frequency, decay : (row, variant) Hz and s; rings : (row, variant) longer than the published threshold
    level : (row, variant, seat) dB, of a steady tone of `told` Hz
    gone : (row, variant, seat) s after which it is 30 dB below the steady tone of the first variant; inf if not within
    the tail, NaN below 20 Hz, where no tail is followed
    longest : s, length of the tails
    deviation, mean : (variant, seat) dB, standard deviation and mean of the level from 20 to 160 Hz
    tail : (variant, seat) s, mean of `gone` over all tones from 20 Hz up
    between : (variant,) dB, standard deviation between the seats, mean over log frequency
    highest : Hz, above which the cells are coarser than eight to a wavelength and no details are told
    """

    number: tuple[int, ...]
    reported: NDArray[np.float64]
    frequency: NDArray[np.float64]
    decay: NDArray[np.float64]
    rings: NDArray[np.bool_]
    level: NDArray[np.float64]
    gone: NDArray[np.float64]
    longest: float
    deviation: NDArray[np.float64]
    mean: NDArray[np.float64]
    tail: NDArray[np.float64]
    between: NDArray[np.float64]
    highest: float = float("inf")


def compare(result: RunResult, listening: Listening) -> Compared:
    """The resonances that are strongest in any variant and the figures of every seat; `listening` is of `result`."""
    rows = strongest_followed(listening)
    variants, seats = listening.variants, len(listening.seats)
    reported = np.array([frequency_of(listening, listening.followed[r]) for r in rows])
    frequency, decay = (np.full((len(rows), len(variants)), np.nan) for _ in range(2))
    rings = np.zeros(frequency.shape, dtype=bool)
    level, gone = (np.full((*frequency.shape, seats), np.nan) for _ in range(2))
    deviation, mean, tail = (np.full((len(variants), seats), np.nan) for _ in range(3))
    longest = float(variants[0].tail.time[-1])
    for k, variant in enumerate(variants):
        times = variant.figures.time_to[:, :, variant.figures.drops.index(DROP)]
        levels = level_db(variant.transfer, result.frequency, result.density)
        for row, number in enumerate(rows):
            at = listening.followed[number].numbers[k]
            if at is not None:
                frequency[row, k] = variant.resonances.frequency[at]
                decay[row, k], rings[row, k] = variant.resonances.decay_time[at], variant.audible[at]
            level[row, k] = levels[:, int(np.argmin(np.abs(result.frequency - reported[row])))]
            if reported[row] >= LOW:
                time = times[:, int(np.argmin(np.abs(np.log(listening.tones / reported[row]))))]
                gone[row, k] = np.where(np.isnan(time) & np.isfinite(level[row, k]), np.inf, time)
        for seat in range(seats):
            if np.isfinite(variant.transfer[seat]).all():
                one = seat_figures(levels[seat], result.frequency)
                deviation[k, seat], mean[k, seat] = one.standard_deviation, one.mean_level
                tail[k, seat] = float(np.mean(np.nan_to_num(times[seat], nan=longest)))
    between = np.array([np.nan if v.evenness is None else v.evenness.mean_deviation for v in variants])
    return Compared(
        tuple(rows),
        reported,
        frequency,
        decay,
        rings,
        level,
        gone,
        longest,
        deviation,
        mean,
        tail,
        between,
        result.speed_of_sound / (CELLS * result.grid),
    )
