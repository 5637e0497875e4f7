"""Runs made of a few damped sinusoids whose every figure is known in closed form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdtd.results.result import CellGrid, RunResult, VariantResult
from fdtd.simulation.transfer import impulse_responses

DENSITY = 1.2
NOWHERE = CellGrid((np.array([0.0, 1.0]),) * 3, np.zeros((1, 3), dtype=np.int32), np.ones(1))


@dataclass(frozen=True)
class Mode:
    """a exp(-3 ln(10) t/decay) cos(2 pi frequency t); a : Pa/(m³/s)/s for each (source, seat), nan where not there."""

    frequency: float
    decay: float
    amplitude: tuple[tuple[float, ...], ...] = ((3e4,),)

    @property
    def rate(self) -> float:
        """delta, 1/s."""
        return float(3.0 * np.log(10.0) / self.decay)

    def shape(self, frequency: np.ndarray | float) -> np.ndarray:
        """Transform of exp(-delta t) cos(omega_m t): (j omega + delta)/((j omega + delta)² + omega_m²)."""
        place = 2j * np.pi * np.asarray(frequency) + self.rate
        return np.asarray(place / (place**2 + (2.0 * np.pi * self.frequency) ** 2))


def run_of(
    variants: Mapping[str, Sequence[Mode]],
    seats: tuple[str, ...] = ("sofa",),
    sources: tuple[str, ...] = ("sub",),
    top: float = 200.0,
    step: float = 0.25,
) -> RunResult:
    """A run with a variant for each list of modes; level 0, no delay, same polarity."""
    frequency: NDArray[np.float64] = step * np.arange(round(10.0 / step), round(top / step) + 1, dtype=np.float64)
    samples = 2 * int(np.ceil(2.5 * top / step))
    fade = np.sin(0.5 * np.pi * np.clip((frequency - 10.0) / 5.0, 0.0, 1.0)) ** 2
    fade *= np.sin(0.5 * np.pi * np.clip((top - frequency) / (0.1 * top), 0.0, 1.0)) ** 2
    made = []
    for name, modes in variants.items():
        transfer = sum(np.array(m.amplitude, dtype=complex)[..., None] * m.shape(frequency) for m in modes)
        assert isinstance(transfer, np.ndarray) and transfer.shape[:2] == (len(sources), len(seats))
        bins = np.zeros((*transfer.shape[:2], samples // 2 + 1), dtype=complex)
        bins[..., round(10.0 / step) : round(10.0 / step) + len(frequency)] = transfer * fade
        impulse = np.fft.irfft(bins, samples) * samples * step
        lacking = np.isnan(transfer).all(axis=(1, 2))
        zeros = np.where(lacking, np.nan, 0.0)
        playback = np.where(lacking, np.nan, 1.0)[:, None] * np.ones(len(frequency), dtype=complex)
        made.append(
            VariantResult(
                name,
                transfer,
                impulse,
                np.zeros((len(sources), 0, 1), dtype=np.complex64),
                NOWHERE,
                zeros,
                zeros,
                zeros + 1.0,
                playback,
                playback[:, :0],
                "quiet",
                4.0,
                1000,
            )
        )
    return RunResult(
        "Damped room",
        "scene = 1\n",
        "0",
        "2026-01-01T00:00:00Z",
        "0" * 64,
        343.0,
        DENSITY,
        1e-4,
        0.1,
        top,
        "double",
        sources,
        seats,
        frequency,
        np.arange(samples) / (samples * step),
        np.zeros(0),
        tuple(made),
    )


def faded(decay: float) -> float:
    """dB by which the tail of a tone on a mode of that decay is lower for the fade of 0.1 s, time from its end.

    0.5 (pi/F)² (1 + e^(-delta F))/(delta² + (pi/F)²), the mean of e^(-delta s) over pi/(2 F) sin(pi s/F).
    """
    delta, turn = 3.0 * np.log(10.0) / decay, np.pi / 0.1
    return float(20.0 * np.log10(0.5 * turn**2 * (1.0 + np.exp(-0.1 * delta)) / (delta**2 + turn**2)))


def cut_short(result: RunResult, variants: Mapping[str, Sequence[Mode]], simulated: float, fallen: float) -> RunResult:
    """`result`, which is `run_of(variants)` of one source and seat, as if simulated only for so long (s, dB down)."""
    frequency, made = result.frequency, []
    for one, modes in zip(result.variants, variants.values(), strict=True):
        transfer = np.zeros((1, 1, len(frequency)), dtype=complex)
        for mode in modes:
            for sign in (1.0, -1.0):  # of h(t) up to the end, in closed form
                away = mode.rate + 2j * np.pi * (frequency - sign * mode.frequency)
                transfer += 0.5 * mode.amplitude[0][0] * (1.0 - np.exp(-away * simulated)) / away
        impulse, _ = impulse_responses(transfer, frequency, result.max_frequency)
        made.append(replace(one, transfer=transfer, impulse=impulse, duration=simulated, fallen=fallen))
    return replace(result, variants=tuple(made))


def seats(*amplitudes: float) -> tuple[tuple[float, ...], ...]:
    """The amplitudes of one source at several seats."""
    return (amplitudes,)
