"""The answer of a placement study: how many units, where, what changes with them, and how sure that is."""

from __future__ import annotations

import math

from fdtd.listening.changes import Change
from fdtd.listening.study import Listening
from fdtd.report.cards import Card, Lead, audible, change_card, note, strongest
from fdtd.report.loading import Audible, Subject
from fdtd.report.markup import Markup, data, joined, listed, number, percent, prose, quoted
from fdtd.report.study_text import on_surface, the_answer, the_study, where
from fdtd.results.placement_record import PlacementFile, Unit
from fdtd.wording.answer import gain_left, not_confident, one_more, with_and_without_power
from fdtd.wording.first_lines import COARSE
from fdtd.wording.letters import LEAST_DECAY, ORDINALS
from fdtd.wording.letters import number as in_letters
from fdtd.wording.worst_notes import MOST_SEATS, harm_lines, worst_note_lines


def study_lead(subject: Subject) -> Lead:
    """The answer of a study."""
    (study, _), run = the_study(subject), subject.run
    if study.answer is None or not study.answer.units:
        sentence = Markup("Install none: no place was found that improves this room.")
        return Lead(sentence, (), (Card("How many", _how_many(0), Markup("")),))
    count, units = study.answer.worthwhile, study.answer.units
    spots = joined([_spot(unit) for unit in units])
    if len(units) == 1 or count == 0:
        put = "Put one" if count else "Install none. The best found is one"
        place = prose(where(subject, units[0]))
        sentence = Markup("{} {} {} (spot {})").format(put, quoted(units[0].device), place, spots)
    else:
        sentence = Markup("Put {} units at spots {}").format(in_letters(len(units)), spots)
    effect, card = _effect(study, run)
    where_card = Card(
        "Where" if count else "The best that was found",
        Markup("{} {}").format("Spot" if len(units) == 1 else "Spots", spots),
        _there(subject, units),
    )
    cards = (where_card, Card("How many", _how_many(count), prose(one_more(study.answer))))
    sentence += Markup(": {}.").format(effect) if effect else "."
    coarse = study.grid if study.grid > COARSE + 1e-9 else None
    return Lead(sentence, _sentences(subject), (*cards, *([card] if card is not None else [])), coarse)


def _how_many(count: int) -> Markup:
    return Markup("{} {}").format(data(count, str(count), "units"), "unit" if count == 1 else "units")


def _sentences(subject: Subject) -> tuple[Markup, ...]:
    """What stands under the advice."""
    (study, _), run, found = the_study(subject), subject.run, the_answer(subject)
    advised = found.worthwhile > 0
    more: list[Markup | None] = []
    if len(found.units) > 1:
        places = zip(found.units, _apart(subject), strict=True)
        text = Markup("; spot ").join(Markup("{} is {}").format(_spot(unit), place) for unit, place in places)
        more.append(Markup("Spot {}.").format(text))
    if found.units:
        more += [prose(line) for line in harm_lines(study.worst_notes, study.seats)]
        more += [prose(line) for line in worst_note_lines(study.worst_notes[:MOST_SEATS], study.seats)]
        power = with_and_without_power(found, lambda amount: number(amount, 1, "dB", key="power"))
        more += [Markup(power)] if power else []
    more += [_longer(study, run), prose(not_confident(study.sureness, found)) if advised else None]
    left = gain_left(found, lambda margin: number(margin, 1, "dB", key="margin")) if advised else ""
    more += [Markup(" ").join(filter(None, [Markup(left), prose(one_more(found))])), _held(study)]
    return tuple(one for one in more if one)


def _apart(subject: Subject) -> list[Markup]:
    """Where the units of the answer are; with the walls where two would be told alike."""
    units = the_answer(subject).units
    text = [where(subject, unit) for unit in units]
    if len(set(text)) < len(text):
        text = [f"{place} ({on_surface(subject, unit)})" for place, unit in zip(text, units, strict=True)]
    return [prose(place) for place in text]


