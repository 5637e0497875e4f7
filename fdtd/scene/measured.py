"""Files of measured admittance that a scene names."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from fdtd.errors import FdtdError
from fdtd.physics.admittance_table import FEWEST_ROWS, AdmittanceTable, read_admittance_table
from fdtd.physics.medium import Medium
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.text import show

LARGEST_FILE = 2_000_000
"""Bytes; a measurement at a thousand frequencies takes a hundred thousand."""

HIGHEST = 500.0
"""Hz: what is measured above it is not used."""

FIRST, LAST = 20.0, 200.0
"""Hz: what a table should cover; the results usually end at 200 Hz."""


def read_measured(entry: Entry, name: str, medium: Medium, report: Report) -> AdmittanceTable | None:
    """What the file says up to 500 Hz; None after a mistake. A table that does not cover 20 to 200 Hz is warned of.

    name : of the file, relative to the folder of the scene.
    """
    try:
        text = _text(report.folder / name)
    except FdtdError as error:
        report.mistake(entry, "table", f"found {show(name)}, {error}")
        return None
    try:
        table = read_admittance_table(text, medium)
    except (FdtdError, ValueError) as error:
        report.mistake(entry, "table", f"found {show(name)}, which is not a table of admittance; {error}")
        return None
    rows = int(np.count_nonzero(table.frequency <= HIGHEST))
    if rows < FEWEST_ROWS:
        found = f"found {show(name)}, which begins at {table.frequency[0]:g} Hz and has {rows} rows up to"
        report.mistake(entry, "table", f"{found} {HIGHEST:.0f} Hz; at least {FEWEST_ROWS} are needed")
        return None
    absorption = None if table.absorption is None else table.absorption[:rows]
    table = AdmittanceTable(table.frequency[:rows], table.admittance[:rows], absorption)
    _warn_range(entry, name, table, report)
    return table


def _warn_range(entry: Entry, name: str, table: AdmittanceTable, report: Report) -> None:
    low, high = table.frequency[0], table.frequency[-1]
    parts, beyond = [], []
    if low > FIRST:
        parts, beyond = [f"begins at {low:g} Hz"], ["below"]
    if high < LAST:
        parts, beyond = [*parts, f"ends at {high:g} Hz"], [*beyond, "above"]
    if parts:
        guess = f"what is {' and '.join(beyond)} is a guess, drawn towards the values at its ends"
        report.warning(entry, "table", f"found {show(name)}, which {' and '.join(parts)}; {guess}")


def _text(path: Path) -> str:
    """The text of the file at `path`; raises FdtdError that says what is wrong with it, as the end of a sentence."""
    try:
        if path.is_dir():
            raise FdtdError("which is a folder; give the name of a CSV file")
        if not path.is_file():
            raise FdtdError("and there is no such file; the name is relative to the folder of the scene file")
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not one that a file can have"
        raise FdtdError(f"which can't be read ({reason}); check the name and its permissions") from None
    if len(data) > LARGEST_FILE:
        raise FdtdError(f"which is larger than {LARGEST_FILE // 1000} kB; give the CSV file of one admittance")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FdtdError("which is not UTF-8 text; save the table as plain text (CSV)") from None
