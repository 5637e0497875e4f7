"""The result file and the tables of a placement study."""

from __future__ import annotations

from pathlib import Path

from fdtd.results.placement_store import write_placement
from fdtd.results.surface_csv import write_rows
from fdtd.study.finished import FinishedPlacement
from fdtd.study.place_answer import place_words
from fdtd.study.place_arrays import placement_arrays, placement_attributes
from fdtd.study.place_rows import placement_sheets

WORK = "work"
"""Folder for measured places, inside the results folder."""


def save_files(done: FinishedPlacement, folder: Path) -> list[Path]:
    """Write placement.h5 and its tables to `folder`; returns their paths, the result file first.

    Raises UnwritableError.
    """
    words = place_words(done, str(folder / WORK))
    file = write_placement(folder / "placement.h5", placement_attributes(done), placement_arrays(done, words))
    sheets = placement_sheets(done.study, done.robustness)
    return [file, *(write_rows(folder / sheet.name, sheet.columns, sheet.rows) for sheet in sheets)]
