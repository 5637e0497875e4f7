"""What is heard at each seat, as a sentence."""

from __future__ import annotations

import numpy as np

from fdtd.listening.changes import Change, changes_at, text_tone
from fdtd.listening.study import DROP, LOW, Listening

LEAST_STEP = 0.05
"""A change of decay below this share is not worth a word (just noticeable difference of ISO 3382-1:2009, table A.1)."""


def seat_sentences(listening: Listening, seat: int) -> list[str]:
    """One sentence for each variant against the first that has the seat; one in all if there is nothing to compare.

    Where a simulation was too short for that the sentence says so.
    """
    first = listening.first_with(seat)
    if first is None:
        return [f"'{listening.seats[seat]}' has no response in any variant."]
    others = [k for k, v in enumerate(listening.variants) if k > first and np.isfinite(v.tail.steady[seat]).all()]
    if not others:
        return [_single(listening, seat, first)]
    return [_against(listening, seat, first, other) for other in others]


def format_time(seconds: float, longest: float) -> str:
    """'0.41 s', '3.3 s'; 'more than 3.5 s' where a tail of that length did not reach so far."""
    if np.isnan(seconds):
        return f"more than {np.floor(longest * 10.0 + 1e-9) / 10.0:g} s"
    return f"{seconds:.1f} s" if seconds >= 0.995 else f"{seconds:.2f} s"


def _single(listening: Listening, seat: int, only: int) -> str:
    place = f"At '{listening.seats[seat]}'"
    variant = listening.variants[only]
    if variant.too_short:
        return f"{place} nothing is told: {variant.too_short}."
    changes = changes_at(listening, seat, only, only)
    if not changes:
        return f"{place} no resonance is found from {variant.resonances.low:g} to {variant.resonances.high:g} Hz."
    worst = max(changes, key=lambda change: change.weight)
    number = listening.followed[worst.number].numbers[only]
    assert number is not None  # the changes are those of this variant
    rings = f" (heard to ring above {format_time(variant.limit[number], 0.0)})" if variant.audible[number] else ""
    tone = text_tone(listening, seat, only, only, worst.frequency)
    text = ""
    if tone is not None:
        after = _time(listening, seat, only, tone)
        text = f"; a {listening.tones[tone]:.1f} Hz tone is {DROP:g} dB down after {after}"
    decay = float(variant.resonances.decay_time[number])
    return (
        f"{place} the {worst.frequency:.1f} Hz resonance dies away (60 dB) in {format_time(decay, 0.0)}{rings}{text}."
    )


def _against(listening: Listening, seat: int, first: int, second: int) -> str:
    place = f"At '{listening.seats[seat]}'"
    names = listening.variants[first].name, listening.variants[second].name
    short = [v.too_short for v in (listening.variants[first], listening.variants[second]) if v.too_short]
    if short:
        return f"{place} '{names[1]}' is not compared with '{names[0]}': {short[0]}."
    audible = [one for one in changes_at(listening, seat, first, second) if one.decay_audible or one.level_audible]
    if not audible:
        tail = _tone(listening, seat, first, second, None) if listening.own_tones else ""
        return (
            f"{place} no resonance from {LOW:g} to {listening.high:g} Hz changes enough to be heard with '{names[1]}'"
            f" instead of '{names[0]}'{tail}."
        )
    change = audible[0]
    text = _decay(change, names) if change.decay_audible or change.decay_step >= LEAST_STEP else _level(change, names)
    return f"{place} {text}{_tone(listening, seat, first, second, change.frequency)}."


def _decay(change: Change, names: tuple[str, str]) -> str:
    what = f"the {change.frequency:.1f} Hz resonance"
    before, after = change.decay
    if before is None:
        assert after is not None  # one of the two has it
        text = f"a new {change.frequency:.1f} Hz resonance that takes {format_time(after, 0.0)} to die away"
        return f"there is {text} with '{names[1]}'"
    if after is None:
        return f"{what} ({format_time(before, 0.0)} for 60 dB with '{names[0]}') is no longer found with '{names[1]}'"
    louder = ""
    if change.level_audible:
        step = change.level_step
        louder = f" and is {abs(step):.1f} dB {'louder' if step > 0 else 'quieter'}"
    return (
        f"{what} dies away (60 dB) in {format_time(after, 0.0)} with '{names[1]}' instead of "
        f"{format_time(before, 0.0)} with '{names[0]}'{louder}"
    )


def _level(change: Change, names: tuple[str, str]) -> str:
    step = change.level_step
    word = "louder" if step > 0 else "quieter"
    return (
        f"the {change.frequency:.1f} Hz resonance is {abs(step):.1f} dB {word} with '{names[1]}' than with '{names[0]}'"
    )


def _tone(listening: Listening, seat: int, first: int, second: int, other_than: float | None) -> str:
    tone = text_tone(listening, seat, first, second, other_than)
    if tone is None:
        return ""
    before, after = (_time(listening, seat, k, tone) for k in (first, second))
    what = f"; a {listening.tones[tone]:.1f} Hz tone is {DROP:g} dB down after {after}"
    return f"{what} instead of {before}" if after != before else f"{what} with both"


def _time(listening: Listening, seat: int, variant: int, tone: int) -> str:
    one = listening.variants[variant]
    seconds = float(one.figures.time_to[seat, tone, one.figures.drops.index(DROP)])
    return format_time(seconds, float(one.tail.time[-1]))
