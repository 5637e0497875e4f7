"""From simulated pressures to transfer functions and band-limited impulse responses."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.simulation.signals import spectrum
from fdtd.simulation.stepper import Simulation


def volume_velocity(simulation: Simulation, frequency: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Spectrum of the source's volume velocity at `frequency` (Hz), m³: that of dQ/dt over j omega."""
    return spectrum(simulation.signal, frequency, simulation.time_step, simulation.stride) / (2j * np.pi * frequency)


def transfer_functions(simulation: Simulation, frequency: NDArray[np.float64]) -> NDArray[np.complex128]:
    """(excitation, seat, frequency) pressure per volume velocity, Pa/(m³/s), by deconvolution (theory.md, eq. 23);
    frequency : Hz, > 0."""
    pressure = spectrum(simulation.seats, frequency, simulation.time_step, simulation.stride, simulation.every)
    return pressure / volume_velocity(simulation, frequency)


def map_transfer(simulation: Simulation, frequency: NDArray[np.float64]) -> NDArray[np.complex64]:
    """(excitation, map_frequency, cell) pressure per volume velocity, Pa/(m³/s)."""
    if len(frequency) == 0:
        return simulation.maps
    return (simulation.maps / volume_velocity(simulation, frequency)[None, :, None]).astype(np.complex64)


def impulse_responses(
    transfer: NDArray[np.complex128], frequency: NDArray[np.float64], max_frequency: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Band-limited impulse responses (..., time) and their sample times, s.

    transfer : (..., frequency) on an even grid starting above 0 Hz. Half-cosine ramps below the first 5 Hz of the band
    and over the top tenth keep ringing low; the response is delayed by nothing.
    """
    step = frequency[1] - frequency[0]
    first = int(round(frequency[0] / step))
    low = np.clip((frequency - frequency[0]) / 5.0, 0.0, 1.0)
    high = np.clip((max_frequency - frequency) / (0.1 * max_frequency), 0.0, 1.0)
    taper = np.sin(0.5 * np.pi * low) ** 2 * np.sin(0.5 * np.pi * high) ** 2
    samples = 2 * int(np.ceil(2.5 * max_frequency / step))
    bins = np.zeros((*transfer.shape[:-1], samples // 2 + 1), dtype=complex)
    bins[..., first : first + len(frequency)] = transfer * taper
    response = np.fft.irfft(bins, n=samples) * samples * step
    return response, np.arange(samples) / (samples * step)
