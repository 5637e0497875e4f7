"""Fractional-octave smoothing against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.analysis.smoothing import smoothed_levels

LOG = np.geomspace(10.0, 320.0, 4001)
LINEAR = np.arange(10.0, 320.0, 0.25)


@pytest.mark.parametrize("fraction", [1.0, 3.0, 12.0])
@pytest.mark.parametrize("axis", [LOG, LINEAR], ids=["log", "linear"])
def test_a_flat_curve_stays(axis: np.ndarray, fraction: float) -> None:
    assert smoothed_levels(np.full(axis.shape, 71.0), axis, fraction) == pytest.approx(71.0, abs=1e-9)


@pytest.mark.parametrize("fraction", [1.0, 3.0, 6.0])
def test_a_slope_stays_a_slope_raised_by_the_mean_of_its_power(fraction: float) -> None:
    # Power e^(a x) over x octaves, window w: mean sinh(a w/2)/(a w/2), the same everywhere inside.
    level = 6.0 * np.log2(LOG / 40.0)
    a = 6.0 * np.log(10.0) / 10.0 / 2.0 / fraction
    found = smoothed_levels(level, LOG, fraction) - level
    inside = (LOG > 10.0 * 2 ** (0.5 / fraction)) & (LOG < 320.0 * 2 ** (-0.5 / fraction))
    np.testing.assert_allclose(found[inside], 10 * np.log10(np.sinh(a) / a), atol=1e-4)
    assert (found[~inside] >= -1e-9).all() and found[[0, -1]] == pytest.approx(0.0, abs=1e-9)


def test_a_narrow_peak_becomes_as_wide_as_the_window() -> None:
    # All the energy in a sliver at 80 Hz: constant over a third octave around it, and nothing outside.
    level = np.full(LOG.shape, -100.0)
    at = int(np.argmin(np.abs(LOG - 80.0)))
    level[at] = 40.0
    found = smoothed_levels(level, LOG, 3.0)
    near = np.abs(np.log2(LOG / LOG[at])) < 1 / 6 - 0.004
    far = np.abs(np.log2(LOG / LOG[at])) > 1 / 6 + 0.004
    spacing = np.log2(LOG[1] / LOG[0])
    np.testing.assert_allclose(found[near], 40.0 + 10 * np.log10(spacing * 3.0), atol=1e-6)
    np.testing.assert_allclose(found[far], -100.0, atol=0.1)  # rounding, 140 dB down


def test_power_is_averaged_not_decibels() -> None:
    # Half the window at 0 dB, half at 20 dB: 10 log10(50.5), not 10 dB.
    level = np.where(LOG < 60.0, 0.0, 20.0)
    assert smoothed_levels(level, LOG, 1.0)[np.argmin(np.abs(LOG - 60.0))] == pytest.approx(17.03, abs=0.05)


def test_seats_are_smoothed_one_by_one() -> None:
    levels = np.random.default_rng(2).normal(size=(2, 3, len(LINEAR)))
    together = smoothed_levels(levels, LINEAR, 6.0)
    np.testing.assert_allclose(together[1, 2], smoothed_levels(levels[1, 2], LINEAR, 6.0), atol=1e-9)


def test_a_slow_sum_gives_the_same() -> None:
    levels = 10.0 * np.random.default_rng(3).normal(size=len(LINEAR))
    fine = np.linspace(np.log2(50.0) - 1 / 6, np.log2(50.0) + 1 / 6, 200001)
    power = np.interp(fine, np.log2(LINEAR), 10 ** (levels / 10))
    found = smoothed_levels(levels, LINEAR, 3.0)[np.argmin(np.abs(LINEAR - 50.0))]
    assert found == pytest.approx(10 * np.log10(power.mean()), abs=1e-3)


def test_bad_input_is_named() -> None:
    with pytest.raises(ValueError, match="n above 0, found 0"):
        smoothed_levels(np.zeros(3), [10.0, 20.0, 30.0], 0.0)
    with pytest.raises(ValueError, match="rise from above 0 Hz, found 0 to 20"):
        smoothed_levels(np.zeros(3), [0.0, 10.0, 20.0])
