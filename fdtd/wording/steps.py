"""The verdict on one unit more: whether it is heard, and what it does."""

from __future__ import annotations

import numpy as np

from fdtd.placement.steps import AUDIBLE_DECAY, AUDIBLE_EVENNESS, Gained
from fdtd.wording.letters import ORDINALS


def step_text(difference: Gained, count: int) -> str:
    """The verdict on unit number `count` in words."""
    unit = f"the {ORDINALS[count]}" if count < 6 else f"unit {count} as one more"
    if difference.benefit <= 0.0:
        return f"{unit} unit adds nothing: the best place found for it makes the score no better"
    if not difference.audible:
        return f"{unit} unit adds less than can be heard"
    best = int(np.argmax(difference.ringing_at))
    parts = []
    if difference.ringing_at[best] >= AUDIBLE_DECAY:
        parts.append(f"what rings decays up to {100 * difference.ringing_at[best]:.0f} % faster")
    if difference.uneven_at.max() >= AUDIBLE_EVENNESS:
        parts.append(f"the level is up to {difference.uneven_at.max():.1f} dB more even at a seat")
    if difference.spread >= AUDIBLE_EVENNESS:
        parts.append(f"the seats are {difference.spread:.1f} dB closer to each other")
    seats = f"{int(difference.audible_at.sum())} of {len(difference.audible_at)} seats"
    return f"{unit} unit is heard at {seats}: " + (", ".join(parts) or "for the worse there, though the score rises")
