"""What the figures and the report of a placement study are made from, as arrays for its result file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdtd.placement.objectives import Objectives
from fdtd.placement.steps import gained
from fdtd.placement.study import Design, design_response
from fdtd.results.placement_record import Answer, Unit
from fdtd.study.built import margin_db
from fdtd.study.confirm import Confirmation
from fdtd.study.finished import FinishedPlacement
from fdtd.study.headline import shorter
from fdtd.study.place import PlacementStudy
from fdtd.study.place_answer import Words, answer, units_of
from fdtd.study.robust import Robustness
from fdtd.study.shortlist import ranked_singles
from fdtd.study.sure import alike

WITHOUT = "without units"
NONE = float("nan")
Arrays = dict[str, NDArray[Any]]
"""Name in the result file -> values; units and meanings are in results/placement_layout.py."""


def told_arrays(done: FinishedPlacement, words: Words) -> dict[str, Arrays]:
    """Group name -> arrays: ranking, returns, answer, before_after, and if they are known trials, sure, tone, words."""
    study, robust, confirmed, meter = done.study, done.robustness, done.confirmation, done.loudest
    groups = {"ranking": _ranking(study, robust), "before_after": _before_after(done)}
    if study.added:
        groups["returns"] = _returns(study, robust)
    found = answer(done)
    if found is not None:
        groups["answer"] = _answer(study, found)
    if robust is not None:
        groups["sure"] = {
            "draws": np.array(robust.draws),
            "grid": np.array(robust.spacing),
            "doubt": np.array(robust.doubt.words, dtype=object),
            "robust": np.array(int(robust.robust)),
        }
    if confirmed is not None:
        groups["trials"] = _trials(study, confirmed)
    if meter is not None:
        groups["tone"] = {
            "tone_frequency": np.array(float(meter.frequency[0])),
            "tone_decay": np.array(meter.tone.decay_time if meter.tone else NONE),
        }
    if words:
        groups["words"] = {
            "line": np.arange(1, len(words) + 1),
            "topic": texts([topic for topic, _ in words]),
            "text": texts([text for _, text in words]),
        }
    return groups


def texts(values: Sequence[str]) -> NDArray:
    """Texts as an array."""
    return np.array(list(values), dtype=object)


def _ranking(study: PlacementStudy, robust: Robustness | None) -> Arrays:
    """Every place once, best first."""
    table, bare = study.found.singles, study.found.bare
    rows = {
        (int(p[0]), int(k[0]), int(g[0])): (float(b), *(float(v) for v in figures))
        for p, k, g, b, figures in zip(
            table.ports, table.kinds, table.gains, table.benefit, table.figures, strict=True
        )
    }  # fmt: skip
    designs = ranked_singles(study.found)
    values = np.array([rows[d.ports[0], d.kinds[0], d.gains[0]] for d in designs])
    sure = {s.design: s for s in robust.singles} if robust is not None else {}
    known = [
        (s.figures.benefit.low, s.figures.benefit.high, s.on_top) if (s := sure.get(d)) is not None else (NONE,) * 3
        for d in designs
    ]
    low, high, on_top = np.array(known).T
    same = {s.design for s in alike(robust.singles)} if robust is not None else set()
    return {
        "rank": np.arange(1, len(designs) + 1),
        **_units(study, [units_of(study, d) for d in designs]),
        "benefit": values[:, 0],
        "shorter": np.array([shorter(study, v) for v in values[:, 1]]),
        "more_even": bare.uneven - values[:, 2],
        "closer": bare.spread - values[:, 3],
        "louder": -values[:, 4],
        "benefit_low": low,
        "benefit_high": high,
        "on_top": on_top,
        "helps": np.array([_helps(robust, d) for d in designs]),
        "alike": np.array([d in same for d in designs]).astype(np.int8),
    }


def _helps(robust: Robustness | None, design: Design) -> float:
    if robust is None or design not in robust.designs:
        return NONE
    return float(np.mean(robust.benefit[:, robust.designs.index(design)] > 0.0))


def _returns(study: PlacementStudy, robust: Robustness | None) -> Arrays:
    """The best of each number of units, from one, against none and against one unit less."""
    steps = study.added
    sure = {c.count: c for c in robust.counts} if robust is not None else {}
    known = [
        (s.figures.benefit.low, s.figures.benefit.high, s.adds.low, s.adds.high, s.heard)
        if (s := sure.get(step.count)) is not None else (NONE,) * 5
        for step in steps
    ]  # fmt: skip
    ranges = ("benefit_low", "benefit_high", "adds_low", "adds_high", "heard_in")
    whole = [gained(study.found.bare, step.scored.objectives) for step in steps]
    last = [step.gained for step in steps]
    return {
        "count": np.array([s.count for s in steps]),
        **_units(study, [units_of(study, s.scored.design) for s in steps]),
        "benefit": np.array([s.scored.objectives.benefit for s in steps]),
        "adds": np.array([g.benefit for g in last]),
        "added_heard": np.array([int(g.heard and g.benefit > 0.0) for g in last]),
        "verdict": texts([s.words for s in steps]),
        "helps": np.array([_helps(robust, s.scored.design) for s in steps]),
        **dict(zip(ranges, np.array(known).T, strict=True)),
        "shorter": np.array([g.ringing_at for g in whole]),
        "more_even": np.array([g.uneven_at for g in whole]),
        "louder": np.array([g.level_at for g in whole]),
        "added_shorter": np.array([g.ringing_at for g in last]),
        "added_even": np.array([g.uneven_at for g in last]),
        "heard": np.array([g.heard_at for g in last]).astype(np.int8),
    }


def _answer(study: PlacementStudy, found: Answer) -> Arrays:
    units = _units(study, [found.units])
    return {
        "worthwhile": np.array(found.worthwhile),
        "shorter": np.array(found.shorter),
        "unit": units.pop("unit"),
        **{name: row for name, (row,) in units.items()},
        "where": texts(found.where),
    }


def _before_after(done: FinishedPlacement) -> Arrays:
    """Levels without units, with the best one, and with the design that is advised."""
    study = done.study
    designs, names = [Design()], [WITHOUT]
    if done.decision is not None:
        for design in dict.fromkeys((study.added[0].scored.design, done.decision.design)):
            designs.append(design)
            units = "1 unit" if len(design.ports) == 1 else f"{len(design.ports)} units"
            places = ", ".join(str(study.places[port].number) for port in design.ports)
            names.append(f"{units} at {places}")
    levels = [_level(design_response(study.given, design)) for design in designs]
    return {"design": texts(names), "level": np.array(levels)}


def _level(response: NDArray[np.complex128]) -> NDArray[np.float64]:
    return 20.0 * np.log10(np.maximum(np.abs(response), 1e-15))


def _trials(study: PlacementStudy, confirmed: Confirmation) -> Arrays:
    """Places and winners that were marched with their units in."""

    def marched(found: Objectives | None) -> float:
        return NONE if found is None else found.benefit

    rows: list[tuple[str, Design, float, float, float, float]] = [
        ("face", one.design, one.predicted.benefit, marched(one.marched), one.error, NONE)
        for one in {o.design: o for o in (*confirmed.singles, *confirmed.winners)}.values()
    ]
    rows += [("built", b.design, b.predicted.benefit, marched(b.marched), NONE, margin_db(b)) for b in confirmed.built]
    numbers = np.array([row[2:] for row in rows], dtype=float).reshape(-1, 4).T
    return {
        "trial": np.arange(1, len(rows) + 1),
        "kind": texts([row[0] for row in rows]),
        **_units(study, [units_of(study, row[1]) for row in rows]),
        **dict(zip(("predicted", "marched", "error", "margin"), numbers, strict=True)),
    }


def _units(study: PlacementStudy, rows: Sequence[tuple[Unit, ...]]) -> Arrays:
    """Place, device and gain of each unit of each row, padded with 0, -1 and NaN."""
    most = max((len(row) for row in rows), default=1) or 1
    devices = [d.name for d in study.spots.devices]
    shape = (len(rows), most)
    place, device, gain = np.zeros(shape, int), np.full(shape, -1), np.full(shape, np.nan)
    for k, row in enumerate(rows):
        for n, unit in enumerate(row):
            place[k, n], device[k, n], gain[k, n] = unit.place, devices.index(unit.device), unit.gain
    return {
        "unit": np.arange(1, most + 1), "unit_place": place, "unit_device": device, "unit_gain": gain,
    }  # fmt: skip
