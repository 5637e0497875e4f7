"""Source signal and the simulation's own frequency scale."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

TAPS = 16
"""Bins of the fast transform that a frequency between them is interpolated from; the error is rounding."""
SHAPE = 2.3 * TAPS
"""Of the Kaiser-Bessel kernel that interpolates, for a transform of twice the signal's length."""
TOGETHER = 256
"""Signals transformed at a time: tables of some megabytes stay in the cache."""
PEAK_SHARE = 0.5
"""The pulse's spectrum peaks at this share of the highest frequency: 10 Hz and the top stay well above rounding."""


def time_step_frequency(frequency: NDArray[np.float64], dt: float) -> NDArray[np.float64]:
    """Angular frequency rad/s at which the simulation behaves as the room does at `frequency` (Hz).

    The leapfrog's only error in time is this shift: sin(omega_march dt/2) = omega dt/2 (theory.md, eq. 7).
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
    """Fourier sums of `signal` (..., time) at the simulation's frequencies for `frequency` (Hz); (..., frequency)
    (theory.md, eq. 22).

    stride : only every so many steps count; right for signals without content above 1/(2 stride dt)
    every : steps between the samples of `signal`, a divisor of `stride`
    """
    step = dt * stride
    signal = np.asarray(signal, dtype=float)[..., :: stride // every]
    rows, count = signal.reshape(-1, signal.shape[-1]), signal.shape[-1]
    size = _fast_length(2 * max(count, TAPS))
    # Fast transforms of padded signals, interpolated (Fessler and Sutton, Nonuniform fast Fourier transforms using
    # min-max interpolation, IEEE Trans. Signal Process. 51 (2003) 560-574): the kernel's transform is taken out before.
    root = np.sqrt(SHAPE**2 - (np.pi * TAPS / size * (np.arange(count) - count // 2)) ** 2)
    shaped = root / (TAPS * np.sinh(root))
    take, bins = _interpolation(time_step_frequency(frequency, dt) * step * size / (2.0 * np.pi), size, count // 2)
    bins %= size
    mirrored = bins > size // 2
    bins = np.where(mirrored, size - bins, bins)
    total: NDArray[np.complex128] = np.empty((len(rows), take.shape[0]), dtype=complex)
    for first in range(0, len(rows), TOGETHER):
        found = np.fft.rfft(rows[first : first + TOGETHER] * shaped, size)[:, bins]
        np.conjugate(found, out=found, where=mirrored)
        total[first : first + TOGETHER] = (take @ found.T).T
    total *= step
    return total.reshape(*signal.shape[:-1], take.shape[0])


def _fast_length(least: int) -> int:
    """The first number from `least` that is a power of two times 1, 3, 5, 9 or 15: transforms of it are fast."""
    return min(odd * 2 ** max(0, (-(-least // odd) - 1).bit_length()) for odd in (1, 3, 5, 9, 15))


def _interpolation(at: NDArray[np.float64], size: int, middle: int) -> tuple[csr_array, NDArray[np.int64]]:
    """(place, bin) weights that read a transform of `size` at the places `at`, in bins; and the bins.

    middle : sample that the kernel's transform is centred on
    """
    near = np.floor(at).astype(np.int64)[:, None] + np.arange(1 - TAPS // 2, TAPS // 2 + 1)
    apart = at[:, None] - near
    kernel = np.i0(SHAPE * np.sqrt(np.maximum(1.0 - (2.0 * apart / TAPS) ** 2, 0.0)))
    weight = kernel * np.exp(-2j * np.pi / size * middle * apart)
    bins = np.arange(near.min(initial=0), near.max(initial=0) + 1)
    pointer = np.arange(len(at) + 1) * TAPS
    return csr_array((weight.ravel(), (near - bins[0]).ravel(), pointer), shape=(len(at), len(bins))), bins


def sampling_stride(max_frequency: float, dt: float) -> int:
    """Steps between samples that still catch everything the pulse puts into the room (8 samples a period of the top).

    The pulse's spectrum has fallen by more than 200 dB at four times the highest frequency.
    """
    return max(1, int(1.0 / (8.0 * max_frequency * dt)))
