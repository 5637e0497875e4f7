"""The answer of a placement study: the design that is advised, and everything that is said of it, by topic."""

from __future__ import annotations

from fdtd.placement.study import Design
from fdtd.results.placement_record import Answer, Unit
from fdtd.study import advice
from fdtd.study.built import ENOUGH_MARGIN, Built
from fdtd.study.confirm import Confirmation
from fdtd.study.headline import first_choice
from fdtd.study.landmarks import seen_from_things
from fdtd.study.loudest import LoudestMap
from fdtd.study.place import PlacementStudy
from fdtd.study.robust import Robustness

Words = tuple[tuple[str, str], ...]


def place_words(
    study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None, meter: LoudestMap | None,
    kept: str,
) -> Words:  # fmt: skip
    """(topic, text) in the order in which they are told; kept : folder of the measured places, in words.

    Topics: headline, doubt, count, first, further (one for each more unit), sure, tried, measured, meter, before.
    """
    told = advice.paragraphs(study, robust, confirmed)
    told += [("measured", f"{advice.reused(study, kept)} Searched: {study.found.method}.")]
    told += [("meter", advice.with_a_meter(study, meter))] if meter is not None else []
    return (*told, ("before", advice.MAINS))


def advised(study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None) -> Design:
    """The design to build: as many units as are worth while, at least one, at gains known to be stable.

    `study` must have found some design (`study.added`).
    """
    count = max(advice.worthwhile(study, robust, confirmed), 1)
    best = study.added[count - 1].scored.design
    if count == 1 and (first := first_choice(study, robust)) != best:
        return first
    built = _built(count, confirmed)
    return built.design if built is not None and built.marched is not None else best


def answer(study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None) -> Answer | None:
    """What is advised, None if no design was found at all."""
    if not study.added:
        return None
    design = advised(study, robust, confirmed)
    where = tuple(seen_from_things(place, study.variant) for place, _, _ in study.units(design))
    return Answer(advice.worthwhile(study, robust, confirmed), units_of(study, design), where)


def units_of(study: PlacementStudy, design: Design) -> tuple[Unit, ...]:
    """The units of a design as the file has them."""
    return tuple(Unit(place.number, device.name, gain) for place, device, gain in study.units(design))


def steady_designs(
    study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None
) -> tuple[Design, ...]:
    """Designs to be simulated as they would stand, the one that is advised first.

    One that was tried and would oscillate, or nearly, is left out: its end would not come for a minute.
    """
    if not study.added:
        return ()
    wanted = advised(study, robust, confirmed)
    tried = () if confirmed is None else confirmed.built
    steady = [b for b in tried if b.marched is not None and b.count <= len(wanted.ports)]
    safe = [b for b in steady if advice.margin_db(b) >= ENOUGH_MARGIN]
    spare = max(safe, key=lambda b: b.count) if safe else min(steady, key=lambda b: b.count, default=None)
    refused = {b.asked for b in tried} | {b.design for b in tried}
    refused -= {b.design for b in safe}
    chosen = [wanted] if wanted not in refused else []
    return tuple(dict.fromkeys([*chosen, *([spare.design] if spare is not None else [])]))


def _built(count: int, confirmed: Confirmation | None) -> Built | None:
    return None if confirmed is None else next((b for b in confirmed.built if b.count == count), None)


