"""The answer of a placement study: how many units, where, what changes with them, and how sure that is."""

from __future__ import annotations

import math

from fdtd.listening.changes import Change
from fdtd.report.cards import Card, Lead, audible, change_card, note, strongest
from fdtd.report.loading import Audible, Subject
from fdtd.report.markup import Markup, joined, listed, number, percent, prose, quoted
from fdtd.report.study_text import on_surface, the_answer, the_study, where
from fdtd.results.placement_record import CountRecord, PlacementFile, Unit
from fdtd.wording.answer import gain_left, not_confident, one_more
from fdtd.wording.first_lines import COARSE
from fdtd.wording.letters import ORDINALS
from fdtd.wording.letters import number as in_letters
from fdtd.wording.worst_notes import MOST_SEATS, worst_note_lines

LEAST = 0.005
"""Share of a decay below which nothing is said to change."""


def study_lead(subject: Subject) -> Lead:
    """The answer of a study."""
    (study, _), run = the_study(subject), subject.run
    if study.answer is None or not study.answer.units:
        return Lead(
            Markup("Put none: no place was found that makes this room better."),
            (),
            (Card("How many", Markup('<data value="0" data-of="units">0</data> units'), Markup("")),),
        )
    count, units = study.answer.worthwhile, study.answer.units
    if len(units) == 1 or count == 0:
        put = "Put " if count else "Put none. The most that was found is "
        sentence = f"{put}{_unit(units[0])} {prose(where(subject, units[0]))} (spot {_spot(units[0])})"
    else:
        sentence = f"Put {in_letters(len(units))} units at spots {_spots_of(units)}"
    effect, card = _effect(study, run)
    more = _sentences(subject)
    many = Markup(f'<data value="{count}" data-of="units">{count}</data> {"unit" if count == 1 else "units"}')
    big = Markup(f"{'Spot' if len(units) == 1 else 'Spots'} {_spots_of(units)}")
    where_card = Card("Where" if count else "The best that was found", big, _there(subject, units))
    cards = (where_card, Card("How many", many, prose(one_more(study.answer))), *([card] if card is not None else []))
    return Lead(Markup(f"{sentence}: {effect}." if effect else f"{sentence}."), more, cards)


def _sentences(subject: Subject) -> tuple[Markup, ...]:
    """What stands under the advice."""
    (study, _), run, found = the_study(subject), subject.run, the_answer(subject)
    more: list[Markup | None] = []
    units, advised = found.units, found.worthwhile > 0
    if len(units) > 1:
        text = [f"spot {_spot(unit)} is {place}" for unit, place in zip(units, _apart(subject), strict=True)]
        more.append(Markup(f"{'; '.join(text)}.".replace("spot", "Spot", 1)))
    if units:
        more += [prose(line) for line in worst_note_lines(study.worst_notes[:MOST_SEATS], study.seats)]
    more += [_longer(study, run), prose(not_confident(study.sureness, found)) if advised else None]
    left = gain_left(found, lambda margin: number(margin, 1, "dB", key="margin")) if advised else ""
    more += [Markup(" ".join(filter(None, [left, prose(one_more(found))]))), _held(study)]
    if study.grid > COARSE + 1e-9:
        more.append(
            Markup(
                f'<span class="note">Cells of {number(study.grid, 2, "m")}: a first look. What differs little may '
                "change places on finer ones.</span>"
            )
        )
    return tuple(m for m in more if m)


def _apart(subject: Subject) -> list[Markup]:
    """Where the units of the answer are; with the walls where two would be told alike."""
    units = the_answer(subject).units
    text = [where(subject, unit) for unit in units]
    if len(set(text)) == len(text):
        return [prose(place) for place in text]
    return [prose(f"{place} ({on_surface(subject, unit)})") for place, unit in zip(text, units, strict=True)]


def _there(subject: Subject, units: tuple[Unit, ...]) -> Markup:
    """Where the spots are, one a line."""
    study, _ = the_study(subject)
    text = [
        (Markup(f"{_spot(unit)}: ") if len(units) > 1 else "")
        + prose(on_surface(subject, unit))
        + (Markup(f", {quoted(unit.device)}") if len(study.devices) > 1 else "")
        + (Markup(f",{_gain(study, unit)}") if len(study.gains) > 1 else "")
        for unit in units
    ]
    return Markup(text[0]) if len(text) == 1 else listed(text)


