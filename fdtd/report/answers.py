"""The answer that stands first on the page: the facts that it tells, which templates/answers/ puts into sentences."""

from __future__ import annotations

import math
from typing import Any

from fdtd.listening.changes import Change, changes_at
from fdtd.listening.study import Listening
from fdtd.report.loading import Audible, Subject
from fdtd.report.markup import Markup, number, prose
from fdtd.report.templating import blocks
from fdtd.results.placement_record import PlacementFile
from fdtd.study.place_answer import placed
from fdtd.wording.answer import gain_left, not_confident, on_cells, one_more, with_and_without_power
from fdtd.wording.letters import LEAST_DECAY, ORDINALS
from fdtd.wording.letters import number as in_letters
from fdtd.wording.places import seen_from_things, short_text
from fdtd.wording.seats import seat_sentences
from fdtd.wording.worst_notes import MOST_SEATS, harm_lines, worst_note_lines

Found = tuple[int, Change]
"""A seat and what changes there."""


def strongest(listening: Listening, first: int, second: int, sooner: bool | None = None) -> Found | None:
    """What changes most over all seats: a resonance that both variants have, if possible one whose decay changes so
    that it is heard, else its level.

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
    return max(found, key=_rank, default=None)


def _rank(found: Found) -> tuple[bool, bool, float]:
    """What is told first: decays that are heard, then levels."""
    return found[1].decay_audible, found[1].level_audible, found[1].score


def run_answer(run: Audible) -> Any:
    """The answer of a run: what changes most between its variants, or what rings most in its only one."""
    listening = run.listening
    if listening is None:
        nothing: dict[str, object] = dict.fromkeys(("names", "pairs", "worst"), ())
        return blocks("answers/run.html", sentences=[f"{run.reason}."], **nothing)
    names, seats = [variant.name for variant in listening.variants], range(len(listening.seats))
    pairs = [(names[k], best) for k in range(1, len(names)) if (best := strongest(listening, 0, k)) is not None]
    worst: list[Found] = []
    if len(names) == 1:  # the worst seat first
        own = [(seat, changes_at(listening, seat, 0, 0)) for seat in seats]
        worst = [(seat, max(some, key=lambda change: change.weight)) for seat, some in own if some]
        worst.sort(key=lambda one: -one[1].weight)
    order = [seat for seat, _ in worst] or seats
    return blocks(
        "answers/run.html",
        too_short=any(variant.too_short for variant in listening.variants),
        sentences=[prose(line) for seat in order for line in seat_sentences(listening, seat)],
        names=names,
        seats=listening.seats,
        pairs=pairs,
        best=max(pairs, key=lambda pair: _rank(pair[1]), default=None),
        worst=[(seat, change) for seat, change in worst if change.decay[0] is not None],
    )


def study_answer(subject: Subject) -> Any:
    """The answer of a placement study: how many units, where, what changes with them, and how sure that is."""
    study, spots, run = subject.study, subject.spots, subject.run
    found = study.answer
    if found is None or not found.units:
        return blocks("answers/study.html", units=())
    standing = [place for place, _, _ in placed(spots, subject.places, found.units)]
    where, walls = ([seen_from_things(place, spots.start) for place in standing], [*map(short_text, standing)])
    if len(set(where)) < len(where):  # with the walls where two would be told alike
        where = [f"{place} ({wall})" for place, wall in zip(where, walls, strict=True)]
    # What another design does is not told of this one.
    listening = run.listening if run is not None and run.shown == found.units else None
    best, worse = _best_and_worse(listening) if listening is not None else (None, None)
    advised = found.worthwhile > 0
    return blocks(
        "answers/study.html",
        study=study,
        count=found.worthwhile,
        units=found.units,
        letters=in_letters(len(found.units)),
        where=[*map(prose, where)],
        walls=[*map(prose, walls)],
        one_more=prose(one_more(found)),
        notes=[
            *map(prose, harm_lines(study.worst_notes, study.seats)),
            *map(prose, worst_note_lines(study.worst_notes[:MOST_SEATS], study.seats)),
        ],
        power=Markup(with_and_without_power(found, lambda amount: number(amount, 1, "dB", key="power"))),
        seats=study.seats if listening is None else listening.seats,
        best=best,
        worse=worse,
        least_decay=LEAST_DECAY,
        doubt=prose(not_confident(study.sureness, found)) if advised else "",
        left=Markup(gain_left(found, lambda margin: number(margin, 1, "dB", key="margin"))) if advised else "",
        held=_held(study),
        ordinal=ORDINALS[len(found.units)],
        cells=prose(on_cells(found, study.grid)),
    )


def _best_and_worse(listening: Listening) -> tuple[Found | None, Found | None]:
    """What the advised units do for the better, else what they change at all; and what gets worse, if that is heard."""
    best, worse = (strongest(listening, 0, 1, sooner) for sooner in (True, False))
    if best is None or not (best[1].decay_audible or best[1].level_audible):
        best = strongest(listening, 0, 1)
    return best, worse if worse is not None and worse[1].decay_audible and worse != best else None


def _held(study: PlacementFile) -> Any:
    """The record of the advised design in the perturbed rooms: of a single place, or of a number of units."""
    assert study.answer is not None
    units = study.answer.units
    if len(units) > 1:
        return next((c for c in study.counts if c.count == len(units) and not math.isnan(c.audible_in)), None)
    same = [one for one in study.ranked if one.unit.place == units[0].place]
    one = max(same, key=lambda one: one.unit == units[0], default=None)
    return one if one is not None and not math.isnan(one.on_top) else None
