"""What is said of a placement study, from the numbers of its file and its scene."""

from __future__ import annotations

import numpy as np

from fdtd.report.loading import Subject
from fdtd.results.placement_record import Answer, PlacementFile, Unit
from fdtd.scene.schema import Spots
from fdtd.scene.shape import Shape
from fdtd.study.place_answer import placed
from fdtd.wording import advice, answer
from fdtd.wording.loudest import meter_text
from fdtd.wording.places import place_text, seen_from_things, short_text

KEPT = "the work folder of the study"


def the_study(subject: Subject) -> tuple[PlacementFile, Spots]:
    """The study of `subject`, which has one, and its [spots]."""
    assert subject.placement is not None and subject.scene.spots is not None
    return subject.placement, subject.scene.spots


def the_answer(subject: Subject) -> Answer:
    """The answer of a study that has one."""
    study, _ = the_study(subject)
    assert study.answer is not None
    return study.answer


def where(subject: Subject, unit: Unit) -> str:
    """Where a unit is, seen from the nearest loudspeaker or seat."""
    _, spots = the_study(subject)
    ((place, _, _),) = placed(spots, subject.places, [unit])
    return seen_from_things(place, spots.start)


def on_surface(subject: Subject, unit: Unit, short: bool = True) -> str:
    """Where a unit is, with a tape measure; short : without the corners and edges beside it"""
    _, spots = the_study(subject)
    ((place, _, _),) = placed(spots, subject.places, [unit])
    return short_text(place) if short else place_text(place)


def how_many(subject: Subject) -> str:
    """How many units to buy, and why not one more; "" if no unit can stand anywhere."""
    study, _ = the_study(subject)
    if study.answer is None or not study.counts:
        return ""
    return answer.how_many(study.answer, study.seats, study.counts[-1].audible.tolist())


def confidence_of(subject: Subject) -> list[str]:
    """What is in doubt, if anything, and what came out of the perturbed rooms."""
    study, spots = the_study(subject)
    known = study.sureness
    active = {device.name for device in spots.devices if device.control is not None}
    further = {unit.device for count in study.counts[1:] for unit in count.units}
    text = [advice.in_doubt(known, spots, subject.places)] if known is not None and not known.robust else []
    return [*text, advice.confidence_of(known, study.grid, bool(active & further))]


def what_was_tried(subject: Subject) -> str:
    """What came out of the simulations with the units in; "" without any."""
    study, spots = the_study(subject)
    return advice.what_was_tried(study.trials, spots, subject.places) if study.trials else ""


def how_measured(subject: Subject) -> str:
    """What was simulated, what was reused, what was searched."""
    study, _ = the_study(subject)
    return advice.how_measured(len(study.places) + len(study.sources), study.reused, study.searched, KEPT)


def with_a_meter(subject: Subject) -> str:
    """Whether a level meter would have found the place; "" if that was left out."""
    study, _ = the_study(subject)
    if study.meter is None:
        return ""
    benefit = {one.unit.place: one.benefit for one in study.ranked}
    best = np.array([benefit.get(place.number, -np.inf) for place in study.places])
    return meter_text(study.meter, Shape(subject.scene.room), best)
