"""What a design is judged by: ringing, evenness at each seat, evenness between seats, loudness kept.

All four are taken over log frequency (20-160 Hz), lower is better. Levels at a seat and their standard deviation are
common practice for bass; how they are joined into one score is ours. Ringing needs no decay curve: by Parseval's
theorem

    sum of t² h(t)² / sum of h(t)² = sum of |dH/d omega|² / sum of |H|²,

so the slope of the response says how late its energy comes. One resonance with decay exp(-delta t) has
|dH/d omega| / |H| = 1/|delta + j(omega - omega_0)|: at its peak the time constant 1/delta, hence the decay time
T = 3 ln(10)/delta for 60 dB (Kuttruff, Room Acoustics, ch. 3). Taken sample by sample the ratio is also large where
the response is nearly zero and nothing is heard; both sums therefore run over a third of an octave (ours). A resonance
narrower than that then counts between T and T/sqrt(2), its root mean square time by energy.
"""

from __future__ import annotations

from dataclasses import dataclass

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
    step_weight : (S,), sum 1; width : (S,) rad/s; rate : (S,) 1/s², square of the decay rate 6.91/T at the limit
    low, high : (S,) the steps low <= k < high share their energies with step k
    """

    frequency: Reals
    weight: Reals
    seat: Reals
    step_weight: Reals
    width: Reals
    rate: Reals
    low: NDArray[np.int64]
    high: NDArray[np.int64]


def make_axis(frequency: Reals, seat_weight: ArrayLike, width: float = WIDTH) -> Axis:
    """frequency : (F,) Hz, rising, at least 2; seat_weight : (seat,), not all 0; width : octaves, see `WIDTH`."""
    log = np.log(frequency)
    steps = np.diff(log)
    weight = np.zeros(len(frequency))
    weight[:-1] += 0.5 * steps
    weight[1:] += 0.5 * steps
    middle = 0.5 * (log[1:] + log[:-1])
    half = 0.5 * width * np.log(2.0) + 1e-9
    low, high = np.searchsorted(middle, middle - half), np.searchsorted(middle, middle + half, side="right")
    rate = (3.0 * np.log(10.0) / ringing_limit(np.exp(middle))) ** 2
    seats = np.asarray(seat_weight, dtype=float)
    return Axis(
        frequency,
        weight / weight.sum(),
        seats / seats.sum(),
        steps / steps.sum(),
        2.0 * np.pi * np.diff(frequency),
        rate,
        low,
        high,
    )


@dataclass(frozen=True)
class Objectives:
    """Figures of one design; of the untreated room `loss` and `benefit` are 0.

    ringing : octaves, mean over log frequency of max(0, log2(T/T_limit)), seats' energies summed
    uneven : dB, mean over seats of the standard deviation of the level over log frequency
    spread : dB, mean over log frequency of the standard deviation of the level between seats
    level : dB re the scale of the responses, mean over seats and log frequency; loss : dB, how much less than untreated
    benefit : dB, see `benefit`
    ringing_at, uneven_at, level_at : (seat,), the same at each seat by itself
    ringing_share_at : (seat,), share of the log-frequency axis where T is above its limit there
    """

    ringing: float
    uneven: float
    spread: float
    level: float
    loss: float
    benefit: float
    ringing_at: Reals
    uneven_at: Reals
    level_at: Reals
    ringing_share_at: Reals


def benefit(ringing: ArrayLike, uneven: ArrayLike, spread: ArrayLike, loss: ArrayLike) -> Reals:
    """dB, one score from what was gained (untreated minus design, same shapes) and the level lost; ours.

    Evenness counts as it is, ringing 6.02 dB an octave (`OCTAVE`), lost loudness a quarter (`LOUDNESS_SHARE`).
    """
    lost = np.maximum(np.asarray(loss, dtype=float), 0.0)
    return np.asarray(uneven) + np.asarray(spread) + OCTAVE * np.asarray(ringing) - LOUDNESS_SHARE * lost


def ringing_over(response: NDArray[np.complex128], axis: Axis, seat: Reals) -> Reals:
    """(S,) octaves that T is above its limit, 0 below; response : (F, seat); seat : (seat,) weights of the energies."""
    power = (np.abs(response) ** 2) @ seat
    change = (np.abs(np.diff(response, axis=0)) ** 2) @ seat
    energy = np.concatenate([[0.0], np.cumsum(0.5 * (power[1:] + power[:-1]) * axis.width)])
    late = np.concatenate([[0.0], np.cumsum(change / axis.width)])
    squared = (late[axis.high] - late[axis.low]) / np.maximum(energy[axis.high] - energy[axis.low], SMALLEST)
    return np.asarray(0.5 * np.log2(np.maximum(squared * axis.rate, 1.0)))


def objectives(response: NDArray[np.complex128], axis: Axis, untreated: Objectives | None = None) -> Objectives:
    """Figures of a design with `response` (F, seat) on `axis`, against those of the `untreated` room."""
    level = 10.0 * np.log10(np.maximum(np.abs(response) ** 2, SMALLEST))
    level_at = axis.weight @ level
    uneven_at = np.sqrt(axis.weight @ (level - level_at) ** 2)
    between = np.sqrt(((level - (level @ axis.seat)[:, None]) ** 2) @ axis.seat)
    rings = float(axis.step_weight @ ringing_over(response, axis, axis.seat))
    over = np.stack([ringing_over(response, axis, alone) for alone in np.eye(response.shape[1])], axis=1)
    uneven, spread, mean = float(uneven_at @ axis.seat), float(axis.weight @ between), float(level_at @ axis.seat)
    loss, gained = 0.0, 0.0
    if untreated is not None:
        loss = untreated.level - mean
        gained = float(benefit(untreated.ringing - rings, untreated.uneven - uneven, untreated.spread - spread, loss))
    at_seats = (axis.step_weight @ over, uneven_at, level_at, axis.step_weight @ (over > 0.0))
    return Objectives(rings, uneven, spread, mean, loss, gained, *at_seats)
