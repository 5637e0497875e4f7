"""A placement study as labelled arrays, for its result file (docs/result-file.md)."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

import fdtd
from fdtd.listening.threshold_words import extrapolated_range
from fdtd.placement.objectives import Objectives
from fdtd.placement.search import Scored
from fdtd.placement.study import Design
from fdtd.results.derived import LabelledArray
from fdtd.study.confirm import Confirmation
from fdtd.study.loudest import LoudestMap
from fdtd.study.place import PlacementStudy, played
from fdtd.study.place_answer import Words
from fdtd.study.place_told import told_arrays
from fdtd.study.robust import Robustness

PRESSURE = "Pa/(m3/s)"
FIGURES = {
    "ringing": (
        "octave",
        f"mean over log frequency of the octaves that decays are above the threshold ({extrapolated_range()})",
    ),
    "uneven": ("dB", "standard deviation of the level over log frequency, mean over seats"),
    "spread": ("dB", "standard deviation of the level between seats, mean over log frequency"),
    "loss": ("dB", "mean level below that of the room without units"),
    "benefit": ("dB", "score against the room without units"),
}
AT_SEATS = {
    "ringing_at": ("octave", "ringing at each seat by itself"),
    "uneven_at": ("dB", "unevenness at each seat"),
    "level_at": ("dB", "mean level at each seat, re a source of level 0 in free field at 1 m"),
}


def placement_attributes(study: PlacementStudy, precision: str) -> dict[str, str | float]:
    """Attributes of the root."""
    return {
        "version": fdtd.__version__,
        "created": datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
        "title": study.scene.title,
        "computed_from": study.response.key,
        "precision": precision,
        "method": study.found.method,
        "designs": float(study.found.number),
        "grid": study.spacing,
        "grid_units": "m",
        "speed_of_sound": study.scene.air.speed_of_sound,
        "speed_of_sound_units": "m/s",
        "density": study.scene.air.density,
        "density_units": "kg/m3",
    }


def placement_arrays(
    study: PlacementStudy, robust: Robustness | None, precision: str, confirmed: Confirmation | None = None,
    meter: LoudestMap | None = None, words: Words = (),
) -> dict[str, list[LabelledArray]]:  # fmt: skip
    """Group name, "" for the root -> arrays. Matrices of a march in single precision are complex64.

    confirmed, meter, words : what was tried, what a level meter would show, what is said of it, as far as known
    """
    groups = {
        "": [*_axes(study), *_matrices(study, np.dtype(np.complex64 if precision == "single" else np.complex128))],
        "places": _places(study),
        "singles": _singles(study),
        "best": _designs(study, "design", study.found.best),
        "counts": _designs(study, "count", [s for s in study.found.best_of_count if s is not None], first=0),
        "pareto": _designs(study, "design", study.found.pareto),
    }
    if robust is not None:
        groups["sure/singles"] = _sure_singles(study, robust)
        groups["sure/counts"] = _sure_counts(robust)
    return groups | told_arrays(study, robust, confirmed, meter, words)


def _axes(study: PlacementStudy) -> list[LabelledArray]:
    start, spots = study.variant, study.spots
    numbers = np.array([p.number for p in study.places])
    axes = [
        ("frequency", "Hz", "frequency of the matrices", study.given.frequency),
        ("source", "1", "name of the source", _texts([s.name for s in start.sources])),
        ("seat", "1", "name of the seat", _texts([s.name for s in start.seats])),
        ("place", "1", "number of the place", numbers),
        ("driven_place", "1", "number of the place that is driven", numbers),
        ("device", "1", "name of the device", _texts([d.name for d in spots.devices])),
        ("gain", "1", "gain of the device", np.asarray(spots.gains, dtype=float)),
    ]
    return [
        LabelledArray("scene", (), "1", "text of the scene file", np.array(study.scene.text, dtype=object)),
        *(LabelledArray(name, (name,), units, meaning, data) for name, units, meaning, data in axes),
    ]


def _matrices(study: PlacementStudy, kind: np.dtype) -> list[LabelledArray]:
    m, faces = study.response.matrices, study.response.faces
    factor = played(study.variant, m.frequency, study.scene.air.density)
    weight = study.given.weights
    pressure = "pressure {} per volume velocity of {}, the room without units"
    return [
        LabelledArray(name, axes, PRESSURE, pressure.format(*told), values.astype(kind))
        for name, axes, told, values in (
            ("seats_from_sources", ("frequency", "source", "seat"), ("at the seat", "the source"),
             m.seats_from_sources),
            ("places_from_sources", ("frequency", "source", "place"), ("on the place", "the source"),
             m.ports_from_sources),
            ("seats_from_places", ("frequency", "driven_place", "seat"), ("at the seat", "the place"),
             m.seats_from_ports),
            ("places_from_places", ("frequency", "driven_place", "place"), ("on the place", "the driven place"),
             m.ports_from_ports),
        )
    ] + [
        LabelledArray("playback", ("source", "frequency"), "m3/(s Pa)",
                      "factor of each source when all play, over the pressure in free field at 1 m per volume velocity",
                      factor),
        LabelledArray("admittance", ("device", "gain", "frequency", "place"), "m3/(s Pa)",
                      "volume velocity that the device takes per pressure of the place", study.given.admittance),
        LabelledArray("face_area", ("place",), "m2", "area of the face", faces.area),
        LabelledArray("air_mass", ("place",), "kg/m2", "air of half a cell before the face", faces.air_mass),
        LabelledArray("seat_weight", ("seat",), "1", "how much the seat counts", np.asarray(weight, dtype=float)),
    ]  # fmt: skip


def _places(study: PlacementStudy) -> list[LabelledArray]:
    places = study.places
    texts = {
        "words": "where the place is", "on": "surface that it is on",
        "corner": "corner, edge or face: how many surfaces rise beside it",
    }  # fmt: skip
    return [
        *(
            LabelledArray(name, ("place",), "1", meaning, _texts([getattr(p, name) for p in places]))
            for name, meaning in texts.items()
        ),
        LabelledArray("axis", ("axis",), "1", "axis", _texts(["x", "y", "z"])),
        LabelledArray("position", ("place", "axis"), "m", "centre of the face", np.array([p.at for p in places])),
        LabelledArray("excludes", ("driven_place", "place"), "1", "1: not both at once",
                      np.asarray(study.given.excludes).astype(np.int8)),
    ]  # fmt: skip


def _singles(study: PlacementStudy) -> list[LabelledArray]:
    table = study.found.singles
    order = np.argsort(-table.benefit, kind="stable")
    rank = np.arange(1, len(order) + 1)
    arrays = [LabelledArray("rank", ("rank",), "1", "rank by benefit, 1 the best", rank)]
    arrays += _choice(study, "rank", table.ports[order, 0], table.kinds[order, 0], table.gains[order, 0], ())
    columns = [*(table.figures[order].T), table.benefit[order]]
    for (name, (units, meaning)), values in zip(FIGURES.items(), columns, strict=True):
        arrays.append(LabelledArray(name, ("rank",), units, meaning, values))
    return arrays


def _choice(
    study: PlacementStudy, axis: str, ports: NDArray, kinds: NDArray, gains: NDArray, more: tuple[str, ...]
) -> list[LabelledArray]:
    """Place, device and gain of each unit; ports -1: no unit."""
    numbers = np.array([p.number for p in study.places])
    gain = np.asarray(study.spots.gains, dtype=float)
    there = ports >= 0
    return [
        LabelledArray("unit_place", (axis, *more), "1", "number of the place, 0: no unit",
                      np.where(there, numbers[ports], 0)),
        LabelledArray("unit_device", (axis, *more), "1", "device on it, counted from 0 along /device, -1: no unit",
                      np.where(there, kinds, -1)),
        LabelledArray("unit_gain", (axis, *more), "1", "its gain, NaN: no unit",
                      np.where(there, gain[gains], np.nan)),
    ]  # fmt: skip


def _designs(study: PlacementStudy, axis: str, scored: Sequence[Scored], first: int = 1) -> list[LabelledArray]:
    most = max((len(s.design.ports) for s in scored), default=1) or 1
    ports, kinds, gains = (_padded([s.design for s in scored], name, most) for name in ("ports", "kinds", "gains"))
    count = "number of units" if axis == "count" else "number of the design, the best first"
    arrays = [
        LabelledArray(axis, (axis,), "1", count, np.arange(first, first + len(scored))),
        LabelledArray("unit", ("unit",), "1", "number of the unit", np.arange(1, most + 1)),
        *_choice(study, axis, ports, kinds, gains, ("unit",)),
    ]  # fmt: skip
    objectives = [s.objectives for s in scored]
    for name, (units, meaning) in FIGURES.items():
        arrays.append(LabelledArray(name, (axis,), units, meaning, np.array([getattr(o, name) for o in objectives])))
    return arrays + _seat_figures(axis, objectives)


def _seat_figures(axis: str, objectives: Sequence[Objectives]) -> list[LabelledArray]:
    return [
        LabelledArray(name, (axis, "seat"), units, meaning, np.array([getattr(o, name) for o in objectives]))
        for name, (units, meaning) in AT_SEATS.items()
    ]


def _padded(designs: Sequence[Design], name: str, most: int) -> NDArray[np.int64]:
    rows = [[*getattr(d, name), *[-1] * (most - len(d.ports))] for d in designs]
    return np.array(rows, dtype=np.int64).reshape(len(designs), most)


def _sure_singles(study: PlacementStudy, robust: Robustness) -> list[LabelledArray]:
    numbers = [study.places[s.design.ports[0]].number for s in robust.singles]
    arrays = [
        LabelledArray("place", ("place",), "1", "number of the place", np.array(numbers)),
        LabelledArray("first", ("place",), "1", "share of the draws in which it is first",
                      np.array([s.first for s in robust.singles])),
        LabelledArray("on_top", ("place",), "1", "share of the draws in which it is among the first three",
                      np.array([s.on_top for s in robust.singles])),
    ]  # fmt: skip
    return arrays + _ranges("place", "benefit", "benefit", [s.figures.benefit for s in robust.singles])


def _sure_counts(robust: Robustness) -> list[LabelledArray]:
    return [
        LabelledArray("count", ("count",), "1", "number of units", np.array([c.count for c in robust.counts])),
        LabelledArray("heard", ("count",), "1", "share of the draws in which the last unit is heard, for the better",
                      np.array([c.heard for c in robust.counts])),
        *_ranges("count", "benefit", "benefit", [c.figures.benefit for c in robust.counts]),
        *_ranges("count", "adds", "benefit over the best of one unit less", [c.adds for c in robust.counts]),
    ]  # fmt: skip


def _ranges(axis: str, name: str, meaning: str, spreads: Sequence) -> list[LabelledArray]:
    told = {"nominal": "the room as described, that of the study", "low": "10 % of the draws are below",
            "middle": "median of the draws", "high": "10 % of the draws are above"}  # fmt: skip
    return [
        LabelledArray(
            f"{name}_{end}", (axis,), "dB", f"{meaning}: {words}", np.array([getattr(s, end) for s in spreads])
        )
        for end, words in told.items()
    ]


def _texts(values: Sequence[str]) -> NDArray:
    return np.array(list(values), dtype=object)
