"""Levels and seat figures from transfer functions: arrays in, numbers out.

Transfer functions are pressure per volume velocity, Pa/(m³/s), e^{+j omega t}; frequencies are in Hz and above 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

SEAT_BAND = (20.0, 160.0)
"""Band of the seat figures, Hz: three octaves."""


def free_field_reference(frequency: ArrayLike, density: float) -> NDArray[np.float64]:
    """Pressure magnitude at 1 m from a point source of 1 m³/s in free field, omega rho / (4 pi), Pa/(m³/s).

    Source: Kuttruff, Room Acoustics, the point source (|p| = rho omega Q / (4 pi r)).
    """
    return 2.0 * np.pi * np.asarray(frequency, dtype=float) * density / (4.0 * np.pi)


def level_db(transfer: ArrayLike, frequency: ArrayLike, density: float) -> NDArray[np.float64]:
    """Level of `transfer` (..., frequency) in dB relative to the same source in free field at 1 m."""
    ratio = np.abs(np.asarray(transfer)) / free_field_reference(frequency, density)
    return 20.0 * np.log10(np.maximum(ratio, 1e-15))


def present_sources(transfer: NDArray[np.complexfloating], playback: NDArray[np.complexfloating]) -> NDArray[np.bool_]:
    """(source,) True for the sources that exist: no NaN in `playback` and not everything in `transfer` NaN."""
    data = np.asarray(transfer)
    audible = ~np.isnan(data).all(axis=tuple(range(1, data.ndim)))
    return np.asarray(audible & ~np.isnan(np.asarray(playback)).any(axis=1), dtype=bool)


def combined_transfer(
    transfer: NDArray[np.complexfloating], playback: NDArray[np.complexfloating]
) -> NDArray[np.complex128]:
    """All sources playing together at each seat.

    Parameters
    ----------
    transfer : (source, seat, frequency), Pa/(m³/s)
    playback : (source, frequency), complex factor of each source: level, delay, polarity, roll-off, crossovers

    Returns
    -------
    (seat, frequency) complex. Sources with NaN are left out; with no source left, all is NaN.
    """
    there = present_sources(transfer, playback)
    if not there.any():
        return np.full(transfer.shape[1:], np.nan + 1j * np.nan)
    return np.einsum("srf,sf->rf", np.asarray(transfer)[there], np.asarray(playback, dtype=complex)[there])


def combined_map(
    maps: NDArray[np.complexfloating], map_playback: NDArray[np.complexfloating]
) -> NDArray[np.complex128]:
    """All sources playing together in each cell.

    Parameters
    ----------
    maps : (source, map_frequency, cell), Pa/(m³/s); map_playback : (source, map_frequency), as for `combined_transfer`

    Returns
    -------
    (map_frequency, cell) complex.
    """
    return combined_transfer(np.swapaxes(maps, 1, 2), map_playback).T


@dataclass(frozen=True)
class SeatFigures:
    """How even the bass is at one seat, over `low` to `high` Hz.

    mean_level, standard_deviation : dB; peak, dip : dB relative to mean_level; their frequencies : Hz
    """

    mean_level: float
    standard_deviation: float
    peak: float
    peak_frequency: float
    dip: float
    dip_frequency: float
    low: float
    high: float


def seat_figures(level: ArrayLike, frequency: ArrayLike) -> SeatFigures:
    """Seat figures of one level curve, 20 to 160 Hz.

    Mean and standard deviation are taken over logarithmically spaced frequency: the curve is read on a grid of
    24 points an octave from 20 Hz to 160 Hz (73 points), so that every octave counts the same. The largest peak and
    dip are those of the curve itself at the given frequencies, relative to that mean. A curve that covers only part
    of the band gives the figures of that part (`low`, `high` say which).

    Parameters
    ----------
    level : (frequency,) dB; frequency : (frequency,) Hz, rising

    Raises
    ------
    ValueError
        If the curve covers less than a third of an octave of the band.
    """
    curve, axis = np.asarray(level, dtype=float), np.asarray(frequency, dtype=float)
    low, high = max(SEAT_BAND[0], axis[0]), min(SEAT_BAND[1], axis[-1])
    if high < low * 2.0 ** (1.0 / 3.0):
        raise ValueError(
            f"seat figures need levels between {SEAT_BAND[0]:g} and {SEAT_BAND[1]:g} Hz, "
            f"found {axis[0]:g} to {axis[-1]:g} Hz"
        )
    sampled = levels_at(axis, curve, log_frequencies(low, high))
    mean = float(np.mean(sampled))
    # The band's ends count too: the largest value of a curve may lie on them without being one of its samples.
    inside = (axis > low) & (axis < high)
    where = np.concatenate([[low], axis[inside], [high]])
    value = np.concatenate([levels_at(axis, curve, [low]), curve[inside], levels_at(axis, curve, [high])])
    top, bottom = int(np.argmax(value)), int(np.argmin(value))
    return SeatFigures(
        mean_level=mean,
        standard_deviation=float(np.std(sampled)),
        peak=float(value[top] - mean),
        peak_frequency=float(where[top]),
        dip=float(value[bottom] - mean),
        dip_frequency=float(where[bottom]),
        low=float(low),
        high=float(high),
    )


def log_frequencies(low: float, high: float) -> NDArray[np.float64]:
    """Hz: 24 points an octave from `low`, up to `high`."""
    return low * 2.0 ** (np.arange(np.floor(24.0 * np.log2(high / low) + 1e-9) + 1) / 24.0)


def levels_at(frequency: ArrayLike, levels: ArrayLike, at: ArrayLike) -> NDArray[np.float64]:
    """`levels` (..., frequency) in dB read at the frequencies `at`, linear in dB over log frequency: (..., at).

    Outside the covered range the nearest end counts.
    """
    axis, wanted = np.log(np.asarray(frequency, dtype=float)), np.log(np.asarray(at, dtype=float))
    data = np.asarray(levels, dtype=float)
    rows = [np.interp(wanted, axis, row) for row in data.reshape(-1, data.shape[-1])]
    return np.array(rows).reshape(*data.shape[:-1], *wanted.shape)


def strongest_resonances(
    frequency: ArrayLike, levels: ArrayLike, count: int = 5, low: float = 15.0, high: float = 160.0
) -> NDArray[np.float64]:
    """Frequencies (Hz, rising) of the most prominent peaks of the mean-energy level over the seats.

    Parameters
    ----------
    frequency : (frequency,) Hz, rising; levels : (seat, frequency) dB, seats with NaN are left out
    count : at most so many; low, high : Hz, the range that is searched
    """
    from scipy.signal import find_peaks  # slow to load

    axis, data = np.asarray(frequency, dtype=float), np.atleast_2d(np.asarray(levels, dtype=float))
    data = data[np.isfinite(data).all(axis=1)]
    if len(data) == 0:
        return np.empty(0)
    mean = 10.0 * np.log10(np.mean(10.0 ** (data / 10.0), axis=0))
    peaks, found = find_peaks(mean, prominence=0.0)
    inside = (axis[peaks] >= low) & (axis[peaks] <= high)
    peaks, prominence = peaks[inside], found["prominences"][inside]
    strongest = np.argsort(-prominence, kind="stable")[:count]
    return np.sort(axis[peaks[strongest]])
