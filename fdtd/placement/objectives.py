"""What a design is judged by: ringing, evenness at each seat, evenness between seats, loudness kept, harm at a seat.

All are taken over log frequency (20-160 Hz), lower is better. Levels at a seat and their standard deviation are
common practice for bass; how they are joined into one score is ours. So that no null and no single frequency decides,
a level is that of the mean power over a sixth of an octave (common practice), and frequencies count less and less over
the last third of an octave before either end of the band (ours).

Ringing needs no decay curve: by Parseval's theorem

    sum of t² h(t)² / sum of h(t)² = sum of |dH/d omega|² / sum of |H|²,

so the slope of the response says how late its energy comes. One resonance with decay exp(-delta t) has
|dH/d omega| / |H| = 1/|delta + j(omega - omega_0)|: at its peak the time constant 1/delta, hence the decay time
T = 3 ln(10)/delta for 60 dB (Kuttruff, Room Acoustics, ch. 3). Taken sample by sample the ratio is also large where
the response is nearly zero and nothing is heard; both sums therefore run over a third of an octave (ours). A resonance
narrower than that then counts between T and T/sqrt(2), its root mean square time by energy.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.analysis.audibility import ANY_STIMULUS

Reals = NDArray[np.float64]

BAND = (20.0, 160.0)
"""Hz; what designs are judged over."""
WIDTH = 1.0 / 3.0
"""Octaves over which the energies behind `ringing` are summed; 0 for sample by sample. Ours: of 24 draws of 30 spots in
a box of modes, the ranking by it and by third-octave decay curves had a mean rank correlation of 0.7 (at worst 0.0; a
sixth of an octave 0.6, sample by sample 0.15)."""
SMOOTHING = 1.0 / 6.0
"""Octaves over which the power behind a level is averaged; 0 for two neighbouring samples."""
EDGE = 1.0 / 3.0
"""Octaves before either end of the band over which the weight of a frequency falls to 0, as a raised cosine; not in
bands narrower than four of these."""
SMALLEST = 1e-30
"""Power below which a level is not followed down."""
OCTAVE = 20.0 * np.log10(2.0)
"""dB that an octave of ringing counts in the benefit (ours: half the decay time is worth half the pressure)."""
LOUDNESS_SHARE = 0.25
"""dB of benefit that each dB of lost mean level costs (ours: level can be turned up again, within reason)."""


def ringing_limit(frequency: ArrayLike) -> Reals:
    """Decay time for 60 dB in s that is just not heard as ringing, same shape as `frequency` (Hz).

    `analysis.audibility.ANY_STIMULUS` (Stephenson, PhD thesis, Salford, 2012), held at its last value above its range;
    below its lowest point T = 3 ln(10) Q/(pi f) with a constant Q that meets it there (ours; after the Q of 16 of Avis,
    Fazenda and Davies, J. Audio Eng. Soc. 55, 2007, that the lowest three published points share).
    """
    axis = np.asarray(frequency, dtype=float)
    low, high = ANY_STIMULUS.frequency[0], ANY_STIMULUS.frequency[-1]
    return ANY_STIMULUS.at(np.clip(axis, low, high)) * np.maximum(1.0, low / axis)


@dataclass(frozen=True)
class Axis:
    """Weights over log frequency and seats; S = F - 1 steps between neighbouring samples.

    frequency : (F,) Hz; weight : (F,), sum 1 (trapezoids over log frequency); seat : (seat,), sum 1
    level_low, level_high : (F,) the power of the steps low <= k < high makes the level; level_rate : (F,) s/rad, one
    over their width
    step_weight : (S,), sum 1; width : (S,) rad/s; rate : (S,) 1/s², square of the decay rate 6.91/T at the limit
    low, high : (S,) the steps low <= k < high share their energies with step k
    """

    frequency: Reals
    weight: Reals
    level_low: NDArray[np.int64]
    level_high: NDArray[np.int64]
    level_rate: Reals
    seat: Reals
    step_weight: Reals
    width: Reals
    rate: Reals
    low: NDArray[np.int64]
    high: NDArray[np.int64]


def make_axis(
    frequency: Reals,
    seat_weight: ArrayLike,
    width: float = WIDTH,
    *,
    smoothing: float = SMOOTHING,
    edge: float = EDGE,
) -> Axis:
    """frequency : (F,) Hz, rising, at least 2; seat_weight : (seat,), not all 0; width, smoothing, edge : octaves, see
    `WIDTH`, `SMOOTHING`, `EDGE`."""
    log = np.log(frequency)
    steps = np.diff(log)
    middle = 0.5 * (log[1:] + log[:-1])
    weight = np.zeros(len(frequency))
    weight[:-1] += 0.5 * steps
    weight[1:] += 0.5 * steps
    weight *= _taper(log, log[[0, -1]], edge)
    step_weight = steps * _taper(middle, log[[0, -1]], edge)
    reach = 2.0 * np.pi * frequency
    level_low, level_high = _windows(log, log, smoothing)
    level_low = np.minimum(level_low, len(steps) - 1)
    level_high = np.maximum(level_high - 1, level_low + 1)
    low, high = _windows(middle, middle, width)
    seats = np.asarray(seat_weight, dtype=float)
    return Axis(
        frequency,
        weight / weight.sum(),
        level_low,
        level_high,
        1.0 / (reach[level_high] - reach[level_low]),
        seats / seats.sum(),
        step_weight / step_weight.sum(),
        np.diff(reach),
        (3.0 * np.log(10.0) / ringing_limit(np.exp(middle))) ** 2,
        low,
        high,
    )


def _windows(at: Reals, points: Reals, octaves: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The points low <= k < high within half of `octaves` of each of `at`, both logarithms."""
    half = 0.5 * octaves * np.log(2.0) + 1e-9
    return np.searchsorted(points, at - half), np.searchsorted(points, at + half, side="right")


