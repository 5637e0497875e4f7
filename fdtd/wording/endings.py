"""How a simulation ended, and what that means for decays."""

from __future__ import annotations

from fdtd.listening.study import ENOUGH, TOO_SHORT, CutShort
from fdtd.results.result import VariantResult
from fdtd.wording.names import named

ENDINGS = {
    "quiet": "stopped after {0.duration:.2f} s, when the sound at every seat had decayed by {0.fallen:.0f} dB",
    "asked": "ran for {0.duration:.2f} s, as the scene asks",
    "limit": "stopped after {0.duration:.2f} s, still ringing",
}


def outcome_text(variant: VariantResult) -> str:
    """Why the simulation of a variant ended, to follow its name."""
    text = ENDINGS[variant.outcome].format(variant)
    if variant.outcome == "quiet" or variant.fallen >= ENOUGH:
        return text
    return f"{text}; only {variant.fallen:.0f} dB down by then, so sharp resonances are smeared: simulate for longer"


def too_short_text(name: str, cut: CutShort) -> str:
    """Why the decays and tails of the variant `name` are not given."""
    down = f"the sound was {cut.fallen:.0f} dB down" if cut.fallen > 0.0 else "nothing had decayed yet"
    return (
        f"{TOO_SHORT} ({named(name)} ended after {cut.duration:.2f} s, when {down}; decays and tails need "
        f"{ENOUGH:g} dB: give a longer duration, or none)"
    )
