"""How figures compare with thresholds, in words that are the same wherever it is said."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.audibility import ANY_STIMULUS, HELD, DecayThreshold, exceedance
from fdtd.study.clearly_worse import CLEAR_LEVEL

NONE_PUBLISHED = "no published threshold"
"""Said of a resonance outside the range of frequencies for which a threshold was published."""


def against_threshold(frequency: float, decay_time: float) -> str:
    """'1.6 times the published threshold of 0.71 s'; names no figure where none was published.

    frequency : Hz, above 0; decay_time : s for 60 dB, finite
    """
    threshold = ANY_STIMULUS
    found = exceedance([frequency], [decay_time], threshold)
    if not found.judged[0]:
        lowest, highest = threshold.frequency[0], threshold.frequency[-1]
        return f"{NONE_PUBLISHED} " + (f"below {lowest:g} Hz" if frequency < lowest else f"above {highest:g} Hz")
    limit = f"the published threshold of {found.limit[0]:.2f} s"
    if not threshold.frequency[0] <= frequency <= threshold.frequency[-1]:
        nearest = min(threshold.frequency, key=lambda point: abs(point - frequency))
        limit = f"the {found.limit[0]:.2f} s published for {nearest:g} Hz"
    return f"{found.ratio[0]:.1f} times {limit}" if found.exceeds[0] else f"below {limit}"


def published_range(threshold: DecayThreshold) -> str:
    """'published from 32 Hz up; the value at 32 Hz is used down to 29 Hz (ours)'."""
    low = threshold.frequency[0]
    return f"published from {low:g} Hz up; the value at {low:g} Hz is used down to {low / HELD:.0f} Hz (ours)"


def extrapolated_range() -> str:
    """What the figure "ringing" is judged against (`placement.objectives.ringing_limit`), to follow "threshold"."""
    return f"published from {ANY_STIMULUS.frequency[0]:g} Hz up, extrapolated below at constant Q (ours)"


def more_prominent(frequency: NDArray[np.float64], more: NDArray[np.float64]) -> str:
    """'9 dB more prominent at 47 Hz', of the note that stands out most more than before; "" if none does clearly.

    frequency : (note,) Hz; more : (note,) dB as `stands_out_more` gives it
    """
    if not more.size or more.max() < CLEAR_LEVEL:
        return ""
    most = int(np.argmax(more))
    return f"{more[most]:.0f} dB more prominent at {frequency[most]:.0f} Hz"
