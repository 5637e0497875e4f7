"""What is heard at each seat, as a sentence."""

from __future__ import annotations

import numpy as np

from fdtd.listening.changes import Change, changes_at, text_tone
from fdtd.listening.study import DROP, LOW, Listening
from fdtd.wording.endings import too_short_text
from fdtd.wording.letters import louder
from fdtd.wording.names import named

LEAST_STEP = 0.05
"""A change of decay below this share is not worth a word (just noticeable difference of ISO 3382-1:2009, table A.1)."""


def seat_sentences(listening: Listening, seat: int) -> list[str]:
    """One sentence for each variant against the first that has the seat; one in all if there is nothing to compare.

    Where a simulation was too short for that the sentence says so.
    """
    first = listening.first_with(seat)
    if first is None:
        return [f"{named(listening.seats[seat])} has no response in any variant."]
    others = [k for k, v in enumerate(listening.variants) if k > first and np.isfinite(v.tail.steady[seat]).all()]
    texts = [_against(listening, seat, first, other) for other in others] or [_single(listening, seat, first)]
    return [f"At {named(listening.seats[seat])} {text}." for text in texts]


def format_time(seconds: float, longest: float) -> str:
    """'0.41 s', '3.3 s'; 'more than 3.5 s' where a tail of that length did not reach so far."""
    if np.isnan(seconds):
        return f"more than {np.floor(longest * 10.0 + 1e-9) / 10.0:g} s"
    return f"{seconds:.1f} s" if seconds >= 0.995 else f"{seconds:.2f} s"


def _single(listening: Listening, seat: int, only: int) -> str:
    variant = listening.variants[only]
    if variant.too_short:
        return f"no decay is given: {too_short_text(variant.name, variant.too_short)}"
    changes = changes_at(listening, seat, only, only)
    if not changes:
        return f"no resonance was found from {variant.resonances.low:g} to {variant.resonances.high:g} Hz"
    worst = max(changes, key=lambda change: change.weight)
    number = listening.followed[worst.number].numbers[only]
    assert number is not None  # the changes are those of this variant
    rings = f" (ringing is audible above {format_time(variant.limit[number], 0.0)})" if variant.audible[number] else ""
    decay = format_time(float(variant.resonances.decay_time[number]), 0.0)
    tone = _tone(listening, seat, (only,), worst.frequency)
    return f"the {worst.frequency:.1f} Hz resonance decays by 60 dB in {decay}{rings}{tone}"


def _against(listening: Listening, seat: int, first: int, second: int) -> str:
    pair = listening.variants[first], listening.variants[second]
    old, new = (named(variant.name) for variant in pair)
    short = [too_short_text(variant.name, variant.too_short) for variant in pair if variant.too_short]
    if short:
        return f"{new} is not compared with {old}: {short[0]}"
    audible = [one for one in changes_at(listening, seat, first, second) if one.decay_audible or one.level_audible]
    if not audible:
        tail = _tone(listening, seat, (first, second), None) if listening.own_tones else ""
        band = f"from {LOW:g} to {listening.high:g} Hz"
        return f"no resonance {band} changes audibly with {new} instead of {old}{tail}"
    change = audible[0]
    told = _decay if change.decay_audible or change.decay_step >= LEAST_STEP else _level
    return told(change, old, new) + _tone(listening, seat, (first, second), change.frequency)


def _decay(change: Change, old: str, new: str) -> str:
    what = f"the {change.frequency:.1f} Hz resonance"
    before, after = change.decay
    if before is None:
        assert after is not None  # one of the two has it
        time = format_time(after, 0.0)
        return f"there is a new {change.frequency:.1f} Hz resonance with {new}, which takes {time} to decay by 60 dB"
    if after is None:
        return f"{what} ({format_time(before, 0.0)} for 60 dB with {old}) is no longer found with {new}"
    step = f" and is {louder(change.level_step)}" if change.level_audible else ""
    times = f"{format_time(after, 0.0)} with {new} instead of {format_time(before, 0.0)} with {old}"
    return f"{what} decays by 60 dB in {times}{step}"


def _level(change: Change, old: str, new: str) -> str:
    return f"the {change.frequency:.1f} Hz resonance is {louder(change.level_step)} with {new} than with {old}"


def _tone(listening: Listening, seat: int, variants: tuple[int, ...], at: float | None) -> str:
    """What is left of a tone, in the last of one or two variants against the first; at : Hz of the resonance told."""
    tone = text_tone(listening, seat, variants[0], variants[-1], at)
    if tone is None:
        return ""
    before, after = (_time(listening, seat, k, tone) for k in (variants[0], variants[-1]))
    instead = "" if len(variants) == 1 else " with both" if after == before else f" instead of {before}"
    return f"; a {listening.tones[tone]:.1f} Hz tone is {DROP:g} dB down after {after}{instead}"


def _time(listening: Listening, seat: int, variant: int, tone: int) -> str:
    one = listening.variants[variant]
    seconds = float(one.figures.time_to[seat, tone, one.figures.drops.index(DROP)])
    return format_time(seconds, float(one.tail.time[-1]))