def _taper(log: Reals, ends: Reals, edge: float) -> Reals:
    """Weights from 0 at the `ends` to 1 at `edge` octaves inside; all 1 where the band is too narrow for that
    or has no point inside."""
    reach = edge * np.log(2.0)
    if ends[1] - ends[0] < 4.0 * reach or reach == 0.0 or np.isin(log, ends).all():
        return np.ones_like(log)
    inside = np.clip(np.minimum(log - ends[0], ends[1] - log) / reach, 0.0, 1.0)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * inside))


@dataclass(frozen=True)
class Objectives:
    """Figures of one design; of the untreated room `loss`, `harm` and `benefit` are 0.

    ringing : octaves, mean over seats of `ringing_at`
    uneven : dB, mean over seats of `uneven_at`
    spread : dB, mean over log frequency of the standard deviation of the level between seats
    level : dB re the scale of the responses, mean over seats and log frequency; loss : dB, how much less than untreated
    harm : dB, by how much the seat that loses most gets worse (unevenness and ringing, weighed as in `benefit`)
    benefit : dB, see `benefit`
    ringing_at : (seat,) octaves, mean over log frequency of max(0, log2(T/T_limit)) there
    uneven_at : (seat,) dB, standard deviation of the level over log frequency there; level_at : (seat,) dB, its mean
    ringing_share_at : (seat,), share of the log-frequency axis where T is above its limit there
    """

    ringing: float
    uneven: float
    spread: float
    level: float
    loss: float
    harm: float
    benefit: float
    ringing_at: Reals
    uneven_at: Reals
    level_at: Reals
    ringing_share_at: Reals


