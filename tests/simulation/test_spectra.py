"""Spectra by fast transforms and interpolation, against the Fourier sum written out (its definition)."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.simulation.signals import spectrum, time_step_frequency


@pytest.mark.parametrize("count", [1, 5, 16, 333, 4000])
def test_any_frequencies_of_any_length_equal_the_sum_written_out(count: int):
    """Noise, three signals; frequencies between the bins, zero, and out of order."""
    draw = np.random.default_rng(count)
    dt, signal = 2.0e-4, draw.standard_normal((3, 1, count))
    frequency = np.concatenate([[0.0], draw.uniform(5.0, 400.0, 40)])
    omega = time_step_frequency(frequency, dt)
    wanted = dt * (signal @ np.exp(-1j * omega * dt * np.arange(count)[:, None]))
    # Rounding of sums of `count` numbers of size 1 times dt, with room for the interpolation's own.
    assert np.abs(spectrum(signal, frequency, dt) - wanted).max() < 1e-11 * dt * np.sqrt(count)


def test_every_so_many_samples_count_as_much_as_all():
    """A stride takes every second sample and twice the step."""
    dt, signal = 2.0e-4, np.random.default_rng(1).standard_normal((2, 700))
    frequency = np.array([20.0, 33.3, 90.0])
    omega = time_step_frequency(frequency, dt)
    wanted = 2 * dt * (signal[:, ::2] @ np.exp(-1j * omega * 2 * dt * np.arange(350)[:, None]))
    assert np.abs(spectrum(signal, frequency, dt, stride=2) - wanted).max() < 1e-11 * dt * 20
