"""Resonances of sums of damped sinusoids with known answers; bounds from the issue that asked for them."""

from __future__ import annotations

import numpy as np
import pytest
from room_sums import add_noise, box_responses, damped_sum, random_sum
from scipy.signal import firwin

from fdtd.analysis.resonances import Resonances, find_resonances

STEP = 1e-3
"""Sample step of an impulse response up to 200 Hz, s."""


def nearest(found: Resonances, frequency: np.ndarray) -> np.ndarray:
    """For each true frequency the number of the resonance found nearest to it."""
    return np.argmin(np.abs(found.frequency[:, None] - frequency[None, :]), axis=0)


def test_a_single_mode_comes_back_exactly() -> None:
    amplitude = np.array([[1.0 + 0.5j], [-0.3j]])
    found = find_resonances(damped_sum([43.21], [0.7], amplitude, 1000, STEP), STEP)
    assert found.order == 1
    assert found.frequency == pytest.approx([43.21], abs=1e-9)
    assert found.decay_time == pytest.approx([0.7], rel=1e-9)
    np.testing.assert_allclose(found.amplitude, amplitude, atol=1e-9)
    assert found.residual < 1e-18


@pytest.mark.parametrize("responses", [1, 2, 5])
def test_silence_has_no_resonance(responses: int) -> None:
    found = find_resonances(np.zeros((responses, 1000)), STEP)
    assert found.frequency.shape == found.decay_time.shape == (0,)
    assert found.amplitude.shape == (responses, 0)


@pytest.mark.parametrize("seed", range(8))
def test_noise_alone_has_no_resonance(seed: int) -> None:
    noise = np.random.default_rng(seed).normal(size=(2, 1500))
    assert len(find_resonances(noise, STEP).frequency) == 0


@pytest.mark.parametrize("seed", range(8))
def test_frequency_and_decay_at_40_db_signal_to_noise(seed: int) -> None:
    """Ten modes: frequency within 0.05 Hz, decay within 2 % (bounds of the issue), none missing, none invented."""
    draw = np.random.default_rng(seed)
    frequency = np.linspace(25.0, 150.0, 10) + draw.uniform(-5.0, 5.0, 10)
    decay = draw.uniform(0.4, 1.5, 10)
    amplitude = draw.uniform(0.5, 1.5, (2, 10)) * np.exp(2j * np.pi * draw.uniform(size=(2, 10)))
    clean = damped_sum(frequency, decay, amplitude, 2000, STEP)
    found = find_resonances(add_noise(clean, 40.0, draw), STEP)
    assert len(found.frequency) == 10
    np.testing.assert_allclose(found.frequency, frequency, atol=0.05)
    np.testing.assert_allclose(found.decay_time, decay, rtol=0.02)
    assert np.max(np.abs(found.amplitude - amplitude)) < 0.03


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("decay", [0.6, 1.2])
def test_pairs_1_5_hz_apart_are_two(seed: int, decay: float) -> None:
    """Two pairs 1.5 Hz apart, the bandwidth 2.2/T60 of each larger than that, at 40 dB signal-to-noise."""
    draw = np.random.default_rng(seed)
    frequency = np.array([41.3, 42.8, 97.0, 98.5])
    amplitude = draw.normal(size=(2, 4)) + 1j * draw.normal(size=(2, 4))
    clean = damped_sum(frequency, np.full(4, decay), amplitude, 2000, STEP)
    found = find_resonances(add_noise(clean, 40.0, draw), STEP)
    assert len(found.frequency) == 4
    assert np.all(np.abs(found.frequency - frequency) < np.maximum(0.05, 5.0 * found.frequency_error))
    assert np.all(np.abs(found.frequency - frequency) < 0.3)


@pytest.mark.parametrize("seed", range(40))
def test_no_resonance_is_invented(seed: int) -> None:
    """5 to 40 modes anywhere from 20 to 160 Hz, 40 to 20 dB signal-to-noise: what is found has a true mode beside it.

    Beside means within 0.3 Hz or half the half-power bandwidth of that mode: modes closer than that may come as one.
    """
    draw = np.random.default_rng(seed)
    frequency, decay, amplitude = random_sum(draw, int(draw.integers(5, 41)), int(draw.integers(1, 5)))
    clean = damped_sum(frequency, decay, amplitude, 1000, STEP)
    found = find_resonances(add_noise(clean, draw.uniform(20.0, 40.0), draw), STEP)
    assert len(found.frequency) <= len(frequency)
    distance = np.abs(found.frequency[:, None] - frequency[None, :])
    beside = distance <= np.maximum(0.3, 0.5 * 2.2 / decay)[None, :]
    assert beside.any(axis=1).all(), f"invented: {found.frequency[~beside.any(axis=1)]} Hz"


