"""Bands of IEC 61260-1: exact frequencies, names, filter."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import sosfreqz

from fdtd.analysis.bands import OCTAVE_RATIO, Band, band_at, band_filter, exact_middle, filtered, octave_bands

# Exact mid frequencies and edges, base 10, IEC 61260-1 (tables of lichtbeeldgeluid.nl/geluid/tabellen to four digits;
# further digits computed from 1000 G^(x/3)).
THIRDS = {
    "10": (10.0000, 8.9125, 11.2202),
    "12.5": (12.5893, 11.2202, 14.1254),
    "16": (15.8489, 14.1254, 17.7828),
    "20": (19.9526, 17.7828, 22.3872),
    "25": (25.1189, 22.3872, 28.1838),
    "31.5": (31.6228, 28.1838, 35.4813),
    "40": (39.8107, 35.4813, 44.6684),
    "50": (50.1187, 44.6684, 56.2341),
    "63": (63.0957, 56.2341, 70.7946),
    "80": (79.4328, 70.7946, 89.1251),
    "100": (100.0, 89.1251, 112.2018),
    "125": (125.8925, 112.2018, 141.2538),
    "160": (158.4893, 141.2538, 177.8279),
    "200": (199.5262, 177.8279, 223.8721),
}
OCTAVES = {"16": (15.8489, 22.3872), "31.5": (31.6228, 44.6684), "63": (63.0957, 89.1251), "125": (125.8925, 177.8279)}
# Sixth octaves: 1000 G^((2x+1)/12), IEC 61260-1 rule for even b (from memory).
SIXTHS = [21.135, 23.714, 26.607, 29.854, 33.497, 37.584, 42.170, 47.315, 53.088, 59.566, 66.834, 74.989, 84.140]


def test_third_octaves_are_the_exact_ones() -> None:
    found = octave_bands(3, 10.0, 200.0)
    assert [band.name for band in found] == list(THIRDS)
    for band in found:
        assert (band.middle, band.lower, band.upper) == pytest.approx(THIRDS[band.name], abs=5.1e-5)


def test_octaves_are_the_exact_ones() -> None:
    found = octave_bands(1, 16.0, 125.0)
    assert [band.name for band in found] == list(OCTAVES)
    for band in found:
        assert (band.middle, band.upper) == pytest.approx(OCTAVES[band.name], abs=5.1e-5)


def test_even_fractions_straddle_the_reference() -> None:
    found = octave_bands(6, 21.0, 84.0)
    assert [band.middle for band in found] == pytest.approx(SIXTHS, abs=5.1e-4)
    assert exact_middle([-1, 0], 2) == pytest.approx([1000 / OCTAVE_RATIO**0.25, 1000 * OCTAVE_RATIO**0.25])


@pytest.mark.parametrize("fraction", [1, 2, 3, 6, 12, 24, 48])
def test_bands_join_and_hold_their_middle(fraction: int) -> None:
    found = octave_bands(fraction, 20.0, 2000.0)
    for left, right in zip(found, found[1:], strict=False):
        assert left.upper == pytest.approx(right.lower, rel=1e-12)
        assert band_at(left.upper * (1 - 1e-6), fraction) == left
        assert band_at(right.lower, fraction) == right
    for band in found:
        assert band_at(band.middle, fraction) == band
        assert np.sqrt(band.lower * band.upper) == pytest.approx(band.middle)
    assert len({band.name for band in found}) == len(found)


def test_names_are_preferred_numbers_in_every_decade() -> None:
    assert [b.name for b in octave_bands(3, 80.0, 125.0)] == ["80", "100", "125"]
    assert [b.name for b in octave_bands(3, 800.0, 3150.0)] == ["800", "1000", "1250", "1600", "2000", "2500", "3150"]


def test_bad_bands_are_refused() -> None:
    with pytest.raises(ValueError, match="above 0 Hz"):
        band_at(0.0)
    with pytest.raises(ValueError, match="fraction must be"):
        band_at(50.0, 0)
    with pytest.raises(ValueError, match="found 50 to 20 Hz"):
        octave_bands(3, 50.0, 20.0)
    with pytest.raises(ValueError, match="samples a second, found 100"):
        band_filter(band_at(50.0), 100.0)


def loss(band: Band, frequency: np.ndarray, rate: float = 4000.0) -> np.ndarray:
    _, gain = sosfreqz(band_filter(band, rate), worN=frequency, fs=rate)
    return -20 * np.log10(np.maximum(np.abs(gain), 1e-12))


# Class 1 limits of the relative attenuation, IEC 61260-1:2014 table 1 (values from memory): octave-band frequency
# ratio as a power of G, least and greatest loss in dB.
CLASS_1 = [
    (0.0, -0.4, 0.4),
    (1 / 8, -0.4, 0.5),
    (1 / 4, -0.4, 0.7),
    (3 / 8, -0.4, 1.4),
    (1 / 2, 1.6, 5.3),
    (1.0, 16.6, np.inf),
    (2.0, 40.5, np.inf),
    (3.0, 60.0, np.inf),
    (4.0, 70.0, np.inf),
]


@pytest.mark.parametrize("fraction", [1, 3])
@pytest.mark.parametrize("middle", [31.6, 63.1, 125.9])
def test_the_filter_is_inside_class_1(fraction: int, middle: float) -> None:
    band = band_at(middle, fraction)
    # IEC 61260-1 (5.10.2): a fractional band's breakpoint is 1 + (G^(1/2b) - 1)/(G^(1/2) - 1) (Omega - 1).
    scale = (OCTAVE_RATIO ** (0.5 / fraction) - 1) / (OCTAVE_RATIO**0.5 - 1)
    for power, least, greatest in CLASS_1:
        ratio = 1 + scale * (OCTAVE_RATIO**power - 1)
        for found in loss(band, band.middle * np.array([ratio, 1 / ratio])):
            assert least <= found <= greatest, (power, found)


def test_edges_are_half_power_points_in_either_direction() -> None:
    band = band_at(63.0)
    assert loss(band, np.array([band.lower, band.upper])) == pytest.approx(10 * np.log10(2.0), abs=1e-6)
    rate, time = 2000.0, np.arange(8000) / 2000.0
    for reverse in (False, True):
        tone = filtered(np.sin(2 * np.pi * band.upper * time), rate, band, reverse)[3000:5000]
        assert np.sqrt(2 * np.mean(tone**2)) == pytest.approx(np.sqrt(0.5), rel=2e-3)


def test_reversed_filtering_rings_towards_the_past() -> None:
    pulse = np.zeros(4001)
    pulse[2000] = 1.0
    forward, backward = (filtered(pulse, 2000.0, band_at(50.0), reverse) for reverse in (False, True))
    assert np.abs(forward[:2000]).max() == 0.0 and np.abs(backward[2001:]).max() == 0.0
    np.testing.assert_allclose(backward, forward[::-1], atol=1e-15)
