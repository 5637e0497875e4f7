"""Evenness between seats against values worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.analysis.evenness import log_frequencies, seat_evenness

AXIS = np.geomspace(10.0, 200.0, 2001)


def test_equal_seats_are_even_whatever_their_curve() -> None:
    ripple = 5.0 * np.sin(2 * np.pi * np.log2(AXIS / 20.0))
    found = seat_evenness(np.stack([ripple, ripple, ripple]), AXIS)
    assert (found.mean_deviation, found.mean_spatial_variance, found.deviation_of_means) == pytest.approx((0, 0, 0))
    # 73 points of which the last repeats the first (see seat_figures): 25/2 * 72/73.
    assert found.variance_of_spatial_average == pytest.approx(12.5 * 72 / 73, abs=1e-3)
    assert (found.seats, found.low, found.high) == (3, 20.0, 160.0)


def test_a_louder_seat_counts_in_full() -> None:
    found = seat_evenness(np.stack([np.zeros(AXIS.shape), np.full(AXIS.shape, 6.0)]), AXIS)
    assert (found.mean_deviation, found.mean_spatial_variance) == pytest.approx((3.0, 9.0))
    assert (found.deviation_of_means, found.variance_of_spatial_average) == pytest.approx((3.0, 0.0))


def test_mean_is_over_log_frequency_and_the_worst_is_found() -> None:
    # The seats differ by 8 dB below 40 Hz, one octave of three: deviation 4 dB there.
    dip = np.where(AXIS < 40.0, -8.0, 0.0)
    found = seat_evenness(np.stack([dip, np.zeros(AXIS.shape)]), AXIS)
    assert found.mean_deviation == pytest.approx(4.0 * 24 / 73, abs=0.06)
    assert found.mean_spatial_variance == pytest.approx(16.0 * 24 / 73, abs=0.2)
    assert found.worst_deviation == pytest.approx(4.0) and found.worst_frequency < 40.0


def test_absent_seats_are_left_out_and_one_is_not_enough() -> None:
    levels = np.stack([np.zeros(AXIS.shape), np.full(AXIS.shape, np.nan), np.full(AXIS.shape, 2.0)])
    assert seat_evenness(levels, AXIS).seats == 2
    with pytest.raises(ValueError, match="two seats or more, found 1"):
        seat_evenness(levels[:2], AXIS)
    with pytest.raises(ValueError, match="found 200 to 300 Hz"):
        seat_evenness(np.zeros((2, 5)), np.linspace(200.0, 300.0, 5))


def test_points_are_24_an_octave() -> None:
    assert len(log_frequencies(20.0, 160.0)) == 73