def test_errors_are_honest() -> None:
    """Over 20 draws of the noise the deviations spread as the standard errors say, within 25 %."""
    frequency, decay = np.array([33.0, 47.0, 52.0, 81.0]), np.array([0.9, 0.5, 0.7, 0.4])
    clean = damped_sum(frequency, decay, np.array([[1.0, 1j, -1.0, 0.7], [0.5, -1.0, 1j, 1.0]]), 1500, STEP)
    deviation = []
    for seed in range(20):
        found = find_resonances(add_noise(clean, 30.0, np.random.default_rng(seed)), STEP)
        assert len(found.frequency) == 4
        deviation.append((found.frequency - frequency) / found.frequency_error)
        deviation.append((found.decay_time - decay) / found.decay_error)
    assert np.sqrt(np.mean(np.square(deviation))) == pytest.approx(1.0, abs=0.25)


def test_direct_sound_does_not_disturb() -> None:
    """A pulse at 3 m distance, ten times the modes' peak, band-limited to 180 Hz, in front of three modes."""
    frequency, decay = np.array([31.0, 58.0, 60.5]), np.array([0.8, 0.5, 0.6])
    response = damped_sum(frequency, decay, np.array([[1.0, 0.6, -0.8j]]), 1500, STEP)
    pulse = firwin(41, 200.0, fs=1.0 / STEP)
    response[0, 9 : 9 + 41] += 10.0 * pulse / np.max(pulse)
    found = find_resonances(response, STEP)
    index = nearest(found, frequency)
    np.testing.assert_allclose(found.frequency[index], frequency, atol=0.05)
    np.testing.assert_allclose(found.decay_time[index], decay, rtol=0.02)


def test_what_is_40_db_down_is_left_out() -> None:
    response = damped_sum([40.0, 60.0, 80.0], [0.8, 0.8, 0.8], np.array([[1.0, 0.012, 0.008]]), 2000, STEP)
    np.testing.assert_allclose(find_resonances(response, STEP).frequency, [40.0, 60.0], atol=1e-3)
    everything = find_resonances(response, STEP, weakest=-60.0)
    np.testing.assert_allclose(everything.frequency, [40.0, 60.0, 80.0], atol=1e-3)


def test_the_same_input_gives_the_same_numbers() -> None:
    draw = np.random.default_rng(1)
    response = damped_sum(*random_sum(draw, 20, 2), 1000, STEP)
    first, second = find_resonances(response, STEP), find_resonances(response, STEP)
    np.testing.assert_array_equal(first.frequency, second.frequency)
    np.testing.assert_array_equal(first.amplitude, second.amplitude)


@pytest.mark.parametrize("admittance", [0.01, 0.02])
def test_first_15_modes_of_a_rectangular_room(admittance: float) -> None:
    """Modal sum of a box with weak walls, band-limited as a run does it: frequency within 0.05 Hz, decay within 2 %."""
    response, step, frequency, decay = box_responses(admittance)
    found = find_resonances(response, step, 20.0, 160.0)
    index = nearest(found, frequency[:15])
    assert len(set(index)) == 15
    np.testing.assert_allclose(found.frequency[index], frequency[:15], atol=0.05)
    np.testing.assert_allclose(found.decay_time[index], decay[:15], rtol=0.02)


@pytest.mark.parametrize(
    ("impulse", "low", "high", "says"),
    [
        (np.ones((2, 1000)), 20.0, 500.0, "half the sampling rate"),
        (np.ones((2, 1000)), 160.0, 20.0, "above 0 Hz"),
        (np.full((2, 1000), np.nan), 20.0, 160.0, "finite"),
        (np.ones((2, 50)), 20.0, 160.0, "at least 0.11 s"),
    ],
)
def test_bad_input_is_named(impulse: np.ndarray, low: float, high: float, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        find_resonances(impulse, STEP, low, high)
