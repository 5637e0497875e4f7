"""Files of measured admittance that a scene names."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import FdtdError
from fdtd.physics.admittance_table import read_admittance_table
from fdtd.physics.medium import Medium
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.words import show

LARGEST_FILE = 2_000_000
"""Bytes; a measurement at a thousand frequencies takes a hundred thousand."""

HIGHEST = 500.0
"""Hz: what is measured above it is not used."""

Table = tuple[NDArray[np.float64], NDArray[np.complex128]]


def read_measured(entry: Entry, name: str, medium: Medium, report: Report) -> Table | None:
    """Frequency (frequency,) Hz, rising, and specific admittance (frequency,) m/(Pa·s); None after a mistake.

    name : of the file, relative to the folder of the scene.
    """
    text = _text(entry, name, report)
    if text is None:
        return None
    try:
        frequency, admittance = read_admittance_table(text, medium)
    except (FdtdError, ValueError) as error:
        report.mistake(entry, "table", f"found {show(name)}, which is not a table of admittance; {error}")
        return None
    used = frequency <= HIGHEST
    if np.count_nonzero(used) < 2:
        remedy = f"at least two frequencies up to {HIGHEST:.0f} Hz are needed"
        report.mistake(entry, "table", f"found {show(name)}, which begins at {frequency[0]:g} Hz; {remedy}")
        return None
    return frequency[used], admittance[used]


def _text(entry: Entry, name: str, report: Report) -> str | None:
    def wrong(what: str, remedy: str) -> None:
        report.mistake(entry, "table", f"found {show(name)}{what}; {remedy}")

    try:
        path = report.folder / name
        if path.is_dir():
            wrong(", which is a folder", "give the name of a CSV file")
            return None
        if not path.is_file():
            wrong(", and there is no such file", "the name is relative to the folder of the scene file")
            return None
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not one that a file can have"
        wrong(f", which can't be read ({reason})", "check the name and its permissions")
        return None
    if len(data) > LARGEST_FILE:
        wrong(f", which is larger than {LARGEST_FILE // 1000} kB", "give the CSV file of one admittance")
        return None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        wrong(", which is not UTF-8 text", "save the table as plain text (CSV)")
        return None
