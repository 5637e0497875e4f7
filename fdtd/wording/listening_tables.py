"""What is heard, as tables for spreadsheets: columns and rows (docs/listening.md tells what the columns are)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fdtd.analysis.decay import BandDecay, DecayTime
from fdtd.analysis.response import level_db, seat_figures
from fdtd.listening.changes import modal_decay
from fdtd.listening.study import WEIGHTINGS, Listening, VariantListening
from fdtd.results.result import RunResult
from fdtd.wording.thresholds import NONE_PUBLISHED

Cell = str | float
"""A number that is not finite is left empty."""


@dataclass(frozen=True)
class Table:
    """name : of the file, with its suffix; columns, rows : as written"""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def listening_tables(result: RunResult, listening: Listening) -> tuple[Table, ...]:
    """resonances.csv, decay.csv, tail.csv and levels.csv; `listening` is that of `result`."""
    return (
        Table("resonances.csv", RESONANCE_COLUMNS, tuple(_resonance_rows(listening))),
        Table("decay.csv", DECAY_COLUMNS, tuple(_decay_rows(listening))),
        Table("tail.csv", _tail_columns(listening), tuple(_tail_rows(result, listening))),
        Table("levels.csv", LEVEL_COLUMNS, tuple(_level_rows(result, listening))),
    )


RESONANCE_COLUMNS = (
    "resonance",
    "variant",
    "frequency_hz",
    "frequency_error_hz",
    "decay_time_s",
    "decay_time_error_s",
    "threshold_s",
    "rings_longer",
    "seat",
    "level_db",
)
"""resonance : its number through all variants; rings_longer : yes, no, or that no threshold is published there."""


def _resonance_rows(listening: Listening) -> Iterator[tuple[Cell, ...]]:
    for number, followed in enumerate(listening.followed, start=1):
        for variant, place in zip(listening.variants, followed.numbers, strict=True):
            if place is None:
                continue
            found, limit = variant.resonances, float(variant.limit[place])
            rings = NONE_PUBLISHED if np.isnan(limit) else _yes(bool(variant.audible[place]))
            own = (
                float(number),
                variant.name,
                float(found.frequency[place]),
                float(found.frequency_error[place]),
                float(found.decay_time[place]),
                float(found.decay_error[place]),
                limit,
                rings,
            )
            for seat, name in enumerate(listening.seats):
                yield (*own, name, float(variant.seat_level[seat, place]))


DECAY_COLUMNS = (
    "variant",
    "seat",
    "band_hz",
    "middle_hz",
    "lower_hz",
    "upper_hz",
    *(f"{name}_{what}" for name in ("edt", "t20", "t30") for what in ("s", "nonlinearity_permille", "unknown_because")),
    "curvature_percent",
    "dynamic_range_db",
    "bandwidth_times_decay",
    "filter_ringing",
    "modal_frequency_hz",
    "modal_decay_s",
)
"""band_hz : nominal; filter_ringing : yes where the band filter may hide the decay; modal_* : loudest resonance."""


def _decay_rows(listening: Listening) -> Iterator[tuple[Cell, ...]]:
    for variant in listening.variants:
        for seat, name in enumerate(listening.seats):
            for one in variant.decays[seat]:
                yield (variant.name, name, *_decay_cells(one), *_modal_cells(variant, seat, one))


def _decay_cells(one: BandDecay) -> tuple[Cell, ...]:
    times, band = one.times, one.band
    return (
        band.name,
        band.middle,
        band.lower,
        band.upper,
        *_decay_time(times.early),
        *_decay_time(times.t20),
        *_decay_time(times.t30),
        times.curvature,
        times.dynamic_range,
        one.bandwidth_time,
        _yes(one.ringing),
    )


def _decay_time(one: DecayTime) -> tuple[Cell, ...]:
    return one.seconds, one.nonlinearity, one.reason


def _modal_cells(variant: VariantListening, seat: int, one: BandDecay) -> tuple[Cell, ...]:
    place = modal_decay(variant, seat, one.band)
    if place is None:
        return "", ""
    return float(variant.resonances.frequency[place]), float(variant.resonances.decay_time[place])


def _tail_columns(listening: Listening) -> tuple[str, ...]:
    figures = listening.variants[0].figures
    return (
        "variant",
        "seat",
        "tone_hz",
        "steady_level_db",
        *(f"steady_{letter.lower()}_db" for letter in WEIGHTINGS),
        *(f"time_to_minus_{drop:g}_db_s" for drop in figures.drops),
        *(f"left_after_{1000.0 * moment:g}_ms_db" for moment in figures.moments),
    )


def _tail_rows(result: RunResult, listening: Listening) -> Iterator[tuple[Cell, ...]]:
    for variant in listening.variants:
        for seat, name in enumerate(listening.seats):
            if np.isnan(variant.tail.steady[seat]).any():
                continue
            steady = level_db(variant.tail.steady[seat], listening.tones, result.density)
            for k, tone in enumerate(listening.tones):
                figures = variant.figures.time_to[seat, k], variant.figures.left[seat, k]
                numbers = variant.tone_readings[seat, k], *figures
                yield variant.name, name, float(tone), float(steady[k]), *(float(x) for part in numbers for x in part)


LEVEL_COLUMNS = (
    "variant",
    "seat",
    "mean_level_db",
    "standard_deviation_db",
    "peak_db",
    "peak_hz",
    "dip_db",
    "dip_hz",
    *(f"pink_noise_{letter.lower()}_db" for letter in WEIGHTINGS),
    "between_seats_mean_deviation_db",
    "between_seats_mean_variance_db2",
    "between_seats_variance_of_mean_db2",
    "between_seats_deviation_of_means_db",
    "between_seats_largest_deviation_db",
    "between_seats_largest_hz",
)
"""peak, dip : relative to the mean level; between_seats_* : of the variant, the same in each of its rows."""


def _level_rows(result: RunResult, listening: Listening) -> Iterator[tuple[Cell, ...]]:
    for variant in listening.variants:
        even = variant.evenness
        between: tuple[Cell, ...] = ("",) * 6
        if even is not None:
            between = (
                even.mean_deviation,
                even.mean_spatial_variance,
                even.variance_of_spatial_average,
                even.deviation_of_means,
                even.worst_deviation,
                even.worst_frequency,
            )
        for seat, name in enumerate(listening.seats):
            if np.isnan(variant.transfer[seat]).any():
                continue
            level = level_db(variant.transfer[seat], result.frequency, result.density)
            one = seat_figures(level, result.frequency)
            figures = (
                one.mean_level,
                one.standard_deviation,
                one.peak,
                one.peak_frequency,
                one.dip,
                one.dip_frequency,
            )
            yield variant.name, name, *figures, *(float(x) for x in variant.readings[seat]), *between


def _yes(true: bool) -> str:
    return "yes" if true else "no"
