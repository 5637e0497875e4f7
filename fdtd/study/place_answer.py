"""The answer of a placement study: the design that is advised, and everything that is said of it, by topic."""

from __future__ import annotations

from fdtd.placement.study import Design
from fdtd.results.placement_record import Answer, Unit
from fdtd.study import advice
from fdtd.study.built import ENOUGH_MARGIN, margin_db
from fdtd.study.finished import FinishedPlacement
from fdtd.study.first_lines import gain_left, not_sure, one_more
from fdtd.study.headline import shorter
from fdtd.study.landmarks import seen_from_things
from fdtd.study.place import PlacementStudy

Words = tuple[tuple[str, str], ...]


def place_words(done: FinishedPlacement, kept: str) -> Words:
    """(topic, text) in the order in which they are told; kept : folder of the measured places, in words.

    Topics: headline, doubt, count, first, further (one for each more unit), sure, tried, measured, meter, before; and
    for a first screen, in one sentence each: more (one more unit), unsure, gain.
    """
    study, decided = done.study, done.decision
    told = advice.paragraphs(done)
    if decided is not None:
        unsure, gain = not_sure(study, done.robustness, decided), gain_left(decided)
        short = (("more", one_more(decided)), ("unsure", unsure), ("gain", gain))
        told += [(topic, text) for topic, text in short if text]
    told += [("measured", f"{advice.reused(study, kept)} Searched: {study.found.method}.")]
    told += [("meter", advice.with_a_meter(study, done.loudest))] if done.loudest is not None else []
    return (*told, ("before", advice.MAINS))


def answer(done: FinishedPlacement) -> Answer | None:
    """What is advised, None if no design was found at all."""
    study, decided = done.study, done.decision
    if decided is None:
        return None
    where = tuple(seen_from_things(place, study.variant) for place, _, _ in study.units(decided.design))
    sooner = shorter(study, decided.figures.ringing)
    return Answer(decided.worthwhile, units_of(study, decided.design), where, sooner)


def units_of(study: PlacementStudy, design: Design) -> tuple[Unit, ...]:
    """The units of a design as the file has them."""
    return tuple(Unit(place.number, device.name, gain) for place, device, gain in study.units(design))


def steady_designs(done: FinishedPlacement) -> tuple[Design, ...]:
    """Designs to be simulated as they would stand, the one that is advised first.

    One that was tried and would oscillate, or nearly, is left out: its end would not come for a minute.
    """
    if done.decision is None:
        return ()
    wanted = done.decision.design
    tried = () if done.confirmation is None else done.confirmation.built
    steady = [b for b in tried if b.marched is not None and b.count <= len(wanted.ports)]
    safe = [b for b in steady if margin_db(b) >= ENOUGH_MARGIN]
    spare = max(safe, key=lambda b: b.count) if safe else min(steady, key=lambda b: b.count, default=None)
    refused = {b.asked for b in tried} | {b.design for b in tried}
    refused -= {b.design for b in safe}
    chosen = [wanted] if wanted not in refused else []
    return tuple(dict.fromkeys([*chosen, *([spare.design] if spare is not None else [])]))
