"""The answer in words and in three figures: where, how many, what changes, and how often that held."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fdtd.listening.changes import Change, changes_at
from fdtd.listening.sentences import format_time, seat_sentences
from fdtd.listening.study import Listening
from fdtd.report.loading import Heard, Subject
from fdtd.report.markup import Markup, listed, number, percent, prose, quoted, safe
from fdtd.results.placement_record import CountRecord, PlacementFile, Unit

NUMBERS = ("no", "one", "two", "three", "four", "five", "six")
ORDINALS = ("", "first", "second", "third", "fourth", "fifth", "sixth")
OFTEN = 0.5
"""Share of the perturbed rooms in which a further unit must be heard to be worth its price."""
COARSE = 0.15 + 1e-9
"""m, cells above which a study is a first look."""


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


def lead(subject: Subject) -> Lead:
    """The answer of one part of the page."""
    if subject.placement is not None:
        return _of_placement(subject.placement, subject.run)
    assert subject.run is not None
    return _of_run(subject.run)


def strongest(listening: Listening, first: int, second: int) -> tuple[int, Change] | None:
    """(seat, what changes most there) over all seats: a resonance that both variants have, better one that is heard."""
    found = [
        (seat, change)
        for seat in range(len(listening.seats))
        if not any(listening.variants[k].too_short for k in (first, second))
        for change in changes_at(listening, seat, first, second)
        if change.decay[0] is not None and change.decay[1] is not None
    ]
    return max(found, key=lambda one: (_heard(one[1]), one[1].score), default=None)


def _heard(change: Change) -> bool:
    return change.decay_heard or change.level_heard


def _of_placement(study: PlacementFile, run: Heard | None) -> Lead:
    if study.answer is None or not study.answer.units:
        return Lead(
            Markup("Put none: no place was found that makes this room better."), (),
            (Card("How many", Markup('<data value="0" data-of="units">0</data> units'), Markup("")),),
        )  # fmt: skip
    count, units, where = study.answer.worthwhile, study.answer.units, study.answer.where
    spots = [Markup(f"{prose(place)} (spot {_spot(unit)})") for unit, place in zip(units, where, strict=True)]
    if count == 0:
        sentence = f"Put none. The most that was found is {_unit(study, units[0])} {spots[0]}"
    elif len(units) == 1:
        sentence = f"Put {_unit(study, units[0])} {spots[0]}"
    else:
        sentence = f"Put {NUMBERS[len(units)]} units, at spots {_and([_spot(unit) for unit in units])}"
    effect, card, matches = _effect(study, run)
    more = [_one_more(study), _held(study), _as_good(study)]
    if len(units) > 1:
        told = [f"spot {_spot(unit)} is {prose(place)}" for unit, place in zip(units, where, strict=True)]
        more.insert(0, Markup(f"{_and(told)}.".replace("spot", "Spot", 1)))
    if matches:
        sentence += f": {effect}"
    else:
        more.insert(0, Markup(f"{effect}."))
    many = Markup(f'<data value="{count}" data-of="units">{count}</data> {"unit" if count == 1 else "units"}')
    big = Markup(("Spot " if len(units) == 1 else "Spots ") + _and([_spot(unit) for unit in units]))
    cards = (Card("Where", big, _there(study, units)), Card("How many", many, _one_more(study) or Markup("")), card)
    if study.grid > COARSE:
        more.append(Markup(
            f'<span class="note">Cells of {number(study.grid, 2, "m")}: a first look. What differs little may change '
            "places on finer ones.</span>"
        ))  # fmt: skip
    return Lead(Markup(f"{sentence}."), tuple(m for m in more if m), cards)


def _and(items: list) -> str:
    return str(items[0]) if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"


def _there(study: PlacementFile, units: tuple[Unit, ...]) -> Markup:
    """Where the spots are, one a line."""
    told = [
        (f"{_spot(unit)}: " if len(units) > 1 else "") + prose(study.place(unit.place).words)
        + (f",{_gain(study, unit)}" if len(study.gains) > 1 else "")
        for unit in units
    ]  # fmt: skip
    return Markup(told[0]) if len(told) == 1 else listed(told)


def _as_good(study: PlacementFile) -> Markup | None:
    """Said where the order of the places is not sure."""
    if study.sureness is None or study.sureness.robust or study.answer is None:
        return None
    mine = {unit.place for unit in study.answer.units}
    others = [_spot_number(r.unit) for r in study.ranked if r.alike and r.unit.place not in mine]
    if not others:
        return None
    what = f"spot {others[0]} is" if len(others) == 1 else f"spots {_and(others)} are"
    what = what[:1].upper() + what[1:] if len(mine) == 1 else f"For the first unit {what}"
    return Markup(f"{what} as good, as far as the room is known.")


def _spot_number(unit: Unit) -> str:
    return f'<data value="{unit.place}" data-of="as-good">{unit.place}</data>'


def _spot(unit: Unit) -> Markup:
    return Markup(f'<data value="{unit.place}" data-of="spot">{unit.place}</data>')


def _unit(study: PlacementFile, unit: Unit) -> Markup:
    """'one unit', with its name and gain where there was a choice."""
    told = Markup(f"one {quoted(unit.device)}" if len(study.devices) > 1 else "one unit")
    return Markup(f"{told}{_gain(study, unit)}")


def _gain(study: PlacementFile, unit: Unit) -> str:
    """Its gain, where several were tried."""
    if len(study.gains) == 1:
        return ""
    return f' at gain <data value="{unit.gain!r}" data-of="gain">{unit.gain:g}</data>'


def _effect(study: PlacementFile, run: Heard | None) -> tuple[Markup, Card, bool]:
    """What changes: the note that the run tells of, else the mean of the study; whether that is of the advised design
    and can stand in its sentence."""
    assert study.answer is not None
    if run is not None and run.listening is not None:
        found = strongest(run.listening, 0, 1)
        if found is not None:
            same = run.shown is None or run.shown == study.answer.units
            note = ""
            if run.shown is not None and not same:
                places = _and([str(unit.place) for unit in run.shown])
                note = f"With {NUMBERS[len(run.shown)]} unit{'s' * (len(run.shown) > 1)} at spot {places} "
            told = Markup(f"{note}{_note(run.listening, *found)}")
            return told, _decay_card(run.listening, *found, note), same
    record = _record(study, len(study.answer.units))
    ranked = next((r for r in study.ranked if (r.unit,) == study.answer.units), None)
    share = ranked.shorter if ranked is not None else float(record.shorter.mean()) if record is not None else math.nan
    word = "sooner" if not share < 0 else "later"
    told = percent(abs(share), signed=False, key="shorter")
    mean = " in the mean of the seats" if len(study.seats) > 1 else ""
    return (
        Markup(f"what rings there dies away {told} {word}{mean}"),
        Card("What changes", Markup(f"{told} {word}"), Markup(f"dies away what rings{mean}")), True,
    )  # fmt: skip


def _note(listening: Listening, seat: int, change: Change) -> Markup:
    """'at SEAT the 34 Hz note dies away in 0.4 s instead of 0.9 s'"""
    first, second = change.decay
    assert first is not None and second is not None
    step = "" if _heard(change) else " (a change too small to be heard)"
    place = f"at {quoted(listening.seats[seat])}"
    note = number(change.frequency, 0, "Hz", key="frequency")
    times = f"{_seconds(second, 'decay-after')} instead of {_seconds(first, 'decay-before')}"
    return Markup(f"{place} the {note} note dies away in {times}{step}")


def _decay_card(listening: Listening, seat: int, change: Change, note: str = "") -> Card:
    first, second = change.decay
    assert first is not None and second is not None
    big = Markup(
        f'{_seconds(first, "decay-before")} <span class="arrow" aria-label="becomes">→</span> '
        f"{_seconds(second, 'decay-after')}"
    )
    small = f"for the {number(change.frequency, 0, 'Hz', key='frequency')} note to die away by 60 dB at "
    small += quoted(listening.seats[seat])
    if change.level_heard:
        size = number(abs(change.level_step), 1, "dB", key="level-step")
        small += f"; the note itself is {size} {'louder' if change.level_step > 0.0 else 'quieter'}"
    return Card("What changes", big, Markup(f"{safe(note)}{small}"))


def _seconds(value: float, key: str) -> Markup:
    told = format_time(value, 0.0).replace(" ", "\N{NO-BREAK SPACE}")
    return Markup(f'<data value="{float(value)!r}" data-of="{key}">{told}</data>')


def _record(study: PlacementFile, count: int) -> CountRecord | None:
    return next((c for c in study.counts if c.count == count), None)


def _one_more(study: PlacementFile) -> Markup | None:
    """What one more unit than advised would do."""
    assert study.answer is not None
    count = study.answer.worthwhile
    step = _record(study, count + 1)
    if count == 0:
        return Markup("Not even the first unit can be relied on to be heard.")
    if step is None:
        return Markup("More units were not tried.")
    one = f"A {ORDINALS[step.count] if step.count < len(ORDINALS) else 'further'} unit"
    grew = any(t.kind == "built" and len(t.units) == step.count and math.isnan(t.marched) for t in study.trials)
    if grew:
        return Markup(f"{one} would oscillate.")
    if step.adds <= 0.0:
        return Markup(f"{one} adds nothing.")
    if not step.added_heard:
        return Markup(f"{one} adds nothing you would hear.")
    if step.heard_in < OFTEN:
        return Markup(f"{one} is heard in too few of the varied rooms to be relied on.")
    return Markup(f"{one} would be heard too.")


def _held(study: PlacementFile) -> Markup | None:
    """In how many of the varied rooms the advice held."""
    assert study.answer is not None
    if study.sureness is None:
        return Markup("How sure this is was not looked at.")
    draws, units = study.sureness.draws, study.answer.units

    def of(share: float, key: str) -> str:
        return f'<data value="{share!r}" data-of="{key}">{round(share * draws)}</data> of {draws}'

    if len(units) == 1:
        one = next((r for r in study.ranked if r.unit == units[0]), None)
        one = one or next((r for r in study.ranked if r.unit.place == units[0].place), None)
        if one is None or math.isnan(one.on_top):
            return None
        helps = f" and in {of(one.helps, 'helps')} it was better than no unit" if math.isfinite(one.helps) else ""
        return Markup(
            f"In {of(one.on_top, 'on-top')} slightly varied rooms this place was among the best three{helps}."
        )
    record = _record(study, len(units))
    if record is None or math.isnan(record.heard_in):
        return None
    last = ORDINALS[len(units)]
    return Markup(f"In {of(record.heard_in, 'heard-in')} slightly varied rooms the {last} unit was heard too.")


def _of_run(run: Heard) -> Lead:
    if run.listening is None:
        return Lead(Markup("What is heard can't be told from this run."), (prose(f"{run.reason}."),), ())
    heard = run.listening
    names = [variant.name for variant in heard.variants]
    cards, sentences = [], []
    for seat in range(len(heard.seats)):
        sentences += [prose(line) for line in seat_sentences(heard, seat)]
    for second in range(1, len(names)):
        found = strongest(heard, 0, second)
        if found is not None:
            card = _decay_card(heard, *found)
            cards.append(Card(Markup(f"{quoted(names[second])} against {quoted(names[0])}"), card.big, card.small))
    first = _run_sentence(heard)
    return Lead(first, tuple(sentences[:8]), tuple(cards[:3]))


def _run_sentence(heard: Listening) -> Markup:
    """The first sentence: the change of decay that matters most over all variants, or what rings most."""
    names = [variant.name for variant in heard.variants]
    found = [(k, one) for k in range(1, len(names)) if (one := strongest(heard, 0, k)) is not None]
    if not found:
        return Markup("What is heard in this room." if len(names) == 1 else "What changes between the variants.")
    second, (seat, change) = max(found, key=lambda one: (_heard(one[1][1]), one[1][1].score))
    pair = f"with {quoted(names[second])} instead of {quoted(names[0])}."
    if not _heard(change):
        return Markup(f"No resonance changes enough to be heard {pair}")
    told = str(_note(heard, seat, change))
    return Markup(f"{told[:1].upper()}{told[1:]} {pair}")
