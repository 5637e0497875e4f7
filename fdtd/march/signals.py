"""Source signal and the march's own frequency scale."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

BLOCK, FEW_FREQUENCIES = 512, 1024
"""Samples and frequencies whose phases are held at a time: tables of some megabytes stay in the cache."""
PEAK_SHARE = 0.5
"""The pulse's spectrum peaks at this share of the highest frequency: 10 Hz and the top stay well above rounding."""


def march_frequency(frequency: NDArray[np.float64], dt: float) -> NDArray[np.float64]:
    """Angular frequency rad/s at which the march behaves as the room does at `frequency` (Hz).

    The leapfrog's only error in time is this shift: sin(omega_march dt/2) = omega dt/2.
    Raises ValueError for a frequency that the step is too long for.
    """
    argument = np.pi * np.asarray(frequency) * dt
    if np.any(argument >= 1.0):
        raise ValueError(f"a step of {dt:g} s can't hold {np.max(frequency):g} Hz")
    return np.asarray(2.0 / dt * np.arcsin(argument))


def pulse(max_frequency: float, dt: float) -> NDArray[np.float64]:
    """Time derivative of the source's volume velocity, dQ/dt in m³/s², one value a step.

    The second derivative of a Gaussian: smooth, band-limited, and with no net volume left in the room.
    """
    peak = PEAK_SHARE * max_frequency
    half = int(np.ceil(1.5 / peak / dt))
    time = np.arange(-half, half + 1) * dt
    argument = (np.pi * peak * time) ** 2
    signal = (1.0 - 2.0 * argument) * np.exp(-argument)
    return signal - signal.mean()


def spectrum(
    signal: NDArray, frequency: NDArray[np.float64], dt: float, stride: int = 1, every: int = 1
) -> NDArray[np.complex128]:
    """Fourier sums of `signal` (..., time) at the march's frequencies for `frequency` (Hz); (..., frequency).

    stride : only every so many steps count; right for signals without content above 1/(2 stride dt)
    every : steps between the samples of `signal`, a divisor of `stride`
    """
    omega = march_frequency(frequency, dt)
    signal = np.asarray(signal, dtype=float)[..., :: stride // every]
    total: NDArray[np.complex128] = np.zeros((*signal.shape[:-1], len(omega)), dtype=complex)
    step = dt * stride
    for first in range(0, len(omega), FEW_FREQUENCIES):
        some = omega[first : first + FEW_FREQUENCIES]
        phase = some * step * np.arange(BLOCK)[:, None]
        inner = np.concatenate([np.cos(phase), -np.sin(phase)], axis=1)  # real times real is half the work
        part = total[..., first : first + FEW_FREQUENCIES]
        for start in range(0, signal.shape[-1], BLOCK):
            piece = signal[..., start : start + BLOCK]
            both = piece @ inner[: piece.shape[-1]]
            part += (both[..., : len(some)] + 1j * both[..., len(some) :]) * np.exp(-1j * some * step * start)
    total *= step
    return total


def sampling_stride(max_frequency: float, dt: float) -> int:
    """Steps between samples that still catch everything the pulse puts into the room (8 samples a period of the top).

    The pulse's spectrum has fallen by more than 200 dB at four times the highest frequency.
    """
    return max(1, int(1.0 / (8.0 * max_frequency * dt)))