def _there(subject: Subject, units: tuple[Unit, ...]) -> Markup:
    """Where the spots are, one a line."""
    study, _ = the_study(subject)
    text = []
    for unit in units:
        one = Markup("{}: ").format(_spot(unit)) if len(units) > 1 else Markup("")
        one += prose(on_surface(subject, unit))
        one += Markup(", {}").format(quoted(unit.device)) if len(study.devices) > 1 else ""
        one += Markup(", at gain {}").format(data(unit.gain, f"{unit.gain:g}", "gain")) if len(study.gains) > 1 else ""
        text.append(one)
    return text[0] if len(text) == 1 else listed(text)


def _spot(unit: Unit) -> Markup:
    return data(unit.place, str(unit.place), "spot")


def _advice_run(study: PlacementFile, run: Audible | None) -> Listening | None:
    """What is heard with the advised design: what another design does is not told of this one."""
    return run.listening if run is not None and study.answer is not None and run.shown == study.answer.units else None


def _effect(study: PlacementFile, run: Audible | None) -> tuple[Markup, Card | None]:
    """What the advised design changes: the note that its run tells of, else the mean of the study."""
    assert study.answer is not None
    listening, found = _advice_run(study, run), _best_note(study, run)
    if found is not None and listening is not None:
        return note(listening, *found), change_card(listening, *found)
    share, mean = study.answer.shorter, ", averaged over the seats" if len(study.seats) > 1 else ""
    if math.isnan(share):
        return Markup(""), None
    if abs(share) < LEAST_DECAY:
        as_before = Markup("resonances decay as before{}").format(mean)
        return as_before, Card("What changes", Markup("No clear change"), as_before)
    size = percent(abs(share), signed=False, key="shorter")
    text = Markup("{} {}").format(size, "slower" if share < 0 else "faster")
    card = Card("What changes", text, Markup("decay of resonances{}").format(mean))
    return Markup("resonances decay {}{}").format(text, mean), card


def _best_note(study: PlacementFile, run: Audible | None) -> tuple[int, Change] | None:
    """What the advised units do for the better, else what they change at all."""
    listening = _advice_run(study, run)
    if listening is None:
        return None
    better = strongest(listening, 0, 1, sooner=True)
    return better if better is not None and audible(better[1]) else strongest(listening, 0, 1)


def _longer(study: PlacementFile, run: Audible | None) -> Markup | None:
    """What gets worse, if that is heard and not told already."""
    listening = _advice_run(study, run)
    worse = strongest(listening, 0, 1, sooner=False) if listening is not None else None
    if listening is None or worse is None or not worse[1].decay_audible or worse == _best_note(study, run):
        return None
    return Markup("But {}.").format(note(listening, *worse, keys=False))


def _held(study: PlacementFile) -> Markup | None:
    """In how many of the varied rooms the advice held."""
    assert study.answer is not None
    if study.sureness is None:
        return Markup("Uncertainty not estimated.")
    rooms, units = study.sureness.perturbed_rooms, study.answer.units

    def of(share: float, key: str) -> Markup:
        return Markup("{} of {}").format(data(share, str(round(share * rooms)), key), rooms)

    if len(units) == 1:
        same = [one for one in study.ranked if one.unit.place == units[0].place]
        one = max(same, key=lambda one: one.unit == units[0], default=None)
        if one is None or math.isnan(one.on_top):
            return None
        text = Markup("In {} slightly varied rooms this place was among the best three").format(
            of(one.on_top, "on-top")
        )
        if study.answer.worthwhile and math.isfinite(one.helps):
            text += Markup(", and in {} it was better than no unit").format(of(one.helps, "helps"))
        return text + "."
    record = next((c for c in study.counts if c.count == len(units)), None)
    if record is None or math.isnan(record.audible_in):
        return None
    text = Markup("In {} slightly varied rooms the {} unit was audible too.")
    return text.format(of(record.audible_in, "audible-in"), ORDINALS[len(units)])
