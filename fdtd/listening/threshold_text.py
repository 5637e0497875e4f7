"""How a decay time compares with a published threshold, in words that are the same wherever it is said."""

from __future__ import annotations

from fdtd.analysis.audibility import ANY_STIMULUS, HELD, DecayThreshold, exceedance

NONE_PUBLISHED = "no published threshold"
"""Said of a resonance outside the range of frequencies for which a threshold was published."""


def against_threshold(frequency: float, decay_time: float, threshold: DecayThreshold = ANY_STIMULUS) -> str:
    """'1.6 times the published threshold of 0.71 s'; names no figure where none was published.

    frequency : Hz, above 0; decay_time : s for 60 dB, finite
    """
    found = exceedance([frequency], [decay_time], threshold)
    if not found.judged[0]:
        lowest, highest = threshold.frequency[0], threshold.frequency[-1]
        return f"{NONE_PUBLISHED} " + (f"below {lowest:g} Hz" if frequency < lowest else f"above {highest:g} Hz")
    limit = f"the published threshold of {found.limit[0]:.2f} s"
    if not threshold.frequency[0] <= frequency <= threshold.frequency[-1]:
        nearest = min(threshold.frequency, key=lambda point: abs(point - frequency))
        limit = f"the {found.limit[0]:.2f} s published for {nearest:g} Hz"
    return f"{found.ratio[0]:.1f} times {limit}" if found.exceeds[0] else f"below {limit}"


def published_range(threshold: DecayThreshold = ANY_STIMULUS) -> str:
    """'published from 32 Hz up; the value at 32 Hz is used down to 29 Hz (ours)'."""
    low = threshold.frequency[0]
    return f"published from {low:g} Hz up; the value at {low:g} Hz is used down to {low / HELD:.0f} Hz (ours)"


def extrapolated_range(threshold: DecayThreshold = ANY_STIMULUS) -> str:
    """What the figure "ringing" is judged against (`placement.objectives.ringing_limit`), to follow "threshold"."""
    return f"published from {threshold.frequency[0]:g} Hz up, extrapolated below at constant Q (ours)"
