"""Source signal and the march's own frequency scale."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

PEAK_SHARE = 0.5
"""The pulse's spectrum peaks at this share of the highest frequency: then 10 Hz and the top are both well above rounding."""


def march_frequency(frequency: NDArray[np.float64], dt: float) -> NDArray[np.float64]:
    """Angular frequency rad/s at which the march behaves as the room does at `frequency` (Hz).

    The leapfrog's only error in time is this shift: sin(omega_march dt/2) = omega dt/2.
    """
    return 2.0 / dt * np.arcsin(np.pi * np.asarray(frequency) * dt)


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


def spectrum(signal: NDArray, frequency: NDArray[np.float64], dt: float) -> NDArray[np.complex128]:
    """Fourier sums of `signal` (..., time) at the march's frequencies for `frequency` (Hz); (..., frequency)."""
    omega = march_frequency(frequency, dt)
    signal = np.asarray(signal, dtype=float)
    total = np.zeros((*signal.shape[:-1], len(omega)), dtype=complex)
    block = 4096
    inner = np.exp(-1j * omega * dt * np.arange(block)[:, None])
    for start in range(0, signal.shape[-1], block):
        part = signal[..., start : start + block]
        total += (part @ inner[: part.shape[-1]]) * np.exp(-1j * omega * dt * start)
    return total * dt
