"""What an animation plays, how fast it is shown, and what its colours and curves count."""

from __future__ import annotations

from fdtd.listening.animation_make import Animation
from fdtd.listening.animation_signals import Played
from fdtd.listening.animation_times import Timing
from fdtd.wording.names import named

PLAYED = {
    "pulse": "a pulse, strongest at {0.frequency:.0f} Hz",
    "tone": "{0.frequency:g} Hz, switched off after {0.off:.2g} s",
    "steady": "a steady tone of {0.frequency:g} Hz",
}


def played_text(played: Played) -> str:
    """What is played, for a heading."""
    return named(played.name) if played.kind == "sound" else PLAYED[played.kind].format(played)


def speed_text(timing: Timing) -> str:
    """'shown 40 times slower'."""
    text, slow = "shown as fast as it happens", timing.slow
    if not timing.real:
        factor = max(slow, 1.0 / slow)
        short = f"{factor:.0f}" if factor >= 10.0 else f"{factor:.2g}"
        text = f"shown {short} times {'slower' if slow > 1.0 else 'faster'}"
        text = "shown nearly as fast as it happens" if short == "1" else text
    return f"{text}, a picture every {timing.periods} 1/16 periods (stroboscope)" if timing.periods else text


def scale_text(one: Animation) -> tuple[str, str]:
    """What the colours count, and what their ends are."""
    kind = one.played.kind
    at = f"the same {'tone' if kind == 'steady' else kind} at 1 m in free field"
    if not one.signed:
        return "level in dB", f"0 dB: {at}, at its loudest"
    return "sound pressure", f"1: {at}" if kind == "steady" else f"1, and 0 dB below: {at}"


def trace_text(one: Animation) -> str:
    """What the curves of the seats count."""
    return "pressure" if one.played.kind == "steady" else "level in dB"
