"""Which resonances are heard to ring: published thresholds of modal decay.

Decay times are for 60 dB, s: T = 3 ln(10)/delta, Q = pi f T/(3 ln 10). Frequencies in Hz.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

HELD = 2.0 ** (1.0 / 6.0)
"""A threshold is held at its end value for a sixth of an octave beyond its ends (the reach of a third octave); ours."""


@dataclass(frozen=True)
class DecayThreshold:
    """Decay time above which a resonance is heard to decay more slowly.

    name, source : for the reader; note : how the points between are found, and how sure the values are
    frequency : Hz, rising; seconds : decay times for 60 dB there; between them straight in log time over log frequency
    """

    name: str
    source: str
    note: str
    frequency: tuple[float, ...]
    seconds: tuple[float, ...]

    def at(self, frequency: ArrayLike) -> NDArray[np.float64]:
        """Threshold in s at `frequency` (Hz), same shape; nan more than a sixth of an octave outside the points."""
        axis = np.asarray(frequency, dtype=float)
        value = np.exp(np.interp(np.log(axis), np.log(self.frequency), np.log(self.seconds)))
        covered = (axis >= self.frequency[0] / HELD) & (axis <= self.frequency[-1] * HELD)
        return np.where(covered, value, np.nan)


def decay_time_of_quality(quality: ArrayLike, frequency: ArrayLike) -> NDArray[np.float64]:
    """T = 3 ln(10) Q/(pi f), s (from Q = omega/(2 delta); Kuttruff, Room Acoustics)."""
    return 3.0 * np.log(10.0) * np.asarray(quality, dtype=float) / (np.pi * np.asarray(frequency, dtype=float))


MUSIC = DecayThreshold(
    "music",
    "Fazenda, Stephenson and Goldberg, J. Acoust. Soc. Am. 137, 2015",
    "0.51 s at 63 Hz and 0.12 s at 250 Hz, from memory of the abstract; straight between them (ours)",
    (63.0, 250.0),
    (0.51, 0.12),
)
TEST_SIGNALS = DecayThreshold(
    "test signals",
    "Fazenda, Stephenson and Goldberg, J. Acoust. Soc. Am. 137, 2015",
    "0.9 s at 32 Hz and 0.17 s at 200 Hz, from memory of the abstract; straight between them (ours; the paper has "
    "a bend at 63 Hz)",
    (32.0, 200.0),
    (0.9, 0.17),
)
ANY_STIMULUS = DecayThreshold(
    "any stimulus",
    "Stephenson, PhD thesis, University of Salford, 2012, abstract",
    "about 0.85 s at 32 Hz, falling to about 0.2 s above 100 Hz; straight between them (ours), held to 250 Hz (ours)",
    (32.0, 100.0, 250.0),
    (0.85, 0.2, 0.2),
)
QUALITY_16 = DecayThreshold(
    "Q of 16",
    "Avis, Fazenda and Davies, J. Audio Eng. Soc. 55, 2007",
    "Q = 16 at 32, 63 and 125 Hz: 1.1, 0.56 and 0.28 s; T = 3 ln(10) Q/(pi f) between them",
    (32.0, 63.0, 125.0),
    tuple(float(value) for value in decay_time_of_quality(16.0, [32.0, 63.0, 125.0])),
)
THRESHOLDS = (ANY_STIMULUS, MUSIC, TEST_SIGNALS, QUALITY_16)


@dataclass(frozen=True)
class Exceedance:
    """Resonances against one threshold, all (resonance,).

    limit : s, nan where the threshold has no published value
    ratio : decay time over limit, nan likewise
    exceeds : True if the decay is longer than the limit; False where there is none
    judged : True where there is a limit and a decay time
    """

    threshold: DecayThreshold
    limit: NDArray[np.float64]
    ratio: NDArray[np.float64]
    exceeds: NDArray[np.bool_]
    judged: NDArray[np.bool_]


def exceedance(frequency: ArrayLike, decay_time: ArrayLike, threshold: DecayThreshold = ANY_STIMULUS) -> Exceedance:
    """Which resonances ring longer than `threshold`.

    Parameters
    ----------
    frequency : (resonance,) Hz, above 0; decay_time : (resonance,) s for 60 dB, nan where not known
    """
    limit = threshold.at(frequency)
    ratio = np.asarray(decay_time, dtype=float) / limit
    judged = np.isfinite(ratio)
    return Exceedance(threshold, limit, ratio, judged & (np.where(judged, ratio, 0.0) > 1.0), judged)
