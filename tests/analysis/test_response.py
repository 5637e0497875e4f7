"""Levels and seat figures against values worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.analysis.response import (
    combined_map,
    combined_transfer,
    free_field_reference,
    level_db,
    levels_at,
    seat_figures,
    strongest_resonances,
)

RHO, C = 1.204, 343.2
FREQUENCY = np.arange(10.0, 200.25, 0.25)
LOG = np.geomspace(10.0, 200.0, 4000)


def monopole(distance: float, frequency: np.ndarray) -> np.ndarray:
    """Pressure per volume velocity of a point source (Kuttruff, Room Acoustics): j omega rho e^{-jkr}/(4 pi r)."""
    omega = 2 * np.pi * frequency
    return 1j * omega * RHO * np.exp(-1j * omega * distance / C) / (4 * np.pi * distance)


def test_a_monopole_has_0_db_at_1_m_and_minus_6_at_2_m() -> None:
    assert free_field_reference(100.0, RHO) == pytest.approx(60.2)
    assert level_db(monopole(1.0, FREQUENCY), FREQUENCY, RHO) == pytest.approx(0.0, abs=1e-12)
    assert level_db(monopole(2.0, FREQUENCY), FREQUENCY, RHO) == pytest.approx(-6.0206, abs=1e-4)


def test_silence_has_a_finite_level() -> None:
    assert np.isfinite(level_db(np.zeros(3, dtype=complex), [10.0, 20.0, 30.0], RHO)).all()


def factors(level: float = 0.0, delay: float = 0.0, polarity: int = 1, at: np.ndarray = FREQUENCY) -> np.ndarray:
    """Playback factor worked out by hand, (frequency,)."""
    return polarity * 10 ** (level / 20) * np.exp(-2j * np.pi * at * delay)


ABSENT = np.full(FREQUENCY.shape, np.nan + 0j)


def test_two_equal_sources_add_6_db_and_opposed_ones_cancel() -> None:
    transfer = np.broadcast_to(monopole(1.0, FREQUENCY), (2, 1, len(FREQUENCY)))
    both = combined_transfer(transfer, np.array([factors(), factors()]))
    assert both.shape == (1, len(FREQUENCY))
    assert level_db(both, FREQUENCY, RHO) == pytest.approx(6.0206, abs=1e-4)  # 20 lg 2
    opposed = combined_transfer(transfer, np.array([factors(), factors(polarity=-1)]))
    assert np.abs(opposed).max() == 0.0


def test_a_delay_makes_a_comb() -> None:
    """Two equal sources, one T = 10 ms late: |2 cos(omega T / 2)|, nulls at 50 and 150 Hz, full sum at 100 Hz."""
    transfer = np.broadcast_to(monopole(1.0, FREQUENCY), (2, 1, len(FREQUENCY)))
    both = combined_transfer(transfer, np.array([factors(), factors(delay=0.01)]))[0]
    ratio = np.abs(both / transfer[0, 0])
    np.testing.assert_allclose(ratio, np.abs(2 * np.cos(np.pi * FREQUENCY * 0.01)), atol=1e-12)
    assert ratio[FREQUENCY == 50.0] < 1e-12 and ratio[FREQUENCY == 100.0] == pytest.approx(2.0)


def test_delay_is_path_length_and_level_is_gain() -> None:
    transfer = monopole(1.0, FREQUENCY)[None, None, :]
    later = combined_transfer(transfer, factors(20.0, 1.0 / C)[None])[0]
    # 1 m of delay and ten times the strength: the field at 2 m, times 2 for the distance, times 10.
    np.testing.assert_allclose(later, 20.0 * monopole(2.0, FREQUENCY), rtol=1e-12)


def test_absent_sources_are_left_out() -> None:
    transfer = np.stack([monopole(1.0, FREQUENCY)[None], np.full((1, len(FREQUENCY)), np.nan)])
    alone = combined_transfer(transfer, np.array([factors(), ABSENT]))
    np.testing.assert_array_equal(alone[0], transfer[0, 0])
    assert np.isnan(combined_transfer(transfer[1:], ABSENT[None])).all()
    assert np.isnan(combined_transfer(transfer[:1], ABSENT[None])).all()
    assert np.isnan(level_db(np.array([np.nan + 1j * np.nan]), [10.0], RHO)).all()


def test_maps_combine_like_transfer_functions() -> None:
    random = np.random.default_rng(1)
    maps = (random.normal(size=(2, 3, 5)) + 1j * random.normal(size=(2, 3, 5))).astype(np.complex64)
    frequency = np.array([20.0, 40.0, 60.0])
    playback = np.array([factors(-6.0, 0.001, at=frequency), factors(polarity=-1, at=frequency)])
    together = combined_map(maps, playback)
    np.testing.assert_allclose(together, playback[0][:, None] * maps[0] - maps[1], rtol=1e-6)


def test_a_flat_curve_has_no_deviation() -> None:
    figures = seat_figures(np.full(FREQUENCY.shape, 7.0), FREQUENCY)
    assert (figures.mean_level, figures.standard_deviation, figures.peak, figures.dip) == pytest.approx((7, 0, 0, 0))
    assert (figures.low, figures.high) == (20.0, 160.0)


def test_a_ripple_in_log_frequency_has_its_root_mean_square() -> None:
    # 5 dB amplitude, one period an octave: three whole periods in 20-160 Hz; std 5/sqrt(2), from 73 points of which
    # the last repeats the first.
    ripple = 3.0 + 5.0 * np.sin(2 * np.pi * np.log2(LOG / 20.0))
    figures = seat_figures(ripple, LOG)
    assert figures.standard_deviation == pytest.approx(5.0 * np.sqrt(36.0 / 73.0), abs=1e-3)
    assert figures.mean_level == pytest.approx(3.0, abs=1e-3)
    assert (figures.peak, figures.dip) == pytest.approx((5.0, -5.0), abs=1e-3)
    octaves = np.log2([figures.peak_frequency / 20.0, figures.dip_frequency / 20.0])
    np.testing.assert_allclose(octaves % 1.0, [0.25, 0.75], atol=2e-3)


def test_every_octave_counts_the_same() -> None:
    # 6 dB above 80 Hz, 0 below: one octave of three, so that the mean is 2 dB and not the 3.4 dB of linear spacing.
    step = np.where(FREQUENCY > 80.0, 6.0, 0.0)
    assert seat_figures(step, FREQUENCY).mean_level == pytest.approx(2.0, abs=0.06)


def test_what_is_outside_20_to_160_hz_does_not_count() -> None:
    level = np.where((FREQUENCY < 20.0) | (FREQUENCY > 160.0), 60.0, 1.0)
    figures = seat_figures(level, FREQUENCY)
    assert (figures.standard_deviation, figures.peak) == pytest.approx((0.0, 0.0))


def test_a_short_curve_gives_the_figures_of_its_part() -> None:
    figures = seat_figures(np.zeros(91), np.linspace(10.0, 100.0, 91))
    assert (figures.low, figures.high) == (20.0, 100.0)
    with pytest.raises(ValueError, match="found 10 to 22 Hz"):
        seat_figures(np.zeros(5), np.linspace(10.0, 22.0, 5))


def test_levels_between_samples_are_linear_in_log_frequency() -> None:
    assert levels_at([20.0, 80.0], [[0.0, 12.0], [6.0, 6.0]], [40.0, 10.0]) == pytest.approx(
        np.array([[6.0, 0.0], [6.0, 6.0]])
    )


def resonances(centres: list[float], weights: list[float]) -> np.ndarray:
    """Level of a sum of damped resonators."""
    s = 2j * np.pi * FREQUENCY
    own = 2 * np.pi * np.array(centres)[:, None]
    total = np.sum(np.array(weights)[:, None] * s / (s * s + 6.0 * s + own**2), axis=0)
    return 20 * np.log10(np.abs(total))


def test_resonances_are_found_at_their_frequencies() -> None:
    level = resonances([24.0, 41.0, 66.5, 120.0], [1.0, 1.0, -1.0, 1.0])
    np.testing.assert_allclose(strongest_resonances(FREQUENCY, level[None]), [24.0, 41.0, 66.5, 120.0], atol=0.3)


def test_the_strongest_are_kept_in_order_of_frequency() -> None:
    level = resonances([24.0, 41.0, 66.5, 120.0], [1.0, 0.02, 1.0, 0.3])
    found = strongest_resonances(FREQUENCY, level[None], count=2)
    np.testing.assert_allclose(found, [24.0, 66.5], atol=0.3)
    assert strongest_resonances(FREQUENCY, level[None], low=30.0, high=100.0)[0] > 30.0


def test_seats_count_by_energy_and_absent_ones_not_at_all() -> None:
    loud, quiet = resonances([30.0], [1.0]), resonances([90.0], [0.001])
    levels = np.stack([loud, quiet, np.full_like(loud, np.nan)])
    np.testing.assert_allclose(strongest_resonances(FREQUENCY, levels, count=1), [30.0], atol=0.3)
    assert strongest_resonances(FREQUENCY, levels[2:]).size == 0
