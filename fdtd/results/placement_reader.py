"""Read the result file of a placement study: what its figures, its words and its report are made from."""

from __future__ import annotations

from pathlib import Path
from typing import Any, TypeVar

import h5py

from fdtd.results import placement_record as study
from fdtd.results.opening import PLACEMENT, is_placement, opened
from fdtd.results.records import read_record, read_rows

__all__ = ["is_placement", "read_placement"]

T = TypeVar("T")


def read_placement(path: str | Path) -> study.PlacementFile:
    """Read the result file of a placement study, all but its matrices.

    Raises
    ------
    ResultFileError
        If the file is missing, is not that of a placement study, has another format number, or is damaged.
    """
    with opened(path, PLACEMENT) as file:
        return _read(file)


def _read(file: h5py.File) -> study.PlacementFile:
    def rows(record: type[T], name: str) -> tuple[T, ...]:
        return read_rows(record, file[name]) if name in file else ()

    def one(record: type[T], name: str, **more: tuple[Any, ...]) -> T | None:
        return read_record(record, file[name], **more) if name in file else None

    sure = {
        "singles": rows(study.PlaceConfidence, "sure/singles"),
        "counts": rows(study.UnitsConfidence, "sure/counts"),
    }
    return read_record(
        study.PlacementFile,
        file,
        places=rows(study.PlaceRecord, "places"),
        ranked=rows(study.RankedPlace, "ranking"),
        counts=rows(study.CountRecord, "returns"),
        answer=one(study.Answer, "answer"),
        sureness=one(study.Sureness, "sure", **sure),
        trials=rows(study.Trial, "trials"),
        searched=rows(study.Searched, "searched"),
        levels=rows(study.DesignLevels, "before_after"),
        meter=one(study.Meter, "meter", spots=rows(study.LoudSpot, "meter")),
        worst_notes=rows(study.WorstNote, "worst_notes"),
    )
