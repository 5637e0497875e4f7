"""Open a result file for reading, whole and right, or say in one sentence why not."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import h5py

from fdtd.errors import ResultFileError
from fdtd.results import layout, placement_layout
from fdtd.results.checked import check_file, text_of
from fdtd.results.statement import Layout

FAULTS = (OSError, LookupError, ValueError, TypeError, RuntimeError, ArithmeticError, MemoryError)
"""What h5py raises on files that are damaged, depending on where; beside Damage, a ValueError."""


@dataclass(frozen=True)
class FileKind:
    """what, give : in messages; again : how to make such a file; study : its attribute of that name, '' without one
    sooner : how to make a file of an older format new"""

    what: str
    give: str
    again: str
    sooner: str
    study: str
    format: int
    layout: Layout


RESULT = FileKind(
    "a result file",
    "the 'result.h5' of a run",
    "make it again with 'fdtd run'",
    "run the scene again",
    "",
    layout.FORMAT,
    layout.LAYOUT,
)
PLACEMENT = FileKind(
    "a placement study",
    "the 'placement.h5' of a study",
    "make it again with 'fdtd place'",
    "run 'fdtd place' again: what was measured is reused",
    "placement",
    placement_layout.FORMAT,
    placement_layout.LAYOUT,
)


@contextmanager
def opened(path: str | Path, kind: FileKind) -> Iterator[h5py.File]:
    """The file, after every array and attribute was found to be as the layout of its `kind` states.

    Raises ResultFileError if it is missing, of another kind or format, or damaged; also for what h5py raises inside.
    """
    path = Path(path)
    if not path.is_file():
        found = "it is a folder" if path.is_dir() else "there is no such file"
        raise ResultFileError(f"{path}: {found}; give the path of {kind.what}, or {kind.again}")
    if not h5py.is_hdf5(path):
        raise ResultFileError(f"{path}: this is not a result file (not HDF5); give {kind.give}, or {kind.again}")
    try:
        with h5py.File(path, "r") as file:
            _check_kind(file, path, kind)
            check_file(file, kind.layout)
            yield file
    except FAULTS as error:
        # A KeyError shows its text in quotes.
        reason = str(error.args[0] if isinstance(error, KeyError) and error.args else error) or type(error).__name__
        raise ResultFileError(
            f"{path}: the file is damaged or cut short ({reason}); "
            f"copy it again from where it was made, or {kind.again}"
        ) from error


def is_placement(path: str | Path) -> bool:
    """Whether `path` is an HDF5 file of a placement study, of any format; False for what can't be read."""
    try:
        with h5py.File(path, "r") as file:
            return text_of(file.attrs.get("study", "")) == PLACEMENT.study
    except FAULTS:
        return False


def _check_kind(file: h5py.File, path: Path, kind: FileKind) -> None:
    program, study = (text_of(file.attrs.get(name, "")) for name in ("program", "study"))
    if program != layout.PROGRAM or study != kind.study or "format" not in file.attrs:
        found = f"attribute 'program' is {program!r}, 'study' {study!r}"
        raise ResultFileError(f"{path}: an HDF5 file, but not {kind.what} of this program ({found}); give {kind.give}")
    number = int(file.attrs["format"])
    if number != kind.format:
        version = text_of(file.attrs.get("version", "unknown"))
        remedy = kind.sooner if number < kind.format else f"use a newer version, or {kind.sooner}"
        raise ResultFileError(
            f"{path}: format {number} of {kind.what}, written by version {version}; "
            f"this version reads format {kind.format}; {remedy}"
        )