def benefit(ringing: ArrayLike, uneven: ArrayLike, spread: ArrayLike, loss: ArrayLike, harm: ArrayLike) -> Reals:
    """dB, one score from what was gained (untreated minus design, same shapes), the level lost and the harm done; ours.

    Evenness counts as it is, ringing 6.02 dB an octave (`OCTAVE`), lost loudness a quarter (`LOUDNESS_SHARE`). What the
    seat that loses most loses in evenness and ringing is taken off in full, whatever its weight, so that a gain at one
    seat pays less for a loss at another.
    """
    lost = np.maximum(np.asarray(loss, dtype=float), 0.0)
    gained = np.asarray(uneven) + np.asarray(spread) + OCTAVE * np.asarray(ringing)
    return np.asarray(gained - LOUDNESS_SHARE * lost - np.asarray(harm))


def harm(ringing_at: Reals, uneven_at: Reals, untreated: Objectives, seat: Reals) -> Reals:
    """(design,) dB, see `Objectives`. ringing_at, uneven_at : (design, seat); seat : (seat,) weights; one with weight 0
    does not count."""
    gained = (untreated.uneven_at - uneven_at) + OCTAVE * (untreated.ringing_at - ringing_at)
    return np.asarray(np.maximum(-gained[:, seat > 0.0].min(axis=1), 0.0))


def smoothed_power(response: NDArray[np.complex128], axis: Axis) -> Reals:
    """(F, seat) mean power about each frequency of `axis`; response : (F, seat)."""
    energy = _energy(response, axis)
    return np.asarray((energy[axis.level_high] - energy[axis.level_low]) * axis.level_rate[:, None])


def _energy(response: NDArray[np.complex128], axis: Axis) -> Reals:
    """(F, seat) integral of the power over frequency, from the lowest one."""
    power = np.abs(response) ** 2
    return _running(0.5 * (power[1:] + power[:-1]) * axis.width[:, None])


def _running(values: Reals) -> Reals:
    """(n + 1, seat) sums of the first 0, 1 ... n rows."""
    return np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0)])


def ringing_over(response: NDArray[np.complex128], axis: Axis) -> Reals:
    """(S, seat) octaves that T is above its limit, 0 below; response : (F, seat)."""
    late = _running(np.abs(np.diff(response, axis=0)) ** 2 / axis.width[:, None])
    energy = _energy(response, axis)
    squared = (late[axis.high] - late[axis.low]) / np.maximum(energy[axis.high] - energy[axis.low], SMALLEST)
    return np.asarray(0.5 * np.log2(np.maximum(squared * axis.rate[:, None], 1.0)))


def objectives(response: NDArray[np.complex128], axis: Axis, untreated: Objectives | None = None) -> Objectives:
    """Figures of a design with `response` (F, seat) on `axis`, against those of the `untreated` room."""
    level = 10.0 * np.log10(np.maximum(smoothed_power(response, axis), SMALLEST))
    level_at = axis.weight @ level
    uneven_at = np.sqrt(axis.weight @ (level - level_at) ** 2)
    between = np.sqrt(((level - (level @ axis.seat)[:, None]) ** 2) @ axis.seat)
    over = ringing_over(response, axis)
    ringing_at = axis.step_weight @ over
    rings, uneven, mean = (float(values @ axis.seat) for values in (ringing_at, uneven_at, level_at))
    at_seats = (ringing_at, uneven_at, level_at, axis.step_weight @ (over > 0.0))
    found = Objectives(rings, uneven, float(axis.weight @ between), mean, 0.0, 0.0, 0.0, *at_seats)
    return found if untreated is None else compared(found, untreated, axis.seat)


def compared(design: Objectives, untreated: Objectives, seat: Reals) -> Objectives:
    """The figures of `design` against those of `untreated`; seat : (seat,) weights."""
    loss = untreated.level - design.level
    worst = float(harm(design.ringing_at[None], design.uneven_at[None], untreated, seat)[0])
    gain = (untreated.ringing - design.ringing, untreated.uneven - design.uneven, untreated.spread - design.spread)
    return replace(design, loss=loss, harm=worst, benefit=float(benefit(*gain, loss, worst)))


def level_matched(untreated: Objectives, level: float) -> Objectives:
    """`untreated` as if it had another mean level, dB: what a change loses is counted from there."""
    return replace(untreated, level=level)
