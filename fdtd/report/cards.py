"""The change that matters most, in words and on a card: shared by the answers of studies and runs."""

from __future__ import annotations

from dataclasses import dataclass

from fdtd.listening.changes import Change, changes_at
from fdtd.listening.study import Listening
from fdtd.report.markup import Markup, number, quoted
from fdtd.wording.seats import format_time


@dataclass(frozen=True)
class Card:
    """label : what it tells; big : the fact; small : what else to know. All HTML."""

    label: str
    big: Markup
    small: Markup


@dataclass(frozen=True)
class Lead:
    """The answer. sentence : the advice itself; more : what it does and how sure that is, a sentence each."""

    sentence: Markup
    more: tuple[Markup, ...]
    cards: tuple[Card, ...]


def strongest(listening: Listening, first: int, second: int, sooner: bool | None = None) -> tuple[int, Change] | None:
    """(seat, what changes most there) over all seats: a resonance that both variants have, if possible one whose decay
    changes so that it is heard, else its level.

    sooner : only those that then die away sooner (True) or later (False), None: both
    """
    found = [
        (seat, change)
        for seat in range(len(listening.seats))
        if not any(listening.variants[k].too_short for k in (first, second))
        for change in changes_at(listening, seat, first, second)
        if change.decay[0] is not None
        and change.decay[1] is not None
        and (sooner is None or sooner == (change.decay[1] < change.decay[0]))
    ]
    return max(found, key=lambda one: rank(one[1]), default=None)


def rank(change: Change) -> tuple[bool, bool, float]:
    """What is told first: decays that are heard, then levels."""
    return change.decay_audible, change.level_audible, change.score


def audible(change: Change) -> bool:
    """Whether any of it is heard."""
    return change.decay_audible or change.level_audible


def note(listening: Listening, seat: int, change: Change, keys: bool = True) -> Markup:
    """'at SEAT the 34 Hz note dies away in 0.4 s instead of 0.9 s', or how much louder or quieter it is if only that is
    heard; keys : whether its numbers are marked for programs"""
    first, second = change.decay
    assert first is not None and second is not None
    place = f"at {quoted(listening.seats[seat])}"
    note = number(change.frequency, 0, "Hz", key="frequency" if keys else "")
    if change.level_audible and not change.decay_audible:
        return Markup(f"{place} the {note} note is {level(change)}")
    step = "" if audible(change) else " (a change too small to be heard)"
    after, before = (seconds(v, key if keys else "") for v, key in ((second, "decay-after"), (first, "decay-before")))
    return Markup(f"{place} the {note} note dies away in {after} instead of {before}{step}")


def level(change: Change) -> Markup:
    """How much louder or quieter the note is."""
    size = number(abs(change.level_step), 1, "dB", key="level-step")
    return Markup(f"{size} {'louder' if change.level_step > 0.0 else 'quieter'}")


def change_card(listening: Listening, seat: int, change: Change) -> Card:
    """The note and its decay before and after."""
    first, second = change.decay
    assert first is not None and second is not None
    note, place = number(change.frequency, 0, "Hz", key="frequency"), quoted(listening.seats[seat])
    if change.level_audible and not change.decay_audible:
        return Card("What changes", level(change), Markup(f"is the {note} note at {place}"))
    big = Markup(
        f'{seconds(first, "decay-before")} <span class="arrow" aria-label="becomes">→</span> '
        f"{seconds(second, 'decay-after')}"
    )
    text = f"for the {note} note to die away by 60 dB at {place}"
    text += f"; the note itself is {level(change)}" if change.level_audible else ""
    return Card("What changes", big, Markup(text if audible(change) else f"{text}; too small a change to be heard"))


def seconds(value: float, key: str) -> Markup:
    """A time, its exact value marked for programs if `key` names it."""
    text = format_time(value, 0.0).replace(" ", "\N{NO-BREAK SPACE}")
    return Markup(f'<data value="{float(value)!r}" data-of="{key}">{text}</data>' if key else text)
