"""Tables for spreadsheets: how they are written, and those of surfaces, units and seat responses."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from fdtd.results.files import replaced_file
from fdtd.results.result import RunResult

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

RESPONSE_COLUMNS = ("variant", "source", "seat", "frequency_hz", "level_db", "phase_deg", "real", "imag")

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


def write_responses_csv(result: RunResult, path: str | Path) -> None:
    """Write one row per variant, source, seat and frequency (UTF-8, comma, decimal point).

    level_db : dB relative to the same source in free field at 1 m; phase_deg : degrees, -180 to 180, e^{+j omega t};
    real, imag : pressure per volume velocity, Pa/(m³/s). A source that a variant does not have gets no rows there.
    Text that a spreadsheet would run as a formula gets an apostrophe. Raises UnwritableError as `write_rows` does.
    """
    write_rows(path, RESPONSE_COLUMNS, _responses(result))


def _responses(result: RunResult) -> Iterator[tuple[str, ...]]:
    for variant in result.variants:
        # The same source in free field at 1 m: omega rho / (4 pi) for 1 m³/s.
        free_field = 0.5 * result.frequency * result.density
        level = 20.0 * np.log10(np.maximum(np.abs(variant.transfer) / free_field, 1e-15))
        phase = np.degrees(np.angle(variant.transfer))
        for s, source in enumerate(result.sources):
            if np.isnan(variant.transfer[s]).all():
                continue
            for r, seat in enumerate(result.seats):
                for f, frequency in enumerate(result.frequency):
                    value = variant.transfer[s, r, f]
                    numbers = (frequency, level[s, r, f], phase[s, r, f], value.real, value.imag)
                    yield (variant.name, source, seat, *(f"{x:.10g}" for x in numbers))
