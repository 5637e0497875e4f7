"""Where a decaying response meets its noise floor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

MARGIN = 7.5
"""dB above the floor at which the late decay is still taken as undisturbed; 5 to 10 dB in the published method."""
LATE_RANGE = 20.0
"""dB of late decay that is fitted; 10 to 20 dB in the published method."""
INTERVALS_PER_10_DB = 5
"""Averaging intervals per 10 dB of late decay; 3 to 10 in the published method."""
ROUNDS = 8
SILENT = 1e-30
"""Powers below this fraction of the greatest count as this fraction."""


@dataclass(frozen=True)
class NoiseFloor:
    """End of the part of a response that decays.

    reached : True if a floor lies after the decay; False if the response ends (or is cut) while it still decays
    power : mean square of the floor in the unit of the response squared, 0 if none is reached
    crossing : s after the first sample, where the late decay meets the floor, or the end of the response
    late_power : mean square of the late decay, extrapolated to `crossing`
    late_slope : dB/s, negative; nan if no decay was found
    """

    reached: bool
    power: float
    crossing: float
    late_power: float
    late_slope: float


def noise_floor(response: ArrayLike, rate: float, shortest: float = 0.03) -> NoiseFloor:
    """Noise floor and late decay of a response (time,) by iteration.

    Squares are averaged over intervals; the floor is the mean after the decay, the late slope a line through the
    averages just above the floor, and both are refined in turn. Source: Lundeby, Vigran, Bietz and Vorlaender,
    'Uncertainties of measurements in room acoustics', Acustica 81, 1995. Ours is the rule for responses that end
    before a floor: if less than a tenth of the response lies after the crossing, no floor has been seen, and the
    decay runs to the end.

    Parameters
    ----------
    response : (time,) with the decay's start at its first sample or soon after
    rate : samples a second
    shortest : s, least averaging interval; at least a period of the lowest frequency in the response

    Returns
    -------
    NoiseFloor; for a response without a decay, `late_slope` is nan and the floor is the mean of the last tenth.
    """
    square = np.asarray(response, dtype=float) ** 2
    length = len(square) / rate
    square = np.maximum(square, SILENT * max(float(square.max(initial=0.0)), 1e-270))
    start = int(np.argmax(square)) / rate
    interval = min(shortest, length / 20.0)
    floor = float(np.mean(square[int(0.9 * len(square)) :]))
    crossing, slope, line = length, float("nan"), None
    for _ in range(ROUNDS):
        line = _late_line(square, rate, interval, start, crossing, floor)
        if line is None:
            return NoiseFloor(False, 0.0, length, floor, float("nan"))
        slope, offset = line
        before, crossing = crossing, min((10.0 * np.log10(floor) - offset) / slope, length)
        interval = min(max(shortest, 10.0 / -slope / INTERVALS_PER_10_DB), length / 20.0)
        after = min(crossing + MARGIN / -slope, 0.9 * length)
        floor = float(np.mean(square[int(after * rate) :]))
        if abs(crossing - before) < 0.25 / rate + 0.001 * interval:
            break
    if crossing > 0.9 * length:
        # Decaying to the end: the power there is read off the line, which the floor estimate no longer disturbs.
        return NoiseFloor(False, 0.0, length, 10.0 ** ((slope * length + offset) / 10.0), slope)
    return NoiseFloor(True, floor, crossing, 10.0 ** ((slope * crossing + offset) / 10.0), slope)


def _late_line(
    square: NDArray[np.float64], rate: float, interval: float, start: float, crossing: float, floor: float
) -> tuple[float, float] | None:
    """Slope (dB/s, negative) and level at t = 0 of the late decay, or None if nothing decays."""
    count = max(int(interval * rate), 1)
    whole = len(square) // count
    level = 10.0 * np.log10(square[: whole * count].reshape(whole, count).mean(axis=1))
    time = (np.arange(whole) + 0.5) * count / rate
    bottom = 10.0 * np.log10(floor) + MARGIN
    # The last interval above the margin ends the decay; beats make earlier ones dip below it.
    above = np.nonzero((level >= bottom) & (time <= crossing) & (time >= start))[0]
    if len(above) == 0:
        return None
    last = above[-1]
    top = np.nonzero(level[: last + 1] >= min(bottom + LATE_RANGE, level[: last + 1].max()))[0][-1]
    first = min(top, max(last - 2, 0))
    if last - first < 1:
        return None
    slope, offset = np.polyfit(time[first : last + 1], level[first : last + 1], 1)
    return (float(slope), float(offset)) if slope < 0.0 else None
