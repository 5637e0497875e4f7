"""How even the bass is from seat to seat. How even it is at one seat: response.seat_figures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fdtd.analysis.response import SEAT_BAND, levels_at, log_frequencies


@dataclass(frozen=True)
class SeatEvenness:
    """Evenness between seats, over `low` to `high` Hz.

    mean_deviation : dB, mean over log frequency of the standard deviation of the level over the seats (ours)
    mean_spatial_variance : dB², mean over frequency of the variance of the level over the seats
    variance_of_spatial_average : dB², variance over frequency of the mean level over the seats
        (both: Welti and Devantier, 'Low-frequency optimization using multiple subwoofers', J. Audio Eng. Soc. 54, 2006,
        from memory; over log frequency here)
    deviation_of_means : dB, standard deviation over the seats of each seat's mean level over log frequency: how much
        louder one seat is than another as a whole (ours)
    worst_frequency : Hz, where the seats differ most; worst_deviation : dB, their standard deviation there
    seats : how many seats count
    """

    mean_deviation: float
    mean_spatial_variance: float
    variance_of_spatial_average: float
    deviation_of_means: float
    worst_frequency: float
    worst_deviation: float
    seats: int
    low: float
    high: float


def seat_evenness(
    levels: ArrayLike, frequency: ArrayLike, low: float = SEAT_BAND[0], high: float = SEAT_BAND[1]
) -> SeatEvenness:
    """Evenness between seats.

    Standard deviations are over all the seats there are, not a sample of them: the divisor is their number.
    Levels are read at 24 points an octave, as for seat_figures; a curve that covers only part of the band gives the
    figures of that part.

    Parameters
    ----------
    levels : (seat, frequency) dB; seats with nan are left out; frequency : (frequency,) Hz, rising

    Raises
    ------
    ValueError
        If fewer than two seats are left or the curves cover less than a third of an octave of the band.
    """
    data, axis = np.atleast_2d(np.asarray(levels, dtype=float)), np.asarray(frequency, dtype=float)
    data = data[np.isfinite(data).all(axis=1)]
    if len(data) < 2:
        raise ValueError(f"evenness between seats needs levels at two seats or more, found {len(data)}")
    bottom, top = max(low, float(axis[0])), min(high, float(axis[-1]))
    if top < bottom * 2.0 ** (1.0 / 3.0):
        raise ValueError(f"evenness needs levels between {low:g} and {high:g} Hz, found {axis[0]:g} to {axis[-1]:g} Hz")
    points = log_frequencies(bottom, top)
    sampled = levels_at(axis, data, points)
    deviation = sampled.std(axis=0)
    worst = int(np.argmax(deviation))
    return SeatEvenness(
        mean_deviation=float(deviation.mean()),
        mean_spatial_variance=float(np.mean(deviation**2)),
        variance_of_spatial_average=float(sampled.mean(axis=0).var()),
        deviation_of_means=float(sampled.mean(axis=1).std()),
        worst_frequency=float(points[worst]),
        worst_deviation=float(deviation[worst]),
        seats=len(data),
        low=bottom,
        high=top,
    )
