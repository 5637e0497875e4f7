"""The seat responses as a table for spreadsheets."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from fdtd.results.result import RunResult
from fdtd.results.surface_csv import write_rows

COLUMNS = ("variant", "source", "seat", "frequency_hz", "level_db", "phase_deg", "real", "imag")


def write_responses_csv(result: RunResult, path: str | Path) -> None:
    """Write one row per variant, source, seat and frequency (UTF-8, comma, decimal point).

    level_db : dB relative to the same source in free field at 1 m; phase_deg : degrees, -180 to 180, e^{+j omega t};
    real, imag : pressure per volume velocity, Pa/(m³/s). A source that a variant does not have gets no rows there.
    Text that a spreadsheet would run as a formula gets an apostrophe. Raises UnwritableError as `write_rows` does.
    """
    write_rows(path, COLUMNS, _rows(result))


def _rows(result: RunResult) -> Iterator[tuple[str, ...]]:
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
