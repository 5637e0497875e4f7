"""What the figures, the words and the report of a placement study are made from, as arrays for its result file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdtd.placement.steps import gained
from fdtd.placement.study import Design, design_response
from fdtd.results.layout import XYZ
from fdtd.results.placement_record import Answer, Meter, Spread, Sureness, Trial, Unit, WorstNote
from fdtd.study.design_figures import shorter
from fdtd.study.finished import FinishedPlacement
from fdtd.study.place import PlacementStudy, units_of
from fdtd.study.place_answer import answer, meter, searched, sureness, trials
from fdtd.study.robust import Robustness
from fdtd.study.shortlist import ranked_singles
from fdtd.study.sure import alike

NONE = float("nan")
Arrays = dict[str, NDArray[Any]]
"""Name in the result file -> values; units and meanings are in results/placement_layout.py."""


def text_arrays(done: FinishedPlacement) -> dict[str, Arrays]:
    """Group name -> arrays: ranking, searched, before_after, and as far as they are known returns, answer, sure,
    trials, meter."""
    study, robust = done.study, done.robustness
    groups = {"ranking": _ranking(study, robust), "searched": _searched(study), "before_after": _before_after(done)}
    if study.added:
        groups["returns"] = _returns(study, robust)
    if (found := answer(done)) is not None:
        groups["answer"] = _answer(study, found)
    if notes := done.worst_notes:
        names = [field.name for field in fields(WorstNote) if field.name != "seat"]
        columns = {name: np.array([getattr(note, name) for note in notes]) for name in names}
        groups["worst_notes"] = {
            "note": np.arange(1, len(notes) + 1),
            "of_seat": np.array([note.seat for note in notes]),
            **columns,
        }
    if (sure := sureness(done)) is not None:
        groups |= _sure(study, sure)
    if done.confirmation is not None:
        groups["trials"] = _trials(study, trials(done))
    if (audible := meter(done)) is not None:
        groups["meter"] = _meter(audible)
    return groups


def texts(values: Sequence[str]) -> NDArray:
    """Texts as an array."""
    return np.array(list(values), dtype=object)


def _ranking(study: PlacementStudy, robust: Robustness | None) -> Arrays:
    """Every place once, best first."""
    table, untreated = study.found.singles, study.found.untreated
    rows = {
        (int(p[0]), int(k[0]), int(g[0])): (float(b), *(float(v) for v in figures))
        for p, k, g, b, figures in zip(table.ports, table.kinds, table.gains, table.benefit, table.figures, strict=True)
    }
    designs = ranked_singles(study.found)
    values = np.array([rows[d.ports[0], d.kinds[0], d.gains[0]] for d in designs])
    sure = robust.singles if robust is not None else {}
    known = [
        (s.benefit.low, s.benefit.high, s.on_top) if (s := sure.get(d)) is not None else (NONE,) * 3 for d in designs
    ]
    low, high, on_top = np.array(known).T
    same = {s.unit for s in alike(sure.values())} if sure else set()
    return {
        "rank": np.arange(1, len(designs) + 1),
        **_units(study, [units_of(study, d) for d in designs]),
        "benefit": values[:, 0],
        "shorter": np.array([shorter(study, v) for v in values[:, 1]]),
        "more_even": untreated.uneven - values[:, 2],
        "closer": untreated.spread - values[:, 3],
        "louder": -values[:, 4],
        "benefit_low": low,
        "benefit_high": high,
        "on_top": on_top,
        "helps": np.array([_helps(robust, d) for d in designs]),
        "alike": np.array([units_of(study, d)[0] in same for d in designs]).astype(np.int8),
    }


def _helps(robust: Robustness | None, design: Design) -> float:
    if robust is None or design not in robust.designs:
        return NONE
    return float(np.mean(robust.benefit[:, robust.designs.index(design)] > 0.0))


def _returns(study: PlacementStudy, robust: Robustness | None) -> Arrays:
    """The best of each number of units, from one, against none and against one unit less."""
    steps = study.added
    sure = {c.count: c for c in robust.sure.counts} if robust is not None else {}
    known = [
        (s.benefit.low, s.benefit.high, s.adds.low, s.adds.high, s.audible)
        if (s := sure.get(step.count)) is not None
        else (NONE,) * 5
        for step in steps
    ]
    ranges = ("benefit_low", "benefit_high", "adds_low", "adds_high", "audible_in")
    whole = [gained(study.found.untreated, step.scored.objectives) for step in steps]
    last = [step.gained for step in steps]
    return {
        "count": np.array([s.count for s in steps]),
        **_units(study, [units_of(study, s.scored.design) for s in steps]),
        "benefit": np.array([s.scored.objectives.benefit for s in steps]),
        "adds": np.array([g.benefit for g in last]),
        "added_audible": np.array([int(g.audible and g.benefit > 0.0) for g in last]),
        "helps": np.array([_helps(robust, s.scored.design) for s in steps]),
        **dict(zip(ranges, np.array(known).T, strict=True)),
        "shorter": np.array([g.ringing_at for g in whole]),
        "more_even": np.array([g.uneven_at for g in whole]),
        "louder": np.array([g.level_at for g in whole]),
        "added_shorter": np.array([g.ringing_at for g in last]),
        "added_even": np.array([g.uneven_at for g in last]),
        "audible": np.array([g.audible_at for g in last]).astype(np.int8),
    }


def _searched(study: PlacementStudy) -> Arrays:
    columns = np.array([(s.count, s.tried, s.possible, int(s.whole)) for s in searched(study)], dtype=np.int64)
    return dict(zip(("count", "tried", "possible", "whole"), columns.reshape(-1, 4).T, strict=True))


def _answer(study: PlacementStudy, found: Answer) -> Arrays:
    units = _units(study, [found.units])
    return {
        "worthwhile": np.array(found.worthwhile),
        "shorter": np.array(found.shorter),
        "unit": units.pop("unit"),
        **{name: row for name, (row,) in units.items()},
        "why_not": np.array(found.why_not, dtype=object),
        "benefit": np.array(found.benefit),
        "switched_off": np.array(found.switched_off),
        "margin": np.array(found.margin),
        "margin_of_more": np.array(found.margin_of_more),
        "lowered": np.array(int(found.lowered)),
        "finer_grid": np.array(found.finer_grid),
        "behind": np.array(found.behind),
    }


def _before_after(done: FinishedPlacement) -> Arrays:
    """Levels without units, with the best one, and with the design that is advised."""
    study = done.study
    designs = [Design()]
    if done.decision is not None:
        designs += dict.fromkeys((study.added[0].scored.design, done.decision.design))
    levels = [_level(design_response(study.given, design)) for design in designs]
    return {
        "design": np.arange(1, len(designs) + 1),
        **_units(study, [units_of(study, design) for design in designs]),
        "level": np.array(levels),
    }


def _level(response: NDArray[np.complex128]) -> NDArray[np.float64]:
    return 20.0 * np.log10(np.maximum(np.abs(response), 1e-15))


def _sure(study: PlacementStudy, known: Sureness) -> dict[str, Arrays]:
    singles, counts = known.singles, known.counts
    units = _units(study, [(s.unit,) for s in singles])
    del units["unit"]
    return {
        "sure": {
            "perturbed_rooms": np.array(known.perturbed_rooms),
            "grid": np.array(known.grid),
            "robust": np.array(int(known.robust)),
            **{f"{name}_off": np.array(value) for name, value in known.doubt.items()},
        },
        "sure/singles": {
            "place": units.pop("unit_place")[:, 0],
            **{name: column[:, 0] for name, column in units.items()},
            "first": np.array([s.first for s in singles]),
            "on_top": np.array([s.on_top for s in singles]),
            **_ranges("benefit", [s.benefit for s in singles]),
            **_ranges("behind", [s.behind for s in singles]),
        },
        "sure/counts": {
            "count": np.array([c.count for c in counts]),
            "audible": np.array([c.audible for c in counts]),
            **_ranges("benefit", [c.benefit for c in counts]),
            **_ranges("adds", [c.adds for c in counts]),
        },
    }


def _ranges(name: str, spreads: Sequence[Spread]) -> Arrays:
    ends = ("nominal", "low", "middle", "high")
    return {f"{name}_{end}": np.array([getattr(s, end) for s in spreads]) for end in ends}


def _trials(study: PlacementStudy, made: Sequence[Trial]) -> Arrays:
    units = _units(study, [one.units for one in made])
    asked = np.full(units["unit_gain"].shape, NONE)
    for row, one in zip(asked, made, strict=True):
        row[: len(one.asked)] = one.asked
    numbers = np.array([(t.predicted, t.simulated, t.error, t.margin) for t in made], dtype=float).reshape(-1, 4).T
    return {
        "trial": np.arange(1, len(made) + 1),
        "kind": texts([one.kind for one in made]),
        **units,
        **dict(zip(("predicted", "simulated", "error", "margin"), numbers, strict=True)),
        "outcome": texts([one.outcome for one in made]),
        "gain_asked": asked,
        "refused": np.array([int(one.refused) for one in made]),
    }


def _meter(found: Meter) -> Arrays:
    spots = found.spots
    most = max((len(spot.surfaces) for spot in spots), default=1)
    surfaces = [(*spot.surfaces, *[""] * (most - len(spot.surfaces))) for spot in spots]
    whole = [[int(name in spot.whole) for name in row] for spot, row in zip(spots, surfaces, strict=True)]
    return {
        "tone_frequency": np.array(found.tone.frequency),
        "tone_decay": np.array(found.tone.decay_time),
        "seat_level": found.seat_level,
        "place_level": found.place_level,
        "spot": np.arange(1, len(spots) + 1),
        "meeting": np.arange(1, most + 1),
        "axis": texts(XYZ.fixed),
        "position": np.array([spot.at for spot in spots]).reshape(-1, 3),
        "level": np.array([spot.level for spot in spots]),
        "surface": np.array(surfaces, dtype=object).reshape(-1, most),
        "all_over": np.array(whole, dtype=np.int64).reshape(-1, most),
        "any_height": np.array([int(spot.any_height) for spot in spots]),
        "beside": texts([spot.beside for spot in spots]),
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
        "unit": np.arange(1, most + 1),
        "unit_place": place,
        "unit_device": device,
        "unit_gain": gain,
    }
