"""Running levels of a sampled sound."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

FAST = 0.125
"""s, time constant of the weighting F of sound level meters (IEC 61672-1)."""
FLOOR = 1e-20
"""Mean square that stands for silence: -200 dB."""


def fast_level(pressure: NDArray[np.floating], rate: float, constant: float = FAST) -> NDArray[np.float64]:
    """(..., sample) level in dB re 1 of the mean square with exponential weighting; `rate` samples a second.

    Source: IEC 61672-1, time weighting F: a first-order low-pass on the squared pressure.
    """
    keep = float(np.exp(-1.0 / (constant * rate)))
    mean = lfilter([1.0 - keep], [1.0, -keep], np.asarray(pressure, dtype=float) ** 2, axis=-1)
    return np.asarray(10.0 * np.log10(np.maximum(mean, FLOOR)))
