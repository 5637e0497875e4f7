"""Read the result file of a placement study: what its figures and its report are made from."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import h5py
import numpy as np

from fdtd.results.checked import text_of
from fdtd.results.opening import PLACEMENT, is_placement, opened
from fdtd.results.placement_record import (
    Answer,
    CountRecord,
    PlacementFile,
    PlaceRecord,
    RankedPlace,
    Sureness,
    Trial,
    Unit,
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
    tone = file.get("tone")
    return PlacementFile(
        **{name: text_of(file.attrs[name]) for name in ("title", "created", "computed_from", "precision", "method")},
        scene_text=file["scene"].asstr()[()],
        program_version=text_of(file.attrs["version"]),
        designs=int(file.attrs["designs"]),
        grid=float(file.attrs["grid"]),
        seats=tuple(file["seat"].asstr()[()]),
        sources=tuple(file["source"].asstr()[()]),
        devices=names,
        gains=tuple(float(g) for g in file["gain"][()]),
        places=_places(file),
        ranked=_ranked(file["ranking"], names),
        counts=_counts(file["returns"], names) if "returns" in file else (),
        answer=_answer(file["answer"], names) if "answer" in file else None,
        sureness=_sureness(file["sure"]) if "sure" in file else None,
        trials=_trials(file["trials"], names) if "trials" in file else (),
        words=_words(file["words"]) if "words" in file else (),
        frequency=file["frequency"][()],
        level_names=tuple(file["before_after/design"].asstr()[()]),
        levels=file["before_after/level"][()],
        tone=float(tone["tone_frequency"][()]) if tone else float("nan"),
        tone_decay=float(tone["tone_decay"][()]) if tone else float("nan"),
    )


def _places(file: h5py.File) -> tuple[PlaceRecord, ...]:
    group, numbers = file["places"], file["place"][()]
    words, on, corner = (group[name].asstr()[()] for name in ("words", "on", "corner"))
    at = group["position"][()]
    return tuple(
        PlaceRecord(int(numbers[k]), words[k], on[k], corner[k], (float(at[k, 0]), float(at[k, 1]), float(at[k, 2])))
        for k in range(len(numbers))
    )


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
    same = {name: name for name in ("benefit", "adds", "adds_low", "adds_high", "heard_in", "helps")}
    rows = _columns(group, same | {"low": "benefit_low", "high": "benefit_high"})
    seats = {
        "shorter": "shorter", "uneven": "more_even", "louder": "louder", "added_shorter": "added_shorter",
        "added_uneven": "added_even",
    }  # fmt: skip
    verdicts = group["verdict"].asstr()[()]
    return tuple(
        CountRecord(
            count=int(group["count"][k]), units=_units(group, k, names), verdict=verdicts[k],
            heard=np.asarray(group["heard"][k], dtype=bool), added_heard=bool(group["added_heard"][k]),
            **row, **{field: group[name][k] for field, name in seats.items()},
        )
        for k, row in enumerate(rows)
    )  # fmt: skip


def _answer(group: h5py.Group, names: tuple[str, ...]) -> Answer:
    columns = [group[name][()] for name in ("unit_place", "unit_device", "unit_gain")]
    units = tuple(Unit(int(p), names[int(d)], float(g)) for p, d, g in zip(*columns, strict=True))
    where = tuple(group["where"].asstr()[()])
    shorter = float(group["shorter"][()]) if "shorter" in group else float("nan")
    return Answer(int(group["worthwhile"][()]), units, where, shorter)


def _sureness(group: h5py.Group) -> Sureness | None:
    if "draws" not in group:
        return None
    draws, grid, robust = (group[name][()] for name in ("draws", "grid", "robust"))
    return Sureness(int(draws), float(grid), bool(robust), group["doubt"].asstr()[()])


def _trials(group: h5py.Group, names: tuple[str, ...]) -> tuple[Trial, ...]:
    kinds = group["kind"].asstr()[()]
    rows = _columns(group, {name: name for name in ("predicted", "marched", "error", "margin")})
    return tuple(Trial(kind=kinds[k], units=_units(group, k, names), **row) for k, row in enumerate(rows))


def _words(group: h5py.Group) -> tuple[tuple[str, str], ...]:
    return tuple(zip(group["topic"].asstr()[()], group["text"].asstr()[()], strict=True))
