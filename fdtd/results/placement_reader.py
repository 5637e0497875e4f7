"""Read the result file of a placement study: what its figures, its words and its report are made from."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from fdtd.results.checked import text_of
from fdtd.results.opening import PLACEMENT, is_placement, opened
from fdtd.results.placement_record import (
    Answer,
    CountRecord,
    LoudSpot,
    Meter,
    PlaceConfidence,
    PlacementFile,
    PlaceRecord,
    RankedPlace,
    Searched,
    Spread,
    Sureness,
    Tone,
    Trial,
    Unit,
    UnitsConfidence,
    WorstNote,
)

__all__ = ["is_placement", "read_placement"]


def read_placement(path: str | Path) -> PlacementFile:
    """Read the result file of a placement study, all but its matrices.

    Raises
    ------
    ResultFileError
        If the file is missing, is not that of a placement study, has another format number, or is damaged.
    """
    with opened(path, PLACEMENT) as file:
        return _read(file)


def _read(file: h5py.File) -> PlacementFile:
    names = tuple(file["device"].asstr()[()])
    return PlacementFile(
        **{name: text_of(file.attrs[name]) for name in ("title", "created", "computed_from", "precision")},
        scene_text=file["scene"].asstr()[()],
        program_version=text_of(file.attrs["version"]),
        designs=int(file.attrs["designs"]),
        grid=float(file.attrs["grid"]),
        reused=float(file.attrs["reused"]),
        seats=tuple(file["seat"].asstr()[()]),
        sources=tuple(file["source"].asstr()[()]),
        devices=names,
        gains=tuple(float(g) for g in file["gain"][()]),
        places=_places(file),
        ranked=_ranked(file["ranking"], names),
        counts=_counts(file["returns"], names) if "returns" in file else (),
        answer=_answer(file["answer"], names) if "answer" in file else None,
        sureness=_sureness(file["sure"], names) if "sure" in file else None,
        trials=_trials(file["trials"], names) if "trials" in file else (),
        searched=_searched(file["searched"]),
        frequency=file["frequency"][()],
        level_units=tuple(_units(file["before_after"], k, names) for k in range(len(file["before_after/design"]))),
        levels=file["before_after/level"][()],
        meter=_meter(file["meter"]) if "meter" in file else None,
        worst_notes=_worst_notes(file["worst_notes"]) if "worst_notes" in file else (),
    )


def _worst_notes(group: h5py.Group) -> tuple[WorstNote, ...]:
    rows = _columns(group, {field.name: field.name for field in fields(WorstNote) if field.name != "seat"})
    return tuple(WorstNote(seat=int(seat), **row) for seat, row in zip(group["of_seat"][()], rows, strict=True))


def _places(file: h5py.File) -> tuple[PlaceRecord, ...]:
    group, numbers = file["places"], file["place"][()]
    on, corner, height = (group[name].asstr()[()] for name in ("on", "corner", "height"))
    bottom, at = group["bottom"][()], group["position"][()]
    return tuple(
        PlaceRecord(int(numbers[k]), on[k], corner[k], height[k], float(bottom[k]), _point(at[k]))
        for k in range(len(numbers))
    )


def _point(values: Any) -> tuple[float, float, float]:
    x, y, z = (float(value) for value in values)
    return x, y, z


def _units(group: h5py.Group, row: int, names: tuple[str, ...]) -> tuple[Unit, ...]:
    columns = [group[name][row] for name in ("unit_place", "unit_device", "unit_gain")]
    return tuple(Unit(int(p), names[int(d)], float(g)) for p, d, g in zip(*columns, strict=True) if int(p) > 0)


def _columns(group: h5py.Group, names: dict[str, str]) -> list[dict[str, Any]]:
    """Row by row {field: number}; names : field -> dataset"""
    data = {field: group[name][()] for field, name in names.items()}
    count = len(next(iter(data.values())))
    return [{field: float(values[k]) for field, values in data.items()} for k in range(count)]


def _ranked(group: h5py.Group, names: tuple[str, ...]) -> tuple[RankedPlace, ...]:
    same = {name: name for name in ("benefit", "shorter", "louder", "on_top", "helps")}
    fields = same | {"uneven": "more_even", "spread": "closer", "low": "benefit_low", "high": "benefit_high"}
    return tuple(
        RankedPlace(unit=_units(group, k, names)[0], alike=bool(group["alike"][k]), **row)
        for k, row in enumerate(_columns(group, fields))
    )


def _counts(group: h5py.Group, names: tuple[str, ...]) -> tuple[CountRecord, ...]:
    same = {name: name for name in ("benefit", "adds", "audible_in", "helps")}
    rows = _columns(group, same | {"low": "benefit_low", "high": "benefit_high"})
    seats = {"shorter": "shorter", "uneven": "more_even", "louder": "louder"}
    return tuple(
        CountRecord(
            count=int(group["count"][k]),
            units=_units(group, k, names),
            audible=np.asarray(group["audible"][k], dtype=bool),
            **row,
            **{field: group[name][k] for field, name in seats.items()},
        )
        for k, row in enumerate(rows)
    )


def _answer(group: h5py.Group, names: tuple[str, ...]) -> Answer:
    columns = [group[name][()] for name in ("unit_place", "unit_device", "unit_gain")]
    units = tuple(Unit(int(p), names[int(d)], float(g)) for p, d, g in zip(*columns, strict=True))
    found = {
        name: float(group[name][()]) for name in ("shorter", "benefit", "switched_off", "margin", "margin_of_more")
    }
    lowered, why_not = bool(group["lowered"][()]), text_of(group["why_not"][()])
    return Answer(int(group["worthwhile"][()]), units, why_not=why_not, lowered=lowered, **found)


def _sureness(group: h5py.Group, names: tuple[str, ...]) -> Sureness | None:
    if "perturbed_rooms" not in group:
        return None
    perturbed_rooms, grid, robust = (group[name][()] for name in ("perturbed_rooms", "grid", "robust"))
    doubt = {name.removesuffix("_off"): float(group[name][()]) for name in group if name.endswith("_off")}
    return Sureness(
        int(perturbed_rooms),
        float(grid),
        bool(robust),
        doubt,
        _sure_places(group["singles"], names),
        _sure_units(group["counts"]),
    )


def _sure_places(group: h5py.Group, names: tuple[str, ...]) -> tuple[PlaceConfidence, ...]:
    columns = [group[name][()] for name in ("place", "unit_device", "unit_gain", "first", "on_top")]
    spans = zip(_spreads(group, "behind"), _spreads(group, "benefit"), strict=True)
    return tuple(
        PlaceConfidence(Unit(int(place), names[int(device)], float(gain)), float(first), float(top), *own)
        for place, device, gain, first, top, own in zip(*columns, spans, strict=True)
    )


def _sure_units(group: h5py.Group) -> tuple[UnitsConfidence, ...]:
    spans = zip(_spreads(group, "benefit"), _spreads(group, "adds"), strict=True)
    rows = zip(group["count"][()], group["audible"][()], spans, strict=True)
    return tuple(UnitsConfidence(int(count), float(audible), *own) for count, audible, own in rows)


def _spreads(group: h5py.Group, name: str) -> list[Spread]:
    columns = [group[f"{name}_{end}"][()] for end in ("nominal", "low", "middle", "high")]
    return [Spread(*(float(value) for value in row)) for row in zip(*columns, strict=True)]


def _trials(group: h5py.Group, names: tuple[str, ...]) -> tuple[Trial, ...]:
    kinds, outcomes = (group[name].asstr()[()] for name in ("kind", "outcome"))
    rows = _columns(group, {name: name for name in ("predicted", "simulated", "error", "margin")})
    asked = [tuple(float(gain) for gain in row if not np.isnan(gain)) for row in group["gain_asked"][()]]
    return tuple(
        Trial(
            kind=kinds[k],
            units=_units(group, k, names),
            outcome=outcomes[k],
            asked=asked[k],
            refused=bool(group["refused"][k]),
            **row,
        )
        for k, row in enumerate(rows)
    )


def _searched(group: h5py.Group) -> tuple[Searched, ...]:
    columns = [group[name][()] for name in ("count", "tried", "possible", "whole")]
    return tuple(Searched(int(n), int(t), int(p), bool(w)) for n, t, p, w in zip(*columns, strict=True))


def _meter(group: h5py.Group) -> Meter | None:
    if "tone_frequency" not in group:
        return None
    surface, beside = (group[name].asstr()[()] for name in ("surface", "beside"))
    at, level, whole, height = (group[name][()] for name in ("position", "level", "all_over", "any_height"))
    spots = []
    for k in range(len(level)):
        there = tuple(name for name in surface[k] if name)
        covered = tuple(name for name, yes in zip(surface[k], whole[k], strict=True) if name and yes)
        spots.append(LoudSpot(_point(at[k]), float(level[k]), there, covered, bool(height[k]), beside[k]))
    tone = Tone(float(group["tone_frequency"][()]), float(group["tone_decay"][()]))
    return Meter(tone, tuple(spots), group["seat_level"][()], group["place_level"][()])
