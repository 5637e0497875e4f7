"""What a sound level meter would show: A and C weighting of IEC 61672-1, for tones and for pink noise in a band.

Levels in dB, frequencies in Hz and above 0.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import trapezoid

from fdtd.analysis.response import levels_at

Weighting = Literal["A", "C", "Z"]
"""Z: no weighting."""

POLES = (20.598997, 107.65265, 737.86223, 12194.217)
"""f1 to f4, Hz: IEC 61672-1:2013 annex E (20.6, 107.7, 737.9 and 12194 Hz there, unrounded)."""
POINTS_PER_OCTAVE = 96


def weight_db(frequency: ArrayLike, weighting: Weighting) -> NDArray[np.float64]:
    """Weighting in dB at `frequency` (Hz), 0 dB at 1 kHz, same shape.

    Source: IEC 61672-1:2013, 5.5.7 and annex E, equations for A(f) and C(f); the normalisation is computed at
    1000 Hz (-2.000 dB and -0.062 dB there).

    Raises
    ------
    ValueError
        If `weighting` is not "A", "C" or "Z".
    """
    axis = np.asarray(frequency, dtype=float)
    if weighting == "Z":
        return np.zeros_like(axis)
    if weighting not in ("A", "C"):
        raise ValueError(f"weightings are A, C and Z, found {weighting!r}")
    return _unnormalised(axis, weighting) - _unnormalised(np.array(1000.0), weighting)


def _unnormalised(frequency: NDArray[np.float64], weighting: Weighting) -> NDArray[np.float64]:
    square = frequency**2
    first, second, third, fourth = (pole**2 for pole in POLES)
    gain = fourth * square / ((square + first) * (square + fourth))
    if weighting == "A":
        gain = gain * square / np.sqrt((square + second) * (square + third))
    return 20.0 * np.log10(gain)


def weighted_levels(level: ArrayLike, frequency: ArrayLike, weighting: Weighting) -> NDArray[np.float64]:
    """`level` (..., frequency) in dB with the weighting added."""
    return np.asarray(level, dtype=float) + weight_db(frequency, weighting)


def pink_noise_reading(
    level: ArrayLike, frequency: ArrayLike, low: float, high: float, weighting: Weighting
) -> NDArray[np.float64]:
    """Reading for pink noise (equal power in equal steps of log frequency) between `low` and `high` Hz: (...) dB.

    The noise as a whole drives the loudspeaker as hard (same mean square) as the tone behind the level curve
    (..., frequency) does at each frequency, so a flat curve gives its own level:

        10 log10 of the mean over ln f of 10^((level + weight)/10).

    Energy summation over frequency: IEC 61672-1 measures mean-square pressure; the drive convention is ours.

    Raises
    ------
    ValueError
        If the band is empty or reaches outside the curve.
    """
    if not 0.0 < low < high:
        raise ValueError(f"a noise band runs from low to high, found {low:g} to {high:g} Hz")
    axis = np.asarray(frequency, dtype=float)
    _inside(axis, low, high)
    count = int(np.ceil(POINTS_PER_OCTAVE * np.log2(high / low))) + 1
    points = np.union1d(np.geomspace(low, high, count)[1:-1], axis[(axis > low) & (axis < high)])
    points = np.concatenate([[low], points, [high]])
    power = 10.0 ** (weighted_levels(levels_at(axis, level, points), points, weighting) / 10.0)
    mean = trapezoid(power, np.log(points), axis=-1) / np.log(high / low)
    return 10.0 * np.log10(np.maximum(mean, 1e-300))


def _inside(frequency: ArrayLike, low: float, high: float) -> None:
    axis = np.asarray(frequency, dtype=float)
    if low < axis[0] * (1.0 - 1e-9) or high > axis[-1] * (1.0 + 1e-9):
        raise ValueError(f"the level curve covers {axis[0]:g} to {axis[-1]:g} Hz, asked for {low:g} to {high:g} Hz")
