"""What is left after a tone stops.

A tone e^{j omega t} plays until t = 0 into a system with impulse response h. What follows is e^{j omega t} A(t) with
the complex envelope

    A(t) = integral from t to t + L of h(u) e^{-j omega u} du,        L the length of the tone (infinite: steady state).

An abrupt stop is a click, which makes the room ring at other frequencies than the tone's. A tone that fades out over F
(raised cosine, from 1 at t = -F to 0 at t = 0: **time counts from the end of the fade**) leaves the mean of A(t + s)
over the fade, with the weight k(s) = pi/(2 F) sin(pi s/F), 0 < s < F. After a single mode of decay rate delta played at
its own frequency that is A(t) times 0.5 (pi/F)² (1 + e^{-delta F})/(delta² + (pi/F)²).

|A(t)| is *the* envelope here: the root of the summed squares of the responses to cosine and sine, so that it does not
depend on the phase at which the tone is stopped. For a long tone |A(0)| is the steady level |H(omega)|, and the picture
of |A| over frequency and time is the cumulative decay spectrum (Berman and Fincham, 'The application of digital
techniques to the measurement of loudspeakers', J. Audio Eng. Soc. 25, 1977).

h is in Pa/(m³/s) per second (transfer function Pa/(m³/s) = integral of h e^{-j omega t} dt); frequencies in Hz, t in s.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

DROPS = (20.0, 30.0, 40.0)
"""dB below the reference whose times are reported."""
MOMENTS = (0.1, 0.2, 0.3)
"""s after the stop whose levels are reported."""
TIME_STEP = 1e-3
FADE = 0.1
"""s within which a tone fades out in all that is told of tails (ours): a click 20 Hz away is 40 dB weaker for it."""
FLOOR_DB = -200.0
SAMPLES_PER_PERIOD = 24
"""Of the highest tone, for the integral; the product with the response swings up to twice as fast."""


@dataclass(frozen=True)
class Tail:
    """Envelopes after the stop.

    frequency : (frequency,) Hz; time : (time,) s, from 0
    envelope : (..., frequency, time) |A|, in the unit of the transfer function
    steady : (..., frequency) |H|, the envelope of an endless tone
    """

    frequency: NDArray[np.float64]
    time: NDArray[np.float64]
    envelope: NDArray[np.float64]
    steady: NDArray[np.float64]

    def level_db(self, reference: ArrayLike | None = None) -> NDArray[np.float64]:
        """The frequency x time picture: (..., frequency, time) dB.

        reference : (..., frequency) magnitudes that are 0 dB, or one number; the tail's own steady state if not given.
            Give the steady state of the first variant to see another variant's tail on the same scale. Where the steady
            state is a dip (sounds cancel), the tail can be louder than it: a common number shows what is loud.
        """
        zero = np.asarray(self.steady if reference is None else reference, dtype=float)[..., None]
        quietest = 10.0 ** (FLOOR_DB / 20.0)
        # A response of exactly 0 stays at the floor whatever its reference.
        ratio = self.envelope / np.maximum(zero, 1e-200)
        return 20.0 * np.log10(np.maximum(ratio, quietest))


@dataclass(frozen=True)
class TailFigures:
    """The tail in numbers, relative to the reference.

    frequency : (frequency,) Hz
    drops : (drop,) dB; time_to : (..., frequency, drop) s after which the envelope stays below; nan if it does not
        within the tail, 0 if it is below from the start
    moments : (moment,) s; left : (..., frequency, moment) dB, nan beyond the tail
    """

    frequency: NDArray[np.float64]
    drops: tuple[float, ...]
    time_to: NDArray[np.float64]
    moments: tuple[float, ...]
    left: NDArray[np.float64]


def stepped_tones(
    low: float = 20.0, high: float = 160.0, per_octave: int = 12, extra: ArrayLike = ()
) -> NDArray[np.float64]:
    """Tones in equal steps of 1/`per_octave` octave from `low` up to `high`, and those of `extra`: Hz, rising."""
    count = int(np.floor(per_octave * np.log2(high / low) + 1e-9)) + 1
    steps: NDArray[np.float64] = low * 2.0 ** (np.arange(count) / per_octave)
    return np.union1d(steps, np.asarray(extra, dtype=float))


def tail_times(longest: float, step: float = TIME_STEP) -> NDArray[np.float64]:
    """(time,) s from 0 to `longest` in equal steps."""
    return step * np.arange(np.floor(longest / step + 1e-9) + 1.0, dtype=np.float64)


def tail_of_impulse(
    impulse: ArrayLike,
    rate: float,
    frequency: ArrayLike,
    time: ArrayLike,
    length: float | None = None,
    start: float = 0.0,
    fade: float = 0.0,
) -> Tail:
    """Tails from sampled impulse responses.

    The integral is taken by backward sums, by the trapezoid rule with its first end correction (Euler and Maclaurin).
    Coarsely sampled responses are first put on a denser grid by cubic splines, so that 6 samples a period of the
    highest tone (and of the highest frequency in the response) are enough. The response must have decayed by its end:
    what it lacks is lacking in the steady state and late in the tail.

    Parameters
    ----------
    impulse : (..., sample) Pa/(m³/s)/s, finite; rate : samples a second
    frequency : (frequency,) Hz of the tones
    time : (time,) s after the stop; beyond the response the envelope is 0
    length : s, how long the tone has played; None for a steady state
    start : s, time of the first sample; below 0 for a band-limited response that rings before its cause
    fade : s, the tone fades out over so long and has ended at t = 0; 0 for an abrupt stop

    Raises
    ------
    ValueError
        If there are fewer than 6 samples a period, `length` is not above `fade`, or `fade` is below 0.
    """
    tones, when = np.atleast_1d(np.asarray(frequency, dtype=float)), np.asarray(time, dtype=float)
    if rate < 6.0 * tones.max():
        raise ValueError(f"a tail at {tones.max():g} Hz needs {6.0 * tones.max():g} samples a second, found {rate:g}")
    _check_length(length, fade)
    data, rate = _denser(np.asarray(impulse, dtype=float), rate, SAMPLES_PER_PERIOD * tones.max())
    sample = start + np.arange(data.shape[-1]) / rate
    envelope = np.empty((*data.shape[:-1], len(tones), len(when)))
    steady = np.empty((*data.shape[:-1], len(tones)))
    for k, tone in enumerate(tones):
        turned = data * np.exp(-2j * np.pi * tone * sample)
        rest = _integral_to_end(turned, rate)
        steady[..., k] = np.abs(rest[..., 0])
        after = _faded(turned, rest, rate, sample, when, fade) if fade else _read(rest, sample, when)
        if length is not None:
            after = after - _read(rest, sample, when + length)
        envelope[..., k, :] = np.abs(after)
    return Tail(tones, when, envelope, steady)


def _denser(data: NDArray[np.float64], rate: float, wanted: float) -> tuple[NDArray[np.float64], float]:
    """`data` (..., sample) with at least `wanted` samples a second, and its rate."""
    factor = int(np.ceil(wanted / rate - 1e-9))
    if factor <= 1:
        return data, rate
    old = np.arange(data.shape[-1])
    new = np.arange((data.shape[-1] - 1) * factor + 1) / factor
    return CubicSpline(old, data, axis=-1)(new), rate * factor


def _integral_to_end(values: NDArray[np.complex128], rate: float) -> NDArray[np.complex128]:
    """Integral of `values` (..., sample) from each sample to the last: (..., sample)."""
    pieces = 0.5 * (values[..., 1:] + values[..., :-1]) / rate
    total = np.zeros_like(values)
    total[..., :-1] = np.cumsum(pieces[..., ::-1], axis=-1)[..., ::-1]
    slope = np.gradient(values, 1.0 / rate, axis=-1, edge_order=2)
    # Trapezoid minus integral is (spacing²/12) times the difference of the slopes at the two ends.
    return total - (slope[..., -1:] - slope) / (12.0 * rate**2)


def _faded(
    turned: NDArray[np.complex128],
    rest: NDArray[np.complex128],
    rate: float,
    sample: NDArray[np.float64],
    when: NDArray[np.float64],
    fade: float,
) -> NDArray[np.complex128]:
    """Integral of `turned` (..., sample) from each time of `when`, faded in by a raised cosine: (..., when).

    0.5 - 0.5 cos(pi (u - t)/F) is a sum of three turning terms, so three integrals to the end give it without error.
    """
    total = 0.5 * (_read(rest, sample, when) + _read(rest, sample, when + fade))
    for sign in (1.0, -1.0):
        turn = sign * 1j * np.pi / fade
        part = _integral_to_end(turned * np.exp(turn * (sample - sample[0])), rate)
        ends = _read(part, sample, when) - _read(part, sample, when + fade)
        total = total - 0.25 * np.exp(-turn * (when - sample[0])) * ends
    return total


def _read(
    rest: NDArray[np.complex128], sample: NDArray[np.float64], when: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """`rest` (..., sample) at the times `when`, linear between samples, 0 after the last: (..., when)."""
    spacing = sample[1] - sample[0]
    place = np.clip((when - sample[0]) / spacing, 0.0, len(sample) - 1.0)
    left = np.minimum(place.astype(int), len(sample) - 2)
    share = place - left
    value = rest[..., left] * (1.0 - share) + rest[..., left + 1] * share
    return np.where(when > sample[-1] + 1e-9 * spacing, 0.0, value)


def _check_length(length: float | None, fade: float) -> None:
    if not fade >= 0.0:
        raise ValueError(f"a fade must be 0 s or longer, found {fade:g}")
    if length is not None and not length > fade:
        raise ValueError(f"the length of a tone must be above {fade:g} s, found {length:g}")


def tail_figures(
    tail: Tail,
    reference: ArrayLike | None = None,
    drops: tuple[float, ...] = DROPS,
    moments: tuple[float, ...] = MOMENTS,
) -> TailFigures:
    """Times to fall by `drops` (dB) and levels left at `moments` (s), relative to `reference` (see Tail.level_db).

    The time is that after which the envelope stays below (a beat may dip below earlier), found linear in dB between
    the tail's times.
    """
    level, time = tail.level_db(reference), tail.time
    at = np.searchsorted(time, moments)
    inside = np.asarray(moments) <= time[-1] + 1e-12
    at = np.minimum(np.maximum(at, 1), len(time) - 1)
    share = (np.asarray(moments) - time[at - 1]) / (time[at] - time[at - 1])
    left = np.where(inside, level[..., at - 1] * (1.0 - share) + level[..., at] * share, np.nan)
    times = np.stack([_stays_below(level, time, -drop) for drop in drops], axis=-1)
    return TailFigures(tail.frequency, drops, times, moments, left)


def _stays_below(level: NDArray[np.float64], time: NDArray[np.float64], limit: float) -> NDArray[np.float64]:
    """(..., time) dB -> (...) s after which `level` is below `limit`."""
    above = level >= limit
    last = len(time) - 1 - np.argmax(above[..., ::-1], axis=-1)  # last time at or above, where there is one
    following = np.minimum(last + 1, len(time) - 1)
    high, low = (np.take_along_axis(level, k[..., None], axis=-1)[..., 0] for k in (last, following))
    share = (high - limit) / np.maximum(high - low, 1e-12)
    found = time[last] + share * (time[following] - time[last])
    found = np.where(last == len(time) - 1, np.nan, found)
    found = np.where(above.any(axis=-1), found, 0.0)
    return np.where(np.isnan(level).any(axis=-1), np.nan, found)
