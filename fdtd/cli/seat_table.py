"""What `fdtd run` prints for each seat: levels at the resonances, evenness, and the change between variants."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING

from fdtd.cli.tables import cut, format_table

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from fdtd.analysis.response import SeatFigures
    from fdtd.listening.study import Listening
    from fdtd.results.result import RunResult, UnitResult

RESONANCES = 5
LONGEST_NAME = 28
"""Columns of a name in these tables."""
NOTE = (
    "Levels in dB; 0 dB is one loudspeaker in free field at 1 m, at level 0 and without roll-off and filters.\n"
    "At the strongest resonances of the first variant: level of a steady tone. Standard deviation, peak and dip: 20\n"
    "to 160 Hz, peak and dip relative to the mean.\n"
    "Positive changes are louder; a smaller standard deviation is more even."
)


def format_seats(result: RunResult, listening: Listening | None = None) -> str:
    """One table per seat with all variants, followed by a legend; listening : None where the run was too short."""
    from fdtd.listening.study import variant_levels

    levels = [variant_levels(result, variant) for variant in result.variants]
    resonances, at = _resonances(result, levels, listening)
    seats = [_seat_table(result, levels, number, resonances, at) for number in range(len(result.seats))]
    units = format_units(result)
    return "\n\n".join([*seats, NOTE, *([units] if units else []), format_endings(result)])


def _resonances(
    result: RunResult, levels: list[NDArray[np.float64]], listening: Listening | None
) -> tuple[list[float], list[NDArray[np.float64]]]:
    """Hz, rising, and of each variant the (seat, resonance) levels of steady tones there: the loudest resonances of the
    first variant, or, where none are known, the peaks of its response."""
    import numpy as np

    from fdtd.analysis.response import level_db, levels_at, strongest_resonances
    from fdtd.listening.changes import number_of_tone

    first = None if listening is None else listening.variants[0]
    if listening is None or first is None or not np.isfinite(first.seat_level).any():
        found = strongest_resonances(result.frequency, levels[0], count=RESONANCES)
        return found.tolist(), [levels_at(result.frequency, level, found) for level in levels]
    loudest = np.nanmax(first.seat_level[np.isfinite(first.seat_level).all(axis=1)], axis=0)
    found = np.sort(first.resonances.frequency[np.argsort(-loudest, kind="stable")[:RESONANCES]])
    tones = [number_of_tone(listening, float(frequency)) for frequency in found]
    steady = [level_db(one.tail.steady, listening.tones, result.density)[:, tones] for one in listening.variants]
    return found.tolist(), steady


def format_units(result: RunResult) -> str:
    """Stability margin and limits of each active unit; "" if there is none."""
    lines = []
    for variant in result.variants:
        for unit in variant.units:
            where = f"Active unit '{unit.name}' in '{variant.name}', gain {unit.gain:g}: "
            text = where + _margin(unit) + "".join(_limit(unit, kind) for kind in ("stroke", "drive")) + "."
            lines.append(textwrap.fill(text, 110, subsequent_indent="  "))
    return "\n".join(lines)


def _margin(unit: UnitResult) -> str:
    if not math.isfinite(unit.critical_gain):
        return "stable where it stands, at 100 times that gain too" + _unsure(unit)
    spare = 20.0 * math.log10(unit.critical_gain / unit.gain)
    limit = f"stable where it stands, with {spare:.1f} dB of gain to spare"
    if math.isnan(unit.critical_frequency):
        return limit + " at least" + _unsure(unit)
    return limit + f" before it would oscillate near {unit.critical_frequency:.0f} Hz" + _unsure(unit)


def _unsure(unit: UnitResult) -> str:
    return "" if unit.settled else " (not sure: the room still rang when that was looked at)"


def _limit(unit: UnitResult, kind: str) -> str:
    level = unit.stroke_level if kind == "stroke" else unit.drive_level
    if all(math.isnan(v) for v in level):
        return ""
    band = min(range(len(level)), key=lambda k: float(level[k]))
    what = "its diaphragm runs out of stroke" if kind == "stroke" else "its amplifier runs out of current"
    return f"; {what} at {level[band]:.0f} dB at the seats (tones near {unit.band[band]:.3g} Hz)"


def format_endings(result: RunResult) -> str:
    """How each variant's run ended, noting any that was cut short."""
    from fdtd.wording.endings import outcome_text

    return "\n".join(f"Simulation of '{v.name}': {outcome_text(v)}." for v in result.variants)


def _seat_table(
    result: RunResult,
    levels: list[NDArray[np.float64]],
    seat: int,
    resonances: list[float],
    at: list[NDArray[np.float64]],
) -> str:
    place = f"At '{cut(result.seats[seat], LONGEST_NAME)}'"
    header = (place, *(f"{f:.1f} Hz" for f in resonances), "Std. dev.", "Largest peak", "Deepest dip")
    numbers = [_numbers(result.frequency, level[seat], one[seat]) for level, one in zip(levels, at, strict=True)]
    names = [cut(v.name, LONGEST_NAME) for v in result.variants]
    rows = [(name, *_absolute(row)) for name, row in zip(names, numbers, strict=True)]
    for name, row in zip(names[1:], numbers[1:], strict=True):
        rows.append((f"{name} against {names[0]}", *_change(row, numbers[0])))
    return format_table(header, rows)


Numbers = tuple[list[float], "SeatFigures"] | None
"""Levels at the resonances in dB and the seat's figures; None where a variant lacks the seat."""


def _numbers(frequency: NDArray[np.float64], level: NDArray[np.float64], at: NDArray[np.float64]) -> Numbers:
    from fdtd.analysis.response import seat_figures

    if any(math.isnan(value) for value in level):
        return None
    return at.tolist(), seat_figures(level, frequency)


def _absolute(row: Numbers) -> list[str]:
    if row is None:
        return ["(not in this variant)"]
    at, figures = row
    return [
        *(f"{value:.1f}" for value in at),
        f"{figures.standard_deviation:.1f}",
        f"{figures.peak:+.1f} at {figures.peak_frequency:.1f} Hz",
        f"{figures.dip:+.1f} at {figures.dip_frequency:.1f} Hz",
    ]


def _change(row: Numbers, first: Numbers) -> list[str]:
    if row is None or first is None:
        return []
    (at, figures), (at_first, figures_first) = row, first
    return [
        *(f"{a - b:+.1f}" for a, b in zip(at, at_first, strict=True)),
        f"{figures.standard_deviation - figures_first.standard_deviation:+.1f}",
        f"{figures.peak - figures_first.peak:+.1f}",
        f"{figures.dip - figures_first.dip:+.1f}",
    ]
