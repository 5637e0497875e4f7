"""A whole animation as arrays: what every picture shows in the planes, and the traces of the seats below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import FdtdError
from fdtd.listening.animation import Field, Plane, fast_levels, level_rate, pressures
from fdtd.listening.animation_signals import Played, Signal
from fdtd.listening.animation_times import Timing

MOST_BYTES = 400e6
"""Of all pictures' values together: 4 bytes a variant, cell and picture."""
TRACE_SAMPLES = 1500
COVERED = 0.985
"""Share of the values that the colour scale holds; the rest, near the source, takes the colours of its ends."""
LEVEL_RANGE = 40.0
"""dB, depth of a scale of levels."""
TRACE_RANGE = {"pulse": 50.0, "tone": 60.0, "sound": 50.0}
"""dB, depth of the axis of the traces."""
NICE = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
SAMPLED_VALUES = 400_000
"""Values that the colour scale is set from, at most, a variant."""


@dataclass(frozen=True, eq=False)
class Animation:
    """All that is drawn.

    names : variants; seats : names, of all variants; planes : of each variant
    values : of each variant (picture, cell) float32, cells of all its planes; signed : pressure, else level in dB
    low, high : ends of the one colour scale; 1 and 0 dB are what is played at 1 m in free field
    trace_time : (sample,) s; traces : (variant, seat, sample), NaN for a seat that a variant has not
    trace_low, trace_high : ends of their axis, dB, of a steady tone pressure
    """

    played: Played
    names: tuple[str, ...]
    seats: tuple[str, ...]
    planes: tuple[tuple[Plane, ...], ...]
    values: tuple[NDArray[np.float32], ...]
    signed: bool
    low: float
    high: float
    timing: Timing
    trace_time: NDArray[np.float64]
    traces: NDArray[np.float64]
    trace_low: float
    trace_high: float


def make_animation(
    fields: Sequence[Field],
    seats: Sequence[Sequence[str]],
    signal: Signal,
    frequency: NDArray[np.float64],
    spacing: float,
    timing: Timing,
    max_frequency: float,
    level: bool = False,
) -> Animation:
    """The animation of `signal` (see `study.animation.animation_fields` for fields, frequency and spacing).

    seats : of each variant; level : show the running level (125 ms) instead of the pressure.
    Raises FdtdError if the pictures would take too much memory.
    """
    _check_size(fields, len(timing.times))
    trace_time = np.linspace(0.0, timing.times[-1], TRACE_SAMPLES)
    rate = level_rate(max_frequency, spacing)
    values: list[NDArray[np.float32]] = []
    traces: list[NDArray[np.floating]] = []
    for field in fields:
        cells, ears = field.transfer[: field.cells], field.transfer[field.cells :]
        if level:
            shown = fast_levels(cells, signal, frequency, spacing, rate, timing.times)
        else:
            shown = pressures(cells, signal, frequency, spacing, timing.times)
        values.append(np.ascontiguousarray(shown.T))
        if signal.kind == "sound" or level:
            traces.append(fast_levels(ears, signal, frequency, spacing, rate, trace_time))
        else:
            size = pressures(ears, signal, frequency, spacing, trace_time, envelope=True)
            if signal.kind == "pulse":
                # The envelope of a short pulse rises before it arrives; nothing is heard before there is pressure.
                audible = np.abs(pressures(ears, signal, frequency, spacing, trace_time))
                size = np.minimum(size, np.maximum.accumulate(audible, axis=1))
            traces.append(20.0 * np.log10(np.maximum(size, 1e-6)))
    names, table = _on_all_seats(seats, traces)
    top = 10.0 * np.ceil(np.nanmax(table) / 10.0) if table.size and np.isfinite(table).any() else 0.0
    depth = TRACE_RANGE[signal.kind]
    low, high = _scale(values, level)
    return Animation(
        signal.played,
        tuple(f.name for f in fields),
        names,
        tuple(f.planes for f in fields),
        tuple(values),
        not level,
        low,
        high,
        timing,
        trace_time,
        table,
        top - depth,
        top,
    )


def make_steady(fields: Sequence[Field], seats: Sequence[Sequence[str]], tone: float, timing: Timing) -> Animation:
    """The animation of a steady tone: `fields` hold one frequency, `tone` Hz (see `study.animation.stored_fields`)."""
    _check_size(fields, len(timing.times))
    turn = np.exp(2j * np.pi * tone * timing.times)
    trace_time = np.linspace(0.0, timing.length, TRACE_SAMPLES)
    values, traces = [], []
    for field in fields:
        cells, ears = field.transfer[: field.cells, 0], field.transfer[field.cells :, 0]
        values.append((turn.real[:, None] * cells.real - turn.imag[:, None] * cells.imag).astype(np.float32))
        traces.append((ears[:, None] * np.exp(2j * np.pi * tone * trace_time)).real)
    names, table = _on_all_seats(seats, traces)
    low, high = _scale(values, False)
    top = nice(float(np.nanmax(np.abs(table)))) if table.size and np.isfinite(table).any() else 1.0
    return Animation(
        Played("steady", tone),
        tuple(f.name for f in fields),
        names,
        tuple(f.planes for f in fields),
        tuple(values),
        True,
        low,
        high,
        timing,
        trace_time,
        table,
        -top,
        top,
    )


def nice(value: float) -> float:
    """The next larger number that reads well."""
    if not value > 0.0:
        return 1.0
    ten = 10.0 ** np.floor(np.log10(value))
    return float(ten * next(n for n in NICE if n * ten >= value * (1.0 - 1e-9)))


def _check_size(fields: Sequence[Field], pictures: int) -> None:
    size = 4.0 * pictures * sum(field.cells for field in fields)
    if size > MOST_BYTES:
        raise FdtdError(
            f"the pictures would need {size / 1e9:.1f} GB of memory, more than {MOST_BYTES / 1e9:.1f} GB: choose a "
            "shorter animation (--seconds), fewer pictures a second (--rate) or larger cells (--grid)"
        )


def _scale(values: Sequence[NDArray[np.float32]], level: bool) -> tuple[float, float]:
    """Ends of the one colour scale of all variants and pictures."""
    some = np.concatenate([one.ravel()[:: max(1, one.size // SAMPLED_VALUES)] for one in values])
    if level:
        high = 5.0 * float(np.ceil(np.quantile(some, COVERED + 0.01) / 5.0))
        return high - LEVEL_RANGE, high
    high = nice(float(np.quantile(np.abs(some), COVERED)))
    return -high, high


def _on_all_seats(
    seats: Sequence[Sequence[str]], traces: Sequence[NDArray]
) -> tuple[tuple[str, ...], NDArray[np.float64]]:
    """Names of all seats and (variant, seat, sample), NaN where a variant lacks the seat."""
    names = tuple(dict.fromkeys(name for listed in seats for name in listed))
    table = np.full((len(traces), len(names), TRACE_SAMPLES), np.nan)
    for k, (listed, rows) in enumerate(zip(seats, traces, strict=True)):
        for name, row in zip(listed, rows, strict=True):
            table[k, names.index(name)] = row
    return names, table
