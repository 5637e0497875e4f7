"""Meter readings: A and C weighting of IEC 61672-1 at the tabulated frequencies, tones and pink noise."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.analysis.bands import octave_bands
from fdtd.analysis.weighting import (
    POLES,
    pink_noise_reading,
    weight_db,
)

# IEC 61672-1 table of weightings at the exact base-10 frequencies, 10 to 250 Hz, rounded to 0.1 dB
# (as printed at lichtbeeldgeluid.nl/geluid/tabellen).
A = [-70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4, -10.9, -8.6]
C = [-14.3, -11.2, -8.5, -6.2, -4.4, -3.0, -2.0, -1.3, -0.8, -0.5, -0.3, -0.2, -0.1, 0.0, 0.0]
EXACT = np.array([band.middle for band in octave_bands(3, 10.0, 250.0)])
CURVE = np.geomspace(10.0, 400.0, 800)


@pytest.mark.parametrize(("weighting", "table"), [("A", A), ("C", C)])
def test_weights_at_the_tabulated_frequencies(weighting: str, table: list[float]) -> None:
    assert np.abs(weight_db(EXACT, weighting) - table).max() <= 0.05  # the table's rounding


def test_weights_are_0_db_at_1_khz() -> None:
    for weighting in ("A", "C", "Z"):
        assert weight_db(1000.0, weighting) == pytest.approx(0.0, abs=1e-12)
    assert weight_db([20.0, 500.0], "Z") == pytest.approx([0.0, 0.0])


def test_poles_follow_from_the_standards_own_equations() -> None:
    # IEC 61672-1:2013 annex E (from memory): half power of C at 10^1.5 and 10^3.9 Hz; A's high-pass at 10^2.45 Hz.
    root, lower, upper, reference = np.sqrt(0.5), 10**1.5, 10**3.9, 1000.0
    b = (reference**2 + (lower * upper / reference) ** 2 - root * (lower**2 + upper**2)) / (1 - root)
    c = (lower * upper) ** 2
    outer = [np.sqrt((-b - sign * np.sqrt(b * b - 4 * c)) / 2) for sign in (-1, 1)]
    middle = [(3 - np.sqrt(5)) / 2 * 10**2.45, (3 + np.sqrt(5)) / 2 * 10**2.45]
    assert POLES == pytest.approx(sorted([*outer, *middle]), rel=1e-6)


def test_an_unknown_weighting_is_named() -> None:
    with pytest.raises(ValueError, match="A, C and Z, found 'B'"):
        weight_db(50.0, "B")  # type: ignore[arg-type]


def test_pink_noise_on_a_flat_curve_reads_its_level() -> None:
    assert pink_noise_reading(np.full(CURVE.shape, 74.0), CURVE, 20.0, 160.0, "Z") == pytest.approx(74.0, abs=1e-9)


def test_pink_noise_counts_octaves_alike() -> None:
    # 10 dB more in one octave of three: 10 log10((10 + 1 + 1)/3).
    level = np.where((CURVE >= 40.0) & (CURVE < 80.0), 10.0, 0.0)
    assert pink_noise_reading(level, CURVE, 20.0, 160.0, "Z") == pytest.approx(10 * np.log10(4.0), abs=0.02)


def test_pink_noise_in_a_third_octave_reads_nearly_the_weight_of_its_middle() -> None:
    band = octave_bands(3, 63.0, 63.0)[0]
    reading = pink_noise_reading(np.zeros(CURVE.shape), CURVE, band.lower, band.upper, "A")
    assert reading == pytest.approx(-26.2, abs=0.15)
    # Closed form for a slope of s dB per octave over w octaves: (2^a - 1)/(a ln 2) with a = s w/(10 log10 2).
    slope = 6.0 * np.log2(CURVE / 40.0)
    a = 6.0 / (10 * np.log10(2.0))
    wanted = 10 * np.log10((2**a - 1) / (a * np.log(2.0)))
    assert pink_noise_reading(slope, CURVE, 40.0, 80.0, "Z") == pytest.approx(wanted, abs=1e-3)


def test_bands_add_up_to_the_whole() -> None:
    level = 5.0 * np.sin(3.0 * np.log(CURVE))
    parts = [pink_noise_reading(level, CURVE, low, 2 * low, "C") for low in (20.0, 40.0, 80.0)]
    whole = pink_noise_reading(level, CURVE, 20.0, 160.0, "C")
    assert 10 * np.log10(np.sum(10 ** (np.array(parts) / 10))) - 10 * np.log10(3.0) == pytest.approx(whole, abs=1e-3)
    with pytest.raises(ValueError, match="found 80 to 40 Hz"):
        pink_noise_reading(level, CURVE, 80.0, 40.0, "C")