def _spot(unit: Unit) -> Markup:
    return Markup(f'<data value="{unit.place}" data-of="spot">{unit.place}</data>')


def _unit(unit: Unit) -> Markup:
    """'one “corner unit”'. Its gain stands on the card: in the advice it reads as one more riddle."""
    return Markup(f"one {quoted(unit.device)}")


def _gain(study: PlacementFile, unit: Unit) -> str:
    """Its gain, where several were tried."""
    if len(study.gains) == 1:
        return ""
    return f' at gain&nbsp;<data value="{unit.gain!r}" data-of="gain">{unit.gain:g}</data>'


def _spots_of(units: tuple[Unit, ...]) -> str:
    return joined([_spot(unit) for unit in units])


def _advice_run(study: PlacementFile, run: Audible | None) -> Audible | None:
    """The run, if it is of the advised design: what another design does is not told of this one."""
    if run is None or run.listening is None or study.answer is None:
        return None
    return run if run.shown == study.answer.units else None


def _effect(study: PlacementFile, run: Audible | None) -> tuple[Markup, Card | None]:
    """What the advised design changes: the note that its run tells of, else the mean of the study."""
    assert study.answer is not None
    run, found = _advice_run(study, run), _best_note(study, run)
    if found is not None and run is not None and run.listening is not None:
        return note(run.listening, *found), change_card(run.listening, *found)
    share = study.answer.shorter
    if math.isnan(share):
        return Markup(""), None
    text = Markup(f"{percent(abs(share), signed=False, key='shorter')} {'later' if share < 0 else 'sooner'}")
    mean = " in the mean of the seats" if len(study.seats) > 1 else ""
    if abs(share) < LEAST:
        as_before = Markup(f"what rings in the room dies away as before{mean}")
        return as_before, Card("What changes", Markup("Nothing to speak of"), as_before)
    card = Card("What changes", text, Markup(f"dies away what rings in the room{mean}"))
    return Markup(f"what rings in the room dies away {text}{mean}"), card


def _best_note(study: PlacementFile, run: Audible | None) -> tuple[int, Change] | None:
    """What the advised units do for the better, else what they change at all."""
    run = _advice_run(study, run)
    if run is None or run.listening is None:
        return None
    better = strongest(run.listening, 0, 1, sooner=True)
    return better if better is not None and audible(better[1]) else strongest(run.listening, 0, 1)


def _longer(study: PlacementFile, run: Audible | None) -> Markup | None:
    """What gets worse, if that is heard and not told already."""
    run = _advice_run(study, run)
    if run is None or run.listening is None:
        return None
    worse = strongest(run.listening, 0, 1, sooner=False)
    if worse is None or not worse[1].decay_audible or worse == _best_note(study, run):
        return None
    return Markup(f"But {note(run.listening, *worse, keys=False)}.")


def _record(study: PlacementFile, count: int) -> CountRecord | None:
    return next((c for c in study.counts if c.count == count), None)


def _held(study: PlacementFile) -> Markup | None:
    """In how many of the varied rooms the advice held."""
    assert study.answer is not None
    if study.sureness is None:
        return Markup("How sure this is was not looked at.")
    perturbed_rooms, units = study.sureness.perturbed_rooms, study.answer.units

    def of(share: float, key: str) -> str:
        return f'<data value="{share!r}" data-of="{key}">{round(share * perturbed_rooms)}</data> of {perturbed_rooms}'

    if len(units) == 1:
        one = next((r for r in study.ranked if r.unit == units[0]), None)
        one = one or next((r for r in study.ranked if r.unit.place == units[0].place), None)
        if one is None or math.isnan(one.on_top):
            return None
        if study.answer.worthwhile == 0:
            return Markup(f"In {of(one.on_top, 'on-top')} slightly varied rooms this place was among the best three.")
        helps = f" and in {of(one.helps, 'helps')} it was better than no unit" if math.isfinite(one.helps) else ""
        return Markup(
            f"In {of(one.on_top, 'on-top')} slightly varied rooms this place was among the best three{helps}."
        )
    record = _record(study, len(units))
    if record is None or math.isnan(record.audible_in):
        return None
    last = ORDINALS[len(units)]
    return Markup(f"In {of(record.audible_in, 'audible-in')} slightly varied rooms the {last} unit was heard too.")
