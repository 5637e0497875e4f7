"""What a placement study leaves behind of its answer: the design that is advised, how sure it is, what was tried."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import nan

from fdtd.placement.study import Design
from fdtd.results.placement_record import Answer, Meter, Searched, Sureness, Tone, Trial, Unit
from fdtd.scene.schema import Spots
from fdtd.scene.spots import Candidate
from fdtd.study.built import Tried, margin_db
from fdtd.study.confirm import simulated_benefit
from fdtd.study.design_figures import shorter
from fdtd.study.finished import FinishedPlacement
from fdtd.study.place import ENOUGH_MARGIN, PlacementStudy, Units, units_of


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
        decided.figures.benefit,
        decided.switched_off,
        decided.margin,
        decided.margin_of_more,
        decided.lowered,
        nan if done.finer is None else done.finer.grid,
        done.behind,
    )


def sureness(done: FinishedPlacement) -> Sureness | None:
    """How sure it is, None if that was left out."""
    return None if done.robustness is None else done.robustness.sure


def trials(done: FinishedPlacement) -> tuple[Trial, ...]:
    """Places and winners that were simulated with their units in, () if that was left out."""
    study, confirmed = done.study, done.confirmation
    if confirmed is None:
        return ()
    on_wall = {one.design: one for one in (*confirmed.singles, *confirmed.winners)}.values()
    return (*(_trial(study, "face", one) for one in on_wall), *(_trial(study, "built", one) for one in confirmed.built))


def _trial(study: PlacementStudy, kind: str, one: Tried) -> Trial:
    return Trial(
        kind,
        units_of(study, one.design),
        one.predicted.benefit,
        simulated_benefit(one),
        one.error if kind == "face" else nan,
        margin_db(one) if kind == "built" else nan,
        "simulated" if one.simulated is not None else "grew" if one.grew else "unstable",
        tuple(gain for _, _, gain in study.units(one.asked)),
        one.refused is not None,
        "" if one.refused is None else str(one.refused),
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
    count: Callable[[Tried], int] = lambda b: len(b.design.ports)  # noqa: E731
    steady = [b for b in tried if b.simulated is not None and count(b) <= len(wanted.ports)]
    safe = [b for b in steady if margin_db(b) >= ENOUGH_MARGIN]
    spare = max(safe, key=count) if safe else min(steady, key=count, default=None)
    refused = {b.asked for b in tried} | {b.design for b in tried}
    refused -= {b.design for b in safe}
    chosen = [wanted] if wanted not in refused else []
    return tuple(dict.fromkeys([*chosen, *([spare.design] if spare is not None else [])]))
