"""A signal played through transfer functions at many places: pressures at the times of an animation's pictures, levels.

Pressures are relative to the amplitude of the signal at 1 m in free field (see animation_signals.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.listening.animation_signals import Signal, fast_level

FAINT = 2e-5
"""Parts of a signal's spectrum below this share of its largest one are left out (94 dB)."""
PLACES_TOGETHER = 1024
"""Places whose sound is worked out at a time."""
SAMPLES_A_PERIOD = 3.0
"""Samples a period of the highest frequency where a level is taken of sampled pressure."""
LOWEST_LEVEL = -120.0
"""dB; less is drawn as this."""


@dataclass(frozen=True, eq=False)
class Plane:
    """A plane through the cells of one variant: `axis` = `position` m; edges : of the two other axes, m
    place : (cell,) number in the flattened grid of these edges."""

    axis: int
    position: float
    edges: tuple[NDArray[np.float64], NDArray[np.float64]]
    place: NDArray[np.int64]

    def grid(self, values: NDArray) -> NDArray[np.float32]:
        """(n, m) of `values` (cell,), NaN where there is no air."""
        full = np.full((len(self.edges[0]) - 1) * (len(self.edges[1]) - 1), np.nan, np.float32)
        full[self.place] = values
        return full.reshape(len(self.edges[0]) - 1, -1)


@dataclass(frozen=True, eq=False)
class Field:
    """One variant. transfer : (place, frequency) complex64, pressure with all sources playing, relative to the free
    field at 1 m; places are the cells of the planes one after the other, then the seats."""

    name: str
    planes: tuple[Plane, ...]
    transfer: NDArray[np.complex64]

    @property
    def cells(self) -> int:
        """How many places are cells."""
        return sum(len(plane.place) for plane in self.planes)


def animation_spacing(signal: Signal, longest: float) -> float:
    """Hz, one over a whole number of seconds that hold the signal and the room's response after it."""
    return float(1.0 / np.ceil(signal.length + longest + 0.1))


def animation_axis(signal: Signal, max_frequency: float, longest: float) -> NDArray[np.float64]:
    """Frequencies (Hz) that the animation is put together from: whole multiples of 1 over a whole number of seconds.

    longest : s, of the room's response that is known. What is fainter than `FAINT` is left out, so there may be gaps.
    """
    spacing = animation_spacing(signal, longest)
    axis = np.asarray(spacing * np.arange(1, int(max_frequency / spacing) + 1), dtype=float)
    size = np.abs(signal.spectrum(axis)) if signal.kind != "sound" else np.ones(len(axis))
    # A closed room answers low frequencies with up to 1/f² of what it answers higher ones.
    weight = size * np.maximum(1.0, (signal.tone / axis) ** 2)
    return np.asarray(axis[weight > FAINT * weight.max()])


def pressures(
    transfer: NDArray[np.complexfloating],
    signal: Signal,
    frequency: NDArray[np.float64],
    spacing: float,
    time: NDArray[np.float64],
    envelope: bool = False,
) -> NDArray[np.float32]:
    """(place, time) pressure at `time` (s), or its envelope (the size of the analytic signal).

    transfer : (place, frequency); frequency : Hz, multiples of `spacing`. The constant part, which these lack, is that
    which makes t = 0 silent. After 1/`spacing` s, when all is over, there is silence: the sum begins anew there.
    """
    phase = 2.0 * np.pi * frequency[:, None] * time
    turned = (2.0 * spacing * signal.spectrum(frequency))[:, None] * np.exp(1j * phase)
    start = 2.0 * spacing * signal.spectrum(frequency)
    out = np.empty((len(transfer), len(time)), np.float32)
    for first in range(0, len(transfer), PLACES_TOGETHER):
        some = np.asarray(transfer[first : first + PLACES_TOGETHER], dtype=np.complex64)
        if envelope:
            out[first : first + PLACES_TOGETHER] = np.abs(some @ turned.astype(np.complex64))
            continue
        both = np.concatenate([some.real, some.imag], axis=1)
        terms = np.concatenate([turned.real, -turned.imag]).astype(np.float32)
        offset = (some @ start).real.astype(np.float32)[:, None]
        out[first : first + PLACES_TOGETHER] = both @ terms - (0.0 if signal.kind == "sound" else offset)
    out[:, time >= 1.0 / spacing] = 0.0
    return out


def sampled(
    transfer: NDArray[np.complexfloating], signal: Signal, frequency: NDArray[np.float64], spacing: float, rate: float
) -> NDArray[np.float64]:
    """(place, sample) pressure from 0 s to 1/spacing at `rate` Hz, a whole number of samples."""
    count = int(round(rate / spacing))
    bins = np.zeros((len(transfer), count // 2 + 1), dtype=complex)
    bins[:, np.rint(frequency / spacing).astype(int)] = transfer * signal.spectrum(frequency)
    return np.asarray(np.fft.irfft(bins, count, axis=-1) * count * spacing)


def level_rate(max_frequency: float, spacing: float) -> float:
    """Hz, samples a second from which fast levels are taken: a whole number in 1/spacing."""
    return float(np.ceil(2.0 * SAMPLES_A_PERIOD * max_frequency / spacing / 2.0) * spacing)


def fast_levels(
    transfer: NDArray[np.complexfloating],
    signal: Signal,
    frequency: NDArray[np.float64],
    spacing: float,
    rate: float,
    time: NDArray[np.float64],
) -> NDArray[np.float32]:
    """(place, time) fast level at `time` (s), dB re a steady tone of amplitude 1 (its mean square is a half).

    After 1/`spacing` s there is silence, as in `pressures`.
    """
    pick = np.clip(np.rint(time * rate).astype(int), 0, int(round(rate / spacing)) - 1)
    out = np.empty((len(transfer), len(time)), np.float32)
    for rows in _tiles(len(transfer), PLACES_TOGETHER // 4):
        sound = sampled(transfer[rows], signal, frequency, spacing, rate)
        out[rows] = np.maximum(fast_level(sound, rate)[:, pick] + 10.0 * np.log10(2.0), LOWEST_LEVEL)
    out[:, time >= 1.0 / spacing] = LOWEST_LEVEL
    return out


def _tiles(total: int, count: int) -> Iterator[slice]:
    for first in range(0, total, count):
        yield slice(first, first + count)
