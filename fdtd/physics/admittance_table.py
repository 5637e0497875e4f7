"""A measured surface from a table: complex admittance, or absorption at normal incidence, against frequency."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import visible
from fdtd.physics.absorption import hard_side
from fdtd.physics.medium import Medium

COMPLEX_COLUMNS = ("frequency_hz", "real", "imag")
ABSORPTION_COLUMNS = ("frequency_hz", "absorption_normal")
FEWEST_ROWS = 3
SHOWN = 40
"""Characters of a line that a message quotes."""
LOWEST, HIGHEST = 0.01, 1e6
"""Hz: beyond these no surface is measured."""
LARGEST_RATIO = 1e6
"""Of rho c Y: a surface that yields so much lets no pressure stand before it; any more makes no difference."""
BOTH_HEADERS = f"'{','.join(COMPLEX_COLUMNS)}' or '{','.join(ABSORPTION_COLUMNS)}'"


class AdmittanceTable(NamedTuple):
    """frequency : (frequency,) Hz, rising; admittance : (frequency,) specific, m/(Pa·s).

    absorption : (frequency,) at normal incidence, if the table gives that and no phase: the admittance is then a real
    one that absorbs as much; None for a table of complex admittance.
    """

    frequency: NDArray[np.float64]
    admittance: NDArray[np.complex128]
    absorption: NDArray[np.float64] | None


def read_admittance_table(text: str, medium: Medium) -> AdmittanceTable:
    """What a table of complex admittance or of absorption at normal incidence says.

    The first line names the columns, in any order: `frequency_hz, real, imag` of rho c Y (time factor e^{+j omega t};
    a negative real part is allowed here: an active surface, or noise), or `frequency_hz, absorption_normal`, from
    which a real admittance of at most rho c Y = 1 is taken by alpha = 4 beta/(1 + beta)² (Kuttruff, Room Acoustics,
    ch. 2): phase is then unknown. Values stand between commas, or between semicolons with decimal points or commas.
    Empty lines and lines that start with # are passed over.

    Raises ValueError with the line number, what was found and what would be right.
    """
    lines = [(number, line.strip()) for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1)]
    lines = [(number, line) for number, line in lines if line and not line.startswith("#")]
    if not lines:
        raise ValueError(f"the table is empty: its first line must be {BOTH_HEADERS}")
    names, separator = _header(*lines[0])
    rows = np.array([_row(number, line, names, separator) for number, line in lines[1:]]).reshape(-1, len(names))
    if len(rows) < FEWEST_ROWS:
        raise ValueError(
            f"line {lines[-1][0]}: the table ends after {len(rows)} rows of numbers; at least {FEWEST_ROWS} are needed"
        )
    frequency = rows[:, names.index("frequency_hz")]
    _check_rising(frequency, [number for number, _ in lines[1:]])
    if "real" in names:
        ratio: NDArray[np.complex128] = rows[:, names.index("real")] + 1j * rows[:, names.index("imag")]
        return AdmittanceTable(frequency, ratio / medium.impedance, None)
    absorption = rows[:, names.index("absorption_normal")]
    real = np.asarray(hard_side(absorption) / medium.impedance, dtype=complex)
    return AdmittanceTable(frequency, real, absorption)


def _header(number: int, line: str) -> tuple[tuple[str, ...], str]:
    """Names of the columns and what stands between values."""
    separator = ";" if ";" in line else ","
    names = tuple(name.strip().strip('"').lower() for name in line.split(separator))
    if sorted(names) not in (sorted(COMPLEX_COLUMNS), sorted(ABSORPTION_COLUMNS)):
        found = visible(line, SHOWN)
        raise ValueError(f"line {number}: the first line must name the columns, {BOTH_HEADERS}; found '{found}'")
    return names, separator


def _row(number: int, line: str, names: tuple[str, ...], separator: str) -> list[float]:
    cells = [cell.strip() for cell in line.split(separator)]
    if len(cells) != len(names):
        raise ValueError(
            f"line {number}: found {len(cells)} values in '{visible(line, SHOWN)}', "
            f"expected {len(names)} ({', '.join(names)}) with '{separator}' between them"
        )
    return [_number(number, name, cell, separator) for name, cell in zip(names, cells, strict=True)]


def _number(number: int, name: str, cell: str, separator: str) -> float:
    try:
        value = float(cell.replace(",", ".") if separator == ";" else cell)
    except ValueError:
        value = math.nan
    found = visible(cell, SHOWN)
    if not math.isfinite(value):
        raise ValueError(f"line {number}: {name} must be a number, found '{found}'")
    if name == "frequency_hz" and not LOWEST <= value <= HIGHEST:
        raise ValueError(f"line {number}: frequency_hz must lie between {LOWEST:g} and {HIGHEST:g} Hz, found {found}")
    if name in ("real", "imag") and abs(value) > LARGEST_RATIO:
        raise ValueError(
            f"line {number}: {name} is of rho c Y, a pure number of at most {LARGEST_RATIO:g} in size, found {found}"
        )
    if name == "absorption_normal" and not 0.0 <= value <= 1.0:
        needed = "absorption_normal must lie between 0 and 1 (not per cent)"
        raise ValueError(f"line {number}: {needed}, found {found}")
    return value


def _check_rising(frequency: NDArray[np.float64], numbers: list[int]) -> None:
    falls = np.flatnonzero(np.diff(frequency) <= 0.0)
    if len(falls):
        i = int(falls[0]) + 1
        raise ValueError(
            f"line {numbers[i]}: frequencies must rise from line to line, found {frequency[i]:g} Hz after "
            f"{frequency[i - 1]:g} Hz"
        )
