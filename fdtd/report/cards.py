"""The change that matters most, in words and on a card: shared by the answers of studies and runs."""

from __future__ import annotations

from dataclasses import dataclass

from fdtd.listening.changes import Change, changes_at
from fdtd.listening.study import Listening
from fdtd.report.markup import GLUE, Markup, data, number, quoted
from fdtd.report.templating import render
from fdtd.wording.seats import format_time


@dataclass(frozen=True)
class Card:
    """label : what it tells; big : the fact; small : what else to know. All HTML."""

    label: str
    big: Markup
    small: Markup


@dataclass(frozen=True)
class Lead:
    """The answer. sentence : the advice itself; more : what it does and how sure that is, a sentence each
    coarse : m, cells of a study that is but a first look, else None."""

    sentence: Markup
    more: tuple[Markup, ...]
    cards: tuple[Card, ...]
    coarse: float | None = None


def strongest(listening: Listening, first: int, second: int, sooner: bool | None = None) -> tuple[int, Change] | None:
    """(seat, what changes most there) over all seats: a resonance that both variants have, if possible one whose decay
    changes so that it is heard, else its level.

    sooner : only those that then decay faster (True) or slower (False), None: both
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
    """'at SEAT the 34 Hz note decays in 0.4 s instead of 0.9 s', or how much louder or quieter it is if only that is
    heard; keys : whether its numbers are marked for programs"""
    before, after = _decays(change, keys)
    hertz = number(change.frequency, 0, "Hz", key="frequency" if keys else "")
    start = Markup("at {} the {} note").format(quoted(listening.seats[seat]), hertz)
    if change.level_audible and not change.decay_audible:
        return Markup("{} is {}").format(start, level(change))
    step = "" if audible(change) else " (too small a change to be audible)"
    return Markup("{} decays in {} instead of {}{}").format(start, after, before, step)


def _decays(change: Change, keys: bool = True) -> tuple[Markup, Markup]:
    """Of a change that has both."""
    before, after = change.decay
    assert before is not None and after is not None
    return seconds(before, "decay-before" if keys else ""), seconds(after, "decay-after" if keys else "")


def level(change: Change) -> Markup:
    """How much louder or quieter the note is."""
    size = number(abs(change.level_step), 1, "dB", key="level-step")
    return Markup("{} {}").format(size, "louder" if change.level_step > 0.0 else "quieter")


def change_card(listening: Listening, seat: int, change: Change) -> Card:
    """The note and its decay before and after."""
    before, after = _decays(change)
    of_note = Markup("{} note at {}").format(
        number(change.frequency, 0, "Hz", key="frequency"), quoted(listening.seats[seat])
    )
    if change.level_audible and not change.decay_audible:
        return Card("What changes", level(change), Markup("is the {}").format(of_note))
    text = Markup("for the {} to decay by 60 dB").format(of_note)
    text += Markup("; the note itself is {}").format(level(change)) if change.level_audible else ""
    text += "" if audible(change) else "; too small a change to be audible"
    return Card("What changes", render("becomes.html", before=before, after=after), text)


def seconds(value: float, key: str) -> Markup:
    """A time, its exact value marked for programs if `key` names it."""
    text = format_time(value, 0.0).replace(" ", GLUE)
    return data(float(value), text, key) if key else Markup(text)
