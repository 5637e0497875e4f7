"""Thresholds of modal decay at their published points, and what exceeds them."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.analysis.audibility import (
    ANY_STIMULUS,
    MUSIC,
    QUALITY_16,
    TEST_SIGNALS,
    THRESHOLDS,
    decay_time_of_quality,
    exceedance,
)


def test_thresholds_pass_through_the_published_points() -> None:
    # Stephenson, PhD thesis, Salford 2012, abstract: about 0.85 s at 32 Hz, about 0.2 s above 100 Hz.
    assert ANY_STIMULUS.at([32.0, 100.0, 160.0]) == pytest.approx([0.85, 0.2, 0.2])
    # Fazenda, Stephenson and Goldberg, JASA 137 (2015), values from memory of the abstract.
    assert MUSIC.at([63.0, 250.0]) == pytest.approx([0.51, 0.12])
    assert TEST_SIGNALS.at([32.0, 200.0]) == pytest.approx([0.9, 0.17])
    # Avis, Fazenda and Davies, JAES 55 (2007): Q = 16 is 1.1, 0.56, 0.28 s at 32, 63, 125 Hz.
    assert QUALITY_16.at([32.0, 63.0, 125.0]) == pytest.approx([1.1, 0.56, 0.28], abs=0.005)
    assert QUALITY_16.at(45.0) == pytest.approx(decay_time_of_quality(16.0, 45.0))


def test_thresholds_fall_with_frequency_and_end_where_nothing_was_published() -> None:
    for threshold in THRESHOLDS:
        inside = np.geomspace(threshold.frequency[0], threshold.frequency[-1], 50)
        assert (np.diff(threshold.at(inside)) <= 1e-12).all()
        low, high = threshold.frequency[0], threshold.frequency[-1]
        assert np.isnan(threshold.at([low / 1.2, high * 1.2])).all()
        assert threshold.at([low / 1.1, high * 1.1]) == pytest.approx([threshold.seconds[0], threshold.seconds[-1]])


def test_quality_and_decay_time() -> None:
    # T60 = 2.199 Q/f.
    assert decay_time_of_quality(1.0, 1.0) == pytest.approx(2.199, abs=5e-4)


def test_what_rings_too_long_is_said() -> None:
    frequency, decay = [20.0, 34.6, 34.6, 63.0, 120.0, 120.0, 63.0], [3.0, 0.92, 0.41, 0.5, 0.19, 0.21, np.nan]
    found = exceedance(frequency, decay)
    assert found.threshold is ANY_STIMULUS
    assert found.exceeds.tolist() == [False, True, False, True, False, True, False]
    assert found.judged.tolist() == [False, True, True, True, True, True, False]
    assert found.ratio[4] == pytest.approx(0.95) and np.isnan(found.limit[0])
    assert exceedance(frequency, decay, MUSIC).exceeds.tolist() == [False, False, False, False, False, False, False]
    assert exceedance([], []).exceeds.size == 0
