"""What a placement study leaves behind of its answer: the design that is advised, how sure it is, what was tried."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from math import nan

from fdtd.placement.study import Design
from fdtd.results.placement_record import (
    Answer,
    Meter,
    PlaceConfidence,
    Searched,
    Sureness,
    Tone,
    Trial,
    Unit,
    UnitsConfidence,
)
from fdtd.scene.schema import Spots
from fdtd.scene.spots import Candidate
from fdtd.study.built import AsInstalled, margin_db
from fdtd.study.confirm import OnWall, simulated_benefit
from fdtd.study.design_figures import shorter
from fdtd.study.finished import FinishedPlacement
from fdtd.study.place import ENOUGH_MARGIN, PlacementStudy, Units


def answer(done: FinishedPlacement) -> Answer | None:
    """What is advised, None if no design was found at all."""
    study, decided = done.study, done.decision
    if decided is None:
        return None
    return Answer(
        decided.worthwhile,
        units_of(study, decided.design),
        shorter(study, decided.figures.ringing),
        decided.why_not,
        decided.margin,
        decided.margin_of_more,
        decided.lowered,
    )


def sureness(done: FinishedPlacement) -> Sureness | None:
    """How sure it is, None if that was left out."""
    study, robust = done.study, done.robustness
    if robust is None:
        return None
    singles = [
        PlaceConfidence(units_of(study, spot.design)[0], spot.first, spot.on_top, spot.behind, spot.figures.benefit)
        for spot in robust.singles
    ]
    counts = [UnitsConfidence(c.count, c.audible, c.figures.benefit, c.adds) for c in robust.counts]
    return Sureness(
        robust.perturbed_rooms, robust.spacing, robust.robust, asdict(robust.doubt), tuple(singles), tuple(counts)
    )


def trials(done: FinishedPlacement) -> tuple[Trial, ...]:
    """Places and winners that were simulated with their units in, () if that was left out."""
    study, confirmed = done.study, done.confirmation
    if confirmed is None:
        return ()
    on_wall = {one.design: one for one in (*confirmed.singles, *confirmed.winners)}.values()
    return (*(_on_wall(study, one) for one in on_wall), *(_as_built(study, one) for one in confirmed.built))


def _on_wall(study: PlacementStudy, one: OnWall) -> Trial:
    units = units_of(study, one.design)
    return Trial(
        "face",
        units,
        one.predicted.benefit,
        simulated_benefit(one),
        one.error,
        nan,
        "grew" if one.simulated is None else "simulated",
        tuple(unit.gain for unit in units),
    )


def _as_built(study: PlacementStudy, one: AsInstalled) -> Trial:
    outcome = "simulated" if one.simulated is not None else "grew" if one.grew else "unstable"
    asked = tuple(gain for _, _, gain in study.units(one.asked))
    why = "" if one.refused is None else str(one.refused)
    return Trial(
        "built",
        units_of(study, one.design),
        one.predicted.benefit,
        simulated_benefit(one),
        nan,
        margin_db(one),
        outcome,
        asked,
        one.refused is not None,
        why,
    )


def searched(study: PlacementStudy) -> tuple[Searched, ...]:
    """How the best design of each number of units was found."""
    return tuple(Searched(s.count, s.tried, s.possible, s.whole) for s in study.found.searched)


def meter(done: FinishedPlacement) -> Meter | None:
    """What a level meter would find, None if that was left out."""
    found = done.loudest
    if found is None:
        return None
    tone = found.tone or Tone(float(found.frequency[0]), nan)
    return Meter(tone, found.spots, found.seat_level, found.level_at([place.at for place in done.study.places]))


def units_of(study: PlacementStudy, design: Design) -> tuple[Unit, ...]:
    """The units of a design as the file has them."""
    return tuple(Unit(place.number, device.name, gain) for place, device, gain in study.units(design))


def placed(spots: Spots, places: Sequence[Candidate], units: Sequence[Unit]) -> Units:
    """Place, device and gain of `units`; the inverse of `units_of`."""
    by_number = {place.number: place for place in places}
    devices = {device.name: device for device in spots.devices}
    return tuple((by_number[u.place], devices[u.device], u.gain) for u in units)


def steady_designs(done: FinishedPlacement) -> tuple[Design, ...]:
    """Designs to be simulated as they would stand, the one that is advised first.

    One that was tried and would oscillate, or nearly, is left out: its end would not come for a minute.
    """
    if done.decision is None:
        return ()
    wanted = done.decision.design
    tried = () if done.confirmation is None else done.confirmation.built
    steady = [b for b in tried if b.simulated is not None and b.count <= len(wanted.ports)]
    safe = [b for b in steady if margin_db(b) >= ENOUGH_MARGIN]
    spare = max(safe, key=lambda b: b.count) if safe else min(steady, key=lambda b: b.count, default=None)
    refused = {b.asked for b in tried} | {b.design for b in tried}
    refused -= {b.design for b in safe}
    chosen = [wanted] if wanted not in refused else []
    return tuple(dict.fromkeys([*chosen, *([spare.design] if spare is not None else [])]))
