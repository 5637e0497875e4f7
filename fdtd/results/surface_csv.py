"""Admittance and absorption of surfaces, and equivalent areas of units, as tables for spreadsheets."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from pathlib import Path

from fdtd.results.files import replaced_file

SURFACE_COLUMNS = (
    "name",
    "line",
    "frequency_hz",
    "admittance_real",
    "admittance_imag",
    "reflection",
    "absorption_normal",
    "absorption_random",
)
"""admittance_* : rho c Y; reflection : size of the reflection factor at normal incidence."""

UNIT_COLUMNS = ("unit", "state", "place", "frequency_hz", "area_m2", "largest_area_m2")
"""state : on or off; place : wall or corner; area_m2 : equivalent absorption area; largest : wavelength²/pi."""

FORMULA_STARTS = "=+-@\t\r＝＋－＠"
"""Spreadsheets take what begins with one of these for a formula, and work it out on opening a file (OWASP, "CSV
Injection")."""


def write_rows(path: str | Path, columns: tuple[str, ...], rows: Iterable[tuple[str | float, ...]]) -> Path:
    """Write `rows` under `columns` (UTF-8, comma, decimal point), whole or not at all; returns the path.

    Numbers get six digits; those that are not finite are left empty. Text that a spreadsheet would run as a formula
    gets an apostrophe before it. Raises UnwritableError.
    """
    target = Path(path)
    with replaced_file(target) as unfinished, unfinished.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(columns)
        table.writerows([_cell(value) for value in row] for row in rows)
    return target


def _cell(value: str | float) -> str:
    if isinstance(value, str):
        return _text_cell(value)
    return f"{value:.6g}" if abs(value) < float("inf") else ""


def _text_cell(text: str) -> str:
    """`text` as it may stand in a table: names are what somebody wrote, and must not be worked out as formulas."""
    if not text.startswith(tuple(FORMULA_STARTS)):
        return text
    try:
        float(text)
    except ValueError:
        return f"'{text}"
    return text
