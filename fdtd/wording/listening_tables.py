"""What is heard, as tables for spreadsheets: columns and rows (docs/listening.md tells what the columns are)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from fdtd.analysis.decay import BandDecay
from fdtd.analysis.response import SeatFigures, level_db, seat_figures
from fdtd.listening.changes import modal_decay
from fdtd.listening.study import WEIGHTINGS, Listening, VariantListening
from fdtd.results.result import RunResult
from fdtd.wording.thresholds import NONE_PUBLISHED

T = TypeVar("T")
Cell = str | float
"""A number that is not finite is left empty."""
Columns = Sequence[tuple[str, Callable[[T], Cell]]]
"""Name of each column, and its cell of a thing that has a row."""


@dataclass(frozen=True)
class Table:
    """name : of the file, with its suffix; columns, rows : as written"""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def table_of(name: str, columns: Columns[T], things: Iterable[T]) -> Table:
    """A table with a row for each of `things`."""
    rows = tuple(tuple(cell(one) for _, cell in columns) for one in things)
    return Table(name, tuple(head for head, _ in columns), rows)


def yes(true: object) -> str:
    """'yes' or 'no'."""
    return "yes" if true else "no"


def listening_tables(result: RunResult, listening: Listening) -> tuple[Table, ...]:
    """resonances.csv, decay.csv, tail.csv and levels.csv; `listening` is that of `result`."""
    return _resonances(listening), _decays(listening), _tails(result, listening), _levels(result, listening)


def _resonances(listening: Listening) -> Table:
    """resonance : its number through all variants; rings_longer : yes, no, or that no threshold is published there."""
    Row = tuple[int, VariantListening, int, int]
    columns: Columns[Row] = [
        ("resonance", lambda row: row[0]),
        ("variant", lambda row: row[1].name),
        ("frequency_hz", lambda row: row[1].resonances.frequency[row[2]]),
        ("frequency_error_hz", lambda row: row[1].resonances.frequency_error[row[2]]),
        ("decay_time_s", lambda row: row[1].resonances.decay_time[row[2]]),
        ("decay_time_error_s", lambda row: row[1].resonances.decay_error[row[2]]),
        ("threshold_s", lambda row: row[1].limit[row[2]]),
        ("rings_longer", lambda row: rings(row[1], row[2])),
        ("seat", lambda row: listening.seats[row[3]]),
        ("level_db", lambda row: row[1].seat_level[row[3], row[2]]),
    ]
    rows: list[Row] = [
        (number, variant, place, seat)
        for number, followed in enumerate(listening.followed, start=1)
        for variant, place in zip(listening.variants, followed.numbers, strict=True)
        if place is not None
        for seat in range(len(listening.seats))
    ]
    return table_of("resonances.csv", columns, rows)


def rings(variant: VariantListening, place: int) -> str:
    """Whether a resonance rings longer than the threshold, or that none is published."""
    return NONE_PUBLISHED if np.isnan(variant.limit[place]) else yes(variant.audible[place])


def _decays(listening: Listening) -> Table:
    """band_hz : nominal; filter_ringing : yes where the band filter may hide the decay; modal_* : loudest resonance."""
    Row = tuple[VariantListening, int, BandDecay]

    def modal(row: Row, name: str) -> Cell:
        place = modal_decay(row[0], row[1], row[2].band)
        return "" if place is None else float(getattr(row[0].resonances, name)[place])

    def time(name: str, what: str) -> Callable[[Row], Cell]:
        return lambda row: getattr(getattr(row[2].times, name), what)

    columns: list[tuple[str, Callable[[Row], Cell]]] = [
        ("variant", lambda row: row[0].name),
        ("seat", lambda row: listening.seats[row[1]]),
        ("band_hz", lambda row: row[2].band.name),
        ("middle_hz", lambda row: row[2].band.middle),
        ("lower_hz", lambda row: row[2].band.lower),
        ("upper_hz", lambda row: row[2].band.upper),
    ]
    for head, name in (("edt", "early"), ("t20", "t20"), ("t30", "t30")):
        columns += [
            (f"{head}_s", time(name, "seconds")),
            (f"{head}_nonlinearity_permille", time(name, "nonlinearity")),
            (f"{head}_unknown_because", time(name, "reason")),
        ]
    columns += [
        ("curvature_percent", lambda row: row[2].times.curvature),
        ("dynamic_range_db", lambda row: row[2].times.dynamic_range),
        ("bandwidth_times_decay", lambda row: row[2].bandwidth_time),
        ("filter_ringing", lambda row: yes(row[2].ringing)),
        ("modal_frequency_hz", lambda row: modal(row, "frequency")),
        ("modal_decay_s", lambda row: modal(row, "decay_time")),
    ]
    seats = range(len(listening.seats))
    rows = [(variant, seat, one) for variant in listening.variants for seat in seats for one in variant.decays[seat]]
    return table_of("decay.csv", columns, rows)


def _tails(result: RunResult, listening: Listening) -> Table:
    figures = listening.variants[0].figures
    columns = (
        "variant",
        "seat",
        "tone_hz",
        "steady_level_db",
        *(f"steady_{letter.lower()}_db" for letter in WEIGHTINGS),
        *(f"time_to_minus_{drop:g}_db_s" for drop in figures.drops),
        *(f"left_after_{1000.0 * moment:g}_ms_db" for moment in figures.moments),
    )
    rows: list[tuple[Cell, ...]] = []
    for variant in listening.variants:
        for seat, name in enumerate(listening.seats):
            if np.isnan(variant.tail.steady[seat]).any():
                continue
            steady = level_db(variant.tail.steady[seat], listening.tones, result.density)
            found = variant.tone_readings[seat], variant.figures.time_to[seat], variant.figures.left[seat]
            numbers = np.column_stack([listening.tones, steady, *found])
            rows += [(variant.name, name, *row) for row in numbers.tolist()]
    return Table("tail.csv", columns, tuple(rows))


def _levels(result: RunResult, listening: Listening) -> Table:
    """peak, dip : relative to the mean level; between_seats_* : of the variant, the same in each of its rows."""
    Row = tuple[VariantListening, int, SeatFigures]

    def between(name: str) -> Callable[[Row], Cell]:
        return lambda row: "" if row[0].evenness is None else float(getattr(row[0].evenness, name))

    columns: list[tuple[str, Callable[[Row], Cell]]] = [
        ("variant", lambda row: row[0].name),
        ("seat", lambda row: listening.seats[row[1]]),
        ("mean_level_db", lambda row: row[2].mean_level),
        ("standard_deviation_db", lambda row: row[2].standard_deviation),
        ("peak_db", lambda row: row[2].peak),
        ("peak_hz", lambda row: row[2].peak_frequency),
        ("dip_db", lambda row: row[2].dip),
        ("dip_hz", lambda row: row[2].dip_frequency),
        *(
            (f"pink_noise_{letter.lower()}_db", lambda row, k=k: float(row[0].readings[row[1], k]))
            for k, letter in enumerate(WEIGHTINGS)
        ),
        ("between_seats_mean_deviation_db", between("mean_deviation")),
        ("between_seats_mean_variance_db2", between("mean_spatial_variance")),
        ("between_seats_variance_of_mean_db2", between("variance_of_spatial_average")),
        ("between_seats_deviation_of_means_db", between("deviation_of_means")),
        ("between_seats_largest_deviation_db", between("worst_deviation")),
        ("between_seats_largest_hz", between("worst_frequency")),
    ]
    rows = [
        (variant, seat, seat_figures(level_db(there, result.frequency, result.density), result.frequency))
        for variant in listening.variants
        for seat, there in enumerate(variant.transfer)
        if not np.isnan(there).any()
    ]
    return table_of("levels.csv", columns, rows)
