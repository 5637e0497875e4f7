"""Read the result file of a placement study: what its figures, its words and its report are made from."""

from __future__ import annotations

from pathlib import Path
from typing import Any, TypeVar

import h5py

from fdtd.results.opening import PLACEMENT, is_placement, opened
from fdtd.results.placement_record import (
    Answer,
    CountRecord,
    DesignLevels,
    LoudSpot,
    Meter,
    PlaceConfidence,
    PlacementFile,
    PlaceRecord,
    RankedPlace,
    Searched,
    Sureness,
    Trial,
    UnitsConfidence,
    WorstNote,
)
from fdtd.results.records import read_record, read_rows

__all__ = ["is_placement", "read_placement"]

T = TypeVar("T")


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
    def rows(record: type[T], name: str) -> tuple[T, ...]:
        return read_rows(record, file[name]) if name in file else ()

    def one(record: type[T], name: str, **more: tuple[Any, ...]) -> T | None:
        return read_record(record, file[name], **more) if name in file else None

    sure = {"singles": rows(PlaceConfidence, "sure/singles"), "counts": rows(UnitsConfidence, "sure/counts")}
    return read_record(
        PlacementFile,
        file,
        places=rows(PlaceRecord, "places"),
        ranked=rows(RankedPlace, "ranking"),
        counts=rows(CountRecord, "returns"),
        answer=one(Answer, "answer"),
        sureness=one(Sureness, "sure", **sure),
        trials=rows(Trial, "trials"),
        searched=rows(Searched, "searched"),
        levels=rows(DesignLevels, "before_after"),
        meter=one(Meter, "meter", spots=rows(LoudSpot, "meter")),
        worst_notes=rows(WorstNote, "worst_notes"),
    )
