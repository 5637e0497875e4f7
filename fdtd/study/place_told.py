"""What the figures and the report of a placement study are made from, as arrays for its result file."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fdtd.placement.objectives import Objectives
from fdtd.placement.steps import gained
from fdtd.placement.study import Design, design_response
from fdtd.results.derived import LabelledArray
from fdtd.results.placement_record import Answer, Unit
from fdtd.study.built import margin_db
from fdtd.study.confirm import Confirmation
from fdtd.study.headline import shorter
from fdtd.study.loudest import LoudestMap
from fdtd.study.place import PlacementStudy
from fdtd.study.place_answer import Words, advised, answer, units_of
from fdtd.study.robust import Robustness
from fdtd.study.shortlist import ranked_singles
from fdtd.study.sure import alike

WITHOUT = "without units"
NONE = float("nan")


def told_arrays(
    study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None, meter: LoudestMap | None,
    words: Words,
) -> dict[str, list[LabelledArray]]:  # fmt: skip
    """Group name -> arrays: ranking, returns, answer, before_after, and if they are known trials, sure, tone, words."""
    groups = {"ranking": _ranking(study, robust), "before_after": _before_after(study, robust, confirmed)}
    if study.added:
        groups["returns"] = _returns(study, robust)
    found = answer(study, robust, confirmed)
    if found is not None:
        groups["answer"] = _answer(study, found)
    if robust is not None:
        groups["sure"] = [
            _number("draws", "perturbed rooms", robust.draws),
            _number("grid", "longest cell edge in them", robust.spacing, "m"),
            LabelledArray("doubt", (), "1", "what was varied, and by how much",
                          np.array(robust.doubt.words, dtype=object)),
            _number("robust", "1: the first place stays ahead of all others of the shortlist", int(robust.robust)),
        ]  # fmt: skip
    if confirmed is not None:
        groups["trials"] = _trials(study, confirmed)
    if meter is not None:
        groups["tone"] = [
            _number("tone_frequency", "the note that rings worst without units", float(meter.frequency[0]), "Hz"),
            _number("tone_decay", "its decay time for 60 dB", meter.tone.decay_time if meter.tone else NONE, "s"),
        ]
    if words:
        groups["words"] = [
            LabelledArray("line", ("line",), "1", "number of the text", np.arange(1, len(words) + 1)),
            _texts("topic", "line", "what the text is about", [topic for topic, _ in words]),
            _texts("text", "line", "what is said of it", [text for _, text in words]),
        ]
    return groups


def _ranking(study: PlacementStudy, robust: Robustness | None) -> list[LabelledArray]:
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
    return [
        LabelledArray("rank", ("rank",), "1", "rank of the place, 1 the best", np.arange(1, len(designs) + 1)),
        *_unit_arrays(study, "rank", [units_of(study, d) for d in designs]),
        LabelledArray("benefit", ("rank",), "dB", "score against the room without units", values[:, 0]),
        LabelledArray("shorter", ("rank",), "1", "mean share by which what rings dies away sooner",
                      np.array([shorter(study, v) for v in values[:, 1]])),
        LabelledArray("more_even", ("rank",), "dB", "more even over frequency", bare.uneven - values[:, 2]),
        LabelledArray("closer", ("rank",), "dB", "seats closer to each other", bare.spread - values[:, 3]),
        LabelledArray("louder", ("rank",), "dB", "mean level above that without units", -values[:, 4]),
        LabelledArray("benefit_low", ("rank",), "dB", "10 % of the perturbed rooms are below, NaN: not tried", low),
        LabelledArray("benefit_high", ("rank",), "dB", "10 % of the perturbed rooms are above, NaN: not tried", high),
        LabelledArray("on_top", ("rank",), "1", "share of them in which it is among the first three", on_top),
        LabelledArray("helps", ("rank",), "1", "share of them in which it is better than no unit",
                      np.array([_helps(robust, d) for d in designs])),
        LabelledArray("alike", ("rank",), "1", "1: can't be told from the first place, as far as the room is known",
                      np.array([d in same for d in designs]).astype(np.int8)),
    ]  # fmt: skip


def _helps(robust: Robustness | None, design: Design) -> float:
    if robust is None or design not in robust.designs:
        return NONE
    return float(np.mean(robust.benefit[:, robust.designs.index(design)] > 0.0))


def _returns(study: PlacementStudy, robust: Robustness | None) -> list[LabelledArray]:
    """The best of each number of units, from one, against none and against one unit less."""
    steps = study.added
    sure = {c.count: c for c in robust.counts} if robust is not None else {}
    known = [
        (s.figures.benefit.low, s.figures.benefit.high, s.adds.low, s.adds.high, s.heard)
        if (s := sure.get(step.count)) is not None else (NONE,) * 5
        for step in steps
    ]  # fmt: skip
    columns = zip(
        ("benefit_low", "benefit_high", "adds_low", "adds_high", "heard_in"), np.array(known).T, strict=True
    )
    whole = [gained(study.found.bare, step.scored.objectives) for step in steps]
    last = [step.gained for step in steps]
    seats = (
        ("shorter", "1", "share by which what rings dies sooner than without units", [g.ringing_at for g in whole]),
        ("more_even", "dB", "more even than without units", [g.uneven_at for g in whole]),
        ("louder", "dB", "mean level above that without units", [g.level_at for g in whole]),
        ("added_shorter", "1", "the same share, of the last unit", [g.ringing_at for g in last]),
        ("added_even", "dB", "more even, by the last unit", [g.uneven_at for g in last]),
        ("heard", "1", "1: the last unit is heard at the seat", [g.heard_at.astype(np.int8) for g in last]),
    )  # fmt: skip
    count = ("count",)
    return [
        LabelledArray("count", count, "1", "number of units", np.array([s.count for s in steps])),
        *_unit_arrays(study, "count", [units_of(study, s.scored.design) for s in steps]),
        LabelledArray("benefit", count, "dB", "score against no unit",
                      np.array([s.scored.objectives.benefit for s in steps])),
        LabelledArray("adds", count, "dB", "score against one unit less", np.array([g.benefit for g in last])),
        LabelledArray("added_heard", count, "1", "1: the last unit is heard somewhere, for the better",
                      np.array([int(g.heard and g.benefit > 0.0) for g in last])),
        _texts("verdict", "count", "what the last unit does", [s.words for s in steps]),
        LabelledArray("helps", count, "1", "share of the perturbed rooms in which it is better than no unit",
                      np.array([_helps(robust, s.scored.design) for s in steps])),
        *(LabelledArray(name, count, "1" if name == "heard_in" else "dB", "from the perturbed rooms", values)
          for name, values in columns),
        *(LabelledArray(name, ("count", "seat"), units, meaning, np.array(values))
          for name, units, meaning, values in seats),
    ]  # fmt: skip


def _answer(study: PlacementStudy, found: Answer) -> list[LabelledArray]:
    return [
        _number("worthwhile", "units that are worth while", found.worthwhile),
        _number("shorter", "mean share by which what rings dies away sooner with them", found.shorter),
        LabelledArray("unit", ("unit",), "1", "number of the unit", np.arange(1, len(found.units) + 1)),
        *_unit_columns(study, "unit", found.units),
        _texts("where", "unit", "where it is, seen from loudspeakers and seats", found.where),
    ]


def _before_after(
    study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None
) -> list[LabelledArray]:
    """Levels without units, with the best one, and with the design that is advised."""
    designs, names = [Design()], [WITHOUT]
    if study.added:
        for design in dict.fromkeys((study.added[0].scored.design, advised(study, robust, confirmed))):
            designs.append(design)
            units = "1 unit" if len(design.ports) == 1 else f"{len(design.ports)} units"
            places = ", ".join(str(study.places[port].number) for port in design.ports)
            names.append(f"{units} at {places}")
    levels = [_level(design_response(study.given, design)) for design in designs]
    return [
        _texts("design", "design", "which units", names),
        LabelledArray("level", ("design", "frequency", "seat"), "dB",
                      "level re a source of level 0 in free field at 1 m", np.array(levels)),
    ]  # fmt: skip


def _level(response: NDArray[np.complex128]) -> NDArray[np.float64]:
    return 20.0 * np.log10(np.maximum(np.abs(response), 1e-15))


def _trials(study: PlacementStudy, confirmed: Confirmation) -> list[LabelledArray]:
    """Places and winners that were marched with their units in."""
    def marched(found: Objectives | None) -> float:
        return NONE if found is None else found.benefit

    rows: list[tuple[str, Design, float, float, float, float]] = [
        ("face", one.design, one.predicted.benefit, marched(one.marched), one.error, NONE)
        for one in {o.design: o for o in (*confirmed.singles, *confirmed.winners)}.values()
    ]
    rows += [("built", b.design, b.predicted.benefit, marched(b.marched), NONE, margin_db(b)) for b in confirmed.built]
    numbers = np.array([row[2:] for row in rows], dtype=float).reshape(-1, 4).T
    meanings = (
        ("predicted", "benefit that was predicted"), ("marched", "benefit of the march, NaN: the field grew"),
        ("error", "largest difference of level at the seats, NaN: not looked at"),
        ("margin", "gain left before active units oscillate, infinite without any, NaN: not looked at"),
    )  # fmt: skip
    return [
        LabelledArray("trial", ("trial",), "1", "number of the trial", np.arange(1, len(rows) + 1)),
        _texts("kind", "trial", "face: in the plane of the wall; built: as it would stand", [row[0] for row in rows]),
        *_unit_arrays(study, "trial", [units_of(study, row[1]) for row in rows]),
        *(LabelledArray(name, ("trial",), "dB", meaning, values)
          for (name, meaning), values in zip(meanings, numbers, strict=True)),
    ]  # fmt: skip


def _unit_arrays(study: PlacementStudy, axis: str, rows: Sequence[tuple[Unit, ...]]) -> list[LabelledArray]:
    """Place, device and gain of each unit of each row, padded with 0, -1 and NaN."""
    most = max((len(row) for row in rows), default=1) or 1
    devices = [d.name for d in study.spots.devices]
    shape = (len(rows), most)
    place, device, gain = np.zeros(shape, int), np.full(shape, -1), np.full(shape, np.nan)
    for k, row in enumerate(rows):
        for n, unit in enumerate(row):
            place[k, n], device[k, n], gain[k, n] = unit.place, devices.index(unit.device), unit.gain
    axes = (axis, "unit")
    return [
        LabelledArray("unit", ("unit",), "1", "number of the unit", np.arange(1, most + 1)),
        LabelledArray("unit_place", axes, "1", "number of the place, 0: no unit", place),
        LabelledArray("unit_device", axes, "1", "device on it, counted from 0 along /device, -1: no unit", device),
        LabelledArray("unit_gain", axes, "1", "its gain, NaN: no unit", gain),
    ]


def _unit_columns(study: PlacementStudy, axis: str, units: Sequence[Unit]) -> list[LabelledArray]:
    devices = [d.name for d in study.spots.devices]
    return [
        LabelledArray("unit_place", (axis,), "1", "number of the place", np.array([u.place for u in units])),
        LabelledArray("unit_device", (axis,), "1", "device on it, counted from 0 along /device",
                      np.array([devices.index(u.device) for u in units])),
        LabelledArray("unit_gain", (axis,), "1", "its gain", np.array([u.gain for u in units])),
    ]  # fmt: skip


def _number(name: str, meaning: str, value: float, units: str = "1") -> LabelledArray:
    return LabelledArray(name, (), units, meaning, np.array(value))


def _texts(name: str, axis: str, meaning: str, values: Sequence[str]) -> LabelledArray:
    return LabelledArray(name, (axis,), "1", meaning, np.array(list(values), dtype=object))
