"""Fractional-octave smoothing of level curves."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import cumulative_trapezoid


def smoothed_levels(level: ArrayLike, frequency: ArrayLike, fraction: float = 3.0) -> NDArray[np.float64]:
    """`level` smoothed over 1/`fraction` octave: (..., frequency) dB.

    At each frequency f the power 10^(L/10) is averaged over log frequency with equal weight (a rectangular window)
    from f 2^(-1/(2 fraction)) to f 2^(1/(2 fraction)), power linear over log frequency between samples. Near the ends
    of the curve the window shrinks on both sides alike, so that a slope stays a slope; the two end values are not
    smoothed. Source: Hatziantoniou and Mourjopoulos, 'Generalized fractional-octave smoothing of audio and acoustic
    responses', J. Audio Eng. Soc. 48, 2000 (power spectrum, rectangular window).

    Parameters
    ----------
    level : (..., frequency) dB; frequency : (frequency,) Hz, rising, above 0
    fraction : 3 for third octaves, 12 for twelfths, ...

    Raises
    ------
    ValueError
        If `fraction` is not above 0 or the frequencies do not rise from above 0.
    """
    if not fraction > 0.0:
        raise ValueError(f"smoothing over 1/n octave needs n above 0, found {fraction:g}")
    axis = np.asarray(frequency, dtype=float)
    if axis[0] <= 0.0 or np.any(np.diff(axis) <= 0.0):
        raise ValueError(f"frequencies must rise from above 0 Hz, found {axis[0]:g} to {axis[-1]:g} Hz")
    data = np.asarray(level, dtype=float)
    place = np.log2(axis)
    half = np.minimum(0.5 / fraction, np.minimum(place - place[0], place[-1] - place))
    power = 10.0 ** (data / 10.0)
    total = cumulative_trapezoid(power, place, axis=-1, initial=0.0)
    width = np.maximum(2.0 * half, 1e-12)
    mean = (_area(place + half, place, power, total) - _area(place - half, place, power, total)) / width
    untouched = half < 1e-9
    return 10.0 * np.log10(np.maximum(np.where(untouched, power, mean), 1e-300))


def _area(
    at: NDArray[np.float64], place: NDArray[np.float64], power: NDArray[np.float64], total: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Integral of the piecewise linear `power` from the first place to `at`: (..., at)."""
    left = np.clip(np.searchsorted(place, at, side="right") - 1, 0, len(place) - 2)
    step = at - place[left]
    slope = (power[..., left + 1] - power[..., left]) / (place[left + 1] - place[left])
    return total[..., left] + step * (power[..., left] + 0.5 * step * slope)
