"""What is left after a tone stops, over frequency and time: first variant, another one, and the difference."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray
from scipy.ndimage import convolve1d
from scipy.signal import find_peaks

from fdtd.analysis.impulse import impulse_of_transfer
from fdtd.analysis.response import free_field_reference
from fdtd.analysis.short_time import decay_picture
from fdtd.analysis.tail import Tail, stepped_tones, tail_times
from fdtd.listening.study import LOW, Listening
from fdtd.results.result import RunResult
from fdtd.show.panels import Picture, Scale, draw_panels
from fdtd.show.style import FULL_WIDTH, figure_style, safe_text

TONES_PER_OCTAVE = 48
"""Of the picture; the tables have fewer."""
TIME_STEP = 0.01
FADE = 0.1
"""s within which the tones fade out. An abrupt stop is a click: it makes every tone ring at the room's strong
resonances too, and the picture of a note of 60 Hz would show that of 25 Hz."""
RIPPLE = 5
"""Time steps over which the power is averaged: the envelope of a low tone ripples at twice its frequency."""
LONGEST = 4.0
"""s after the stop that is looked at to choose what is shown."""
CONTOURS = (-20.0, -30.0, -40.0)
BOTTOM = -45.0
"""dB, lower end of the colour scale."""
SPANS = (0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.5, 2.0)
"""s, times that a picture can end at."""
NAMED, APART = 2, TONES_PER_OCTAVE // 4
"""The tones that ring longest, so many, are written into the picture; they are so many steps apart."""
DIED, ENOUGH = -30.0, 0.8
"""The picture ends when this share of the tones has died to this level; the rest runs out of it."""


def draw_tail(
    result: RunResult, listening: Listening, seat_index: int, variant_index: int = 1, width: float = FULL_WIDTH
) -> Figure:
    """Level left at one seat after a tone has stopped: first variant, variant `variant_index`, and the difference.

    Tones over the analysed band in 1/48 octaves, played by the scene's loudspeakers until steady, then faded out within
    0.1 s by a straight line; time counts from the end of the fade. 0 dB is one level for the whole figure, the mean
    over the tones (in dB) of the first variant's steady levels at this seat, so a tone that is weak there is not made
    to look loud. White lines are 20, 30 and 40 dB below it; dashes above are resonances.

    Parameters
    ----------
    variant_index : number of the other variant; with a run of one variant, or 0, only the first one is drawn
    width : inches; below 5 the pictures stand below each other
    """
    with figure_style():
        chosen = [0, variant_index] if 0 < variant_index < len(listening.variants) else [0]
        tones = stepped_tones(LOW, listening.high, TONES_PER_OCTAVE)
        time = tail_times(LONGEST, TIME_STEP)
        levels = [_tail_level(result, listening, k, seat_index, tones, time) for k in chosen]
        mean = _mean_steady(levels[0][1], levels[-1][1])
        after = [level - mean for level, _ in levels]
        shown = time <= _span(after, time) + 1e-9
        pictures = [
            Picture(
                safe_text(listening.variants[k].name, 26),
                level[:, shown],
                _within(listening.variants[k].resonances.frequency, tones),
                _slowest(level, tones, time),
            )
            for k, level in zip(chosen, after, strict=True)
        ]
        first = safe_text(listening.variants[reference_variant(listening, seat_index, chosen)].name, 22)
        loudest = max((float(np.max(one)) for one in after if np.isfinite(one).all()), default=0.0)
        top = float(np.clip(5.0 * np.ceil(loudest / 5.0), 0.0, 25.0))
        scale = Scale(BOTTOM, top, CONTOURS, CONTOURS[-1], f"level in dB re mean steady level of “{first}”")
        heading = f"{safe_text(listening.seats[seat_index], 24)}: after a tone fades out in {FADE:g} s"
        return draw_panels(
            pictures, tones, time[shown], scale, heading, "time after the tone in s", width, len(pictures) > 1
        )


def _tail_level(
    result: RunResult, listening: Listening, variant: int, seat: int, tones: NDArray, time: NDArray
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """((tone, time), (tone,)) levels in the tail and steady, dB re free field at 1 m; NaN at a seat not there."""
    transfer = listening.variants[variant].transfer[seat]
    if not np.isfinite(transfer).all():
        return np.full((len(tones), len(time)), np.nan), np.full(len(tones), np.nan)
    impulse, rate, start = impulse_of_transfer(transfer, result.frequency)
    tail = decay_picture(impulse, rate, tones, time - start, FADE)
    power = convolve1d(tail.envelope**2, np.full(RIPPLE, 1.0 / RIPPLE), axis=-1, mode="nearest")
    tail = Tail(tail.frequency, tail.time, np.sqrt(power), tail.steady)
    # A loudspeaker that is flat in free field: without this the lowest tones would count too little.
    reference = free_field_reference(tones, result.density)
    return tail.level_db(reference), 20.0 * np.log10(np.maximum(tail.steady / reference, 1e-15))


def reference_variant(listening: Listening, seat: int, chosen: list[int]) -> int:
    """Number of the variant whose level is 0 dB: the first of the `chosen` ones that has the seat."""
    return next((k for k in chosen if np.isfinite(listening.variants[k].transfer[seat]).all()), chosen[0])


def _mean_steady(first: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    for steady in (first, other):
        if np.isfinite(steady).all():
            return float(np.mean(steady))
    return 0.0


def _span(levels: list[NDArray[np.float64]], time: NDArray[np.float64]) -> float:
    """s after the tone that the picture needs."""
    ends = [SPANS[0]]
    ends += [float(np.quantile(_dead(level, time), ENOUGH)) for level in levels if np.isfinite(level).all()]
    return next((span for span in SPANS if span >= max(ends)), SPANS[-1])


def _dead(level: NDArray[np.float64], time: NDArray[np.float64]) -> NDArray[np.float64]:
    """(tone,) s after which `level` (tone, time) stays below DIED."""
    loud = level >= DIED
    return np.where(loud.any(axis=1), time[len(time) - 1 - np.argmax(loud[:, ::-1], axis=1)], 0.0)


def _slowest(level: NDArray[np.float64], tones: NDArray[np.float64], time: NDArray[np.float64]) -> str:
    """The tones that take longest to die, one a line."""
    if not np.isfinite(level).all():
        return ""
    dead = _dead(level, time)
    peaks, _ = find_peaks(np.pad(dead, 1), distance=APART, prominence=0.1 * max(float(dead.max()), 1e-9))
    lines = []
    for peak in sorted(peaks - 1, key=lambda k: -dead[k])[:NAMED]:
        when = f"at {dead[peak]:.1f} s" if dead[peak] < time[-1] else f"after {time[-1]:g} s"
        lines.append(f"{tones[peak]:.0f} Hz: \u2212{-DIED:.0f} dB {when}")
    return "\n".join(lines)


def _within(frequency: NDArray[np.float64], tones: NDArray[np.float64]) -> NDArray[np.float64]:
    return frequency[(frequency >= tones[0]) & (frequency <= tones[-1])]
