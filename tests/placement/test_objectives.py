"""The objectives against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.analysis.audibility import ANY_STIMULUS
from fdtd.placement.objectives import benefit, make_axis, objectives, ringing_limit, ringing_over

FREQUENCY = np.arange(20.0, 160.1, 0.1)


def resonance(at: float, delta: float) -> np.ndarray:
    """(F, 1) of one decaying oscillation."""
    return (1.0 / (delta + 2j * np.pi * (FREQUENCY - at)))[:, None]


@pytest.mark.parametrize(("at", "decay"), [(30.0, 2.0), (60.0, 1.0), (120.0, 0.6)])
def test_ringing_at_a_resonance_is_its_decay_time_over_the_limit(at: float, decay: float) -> None:
    """T = 3 ln(10)/delta (Kuttruff, Room Acoustics, ch. 3)."""
    axis = make_axis(FREQUENCY, [1.0], width=0.0)
    over = ringing_over(resonance(at, 3 * np.log(10) / decay), axis)[:, 0]
    assert over.max() == pytest.approx(np.log2(decay / float(ringing_limit(at))), abs=0.03)
    assert FREQUENCY[np.argmax(over)] == pytest.approx(at, abs=0.2)


def test_over_the_whole_axis_ringing_is_the_mean_square_time_of_the_energy() -> None:
    """Parseval: exp(-delta t) has a mean square time of 1/(2 delta²) by its energy."""
    delta = 20.0
    axis = make_axis(FREQUENCY, [1.0], width=20.0)
    squared = 4.0 ** ringing_over(resonance(90.0, delta), axis)[:, 0] / axis.rate
    loud = axis.rate / (2 * delta**2) > 1.1
    assert loud.any()
    np.testing.assert_allclose(squared[loud], 1 / (2 * delta**2), rtol=0.06)


def test_limit_is_the_published_one_and_goes_on_below() -> None:
    """0.85 s at 32 Hz and 0.2 s above 100 Hz: Stephenson, PhD thesis, Salford, 2012."""
    assert ringing_limit([32.0, 100.0, 200.0, 400.0]) == pytest.approx([0.85, 0.2, 0.2, 0.2])
    assert ringing_limit(50.0) == pytest.approx(ANY_STIMULUS.at(50.0))
    assert ringing_limit(16.0) == pytest.approx(1.7)


def test_unevenness_of_a_level_that_is_linear_in_log_frequency() -> None:
    """A level rising evenly by R dB over the axis has a standard deviation of R/sqrt(12) (uniform distribution)."""
    axis = make_axis(FREQUENCY, [1.0], smoothing=0.0, edge=0.0)
    slope = FREQUENCY[:, None]
    rise = 20 * np.log10(FREQUENCY[-1] / FREQUENCY[0])
    found = objectives(slope.astype(complex), axis)
    assert found.uneven == pytest.approx(rise / np.sqrt(12), rel=1e-3)
    assert found.spread == 0.0 and found.loss == 0.0 and found.benefit == 0.0


def test_spread_and_loss_of_known_levels() -> None:
    """Two seats 6 dB apart everywhere: 3 dB standard deviation; weights 3 : 1 give 6 sqrt(3/16)."""
    flat = np.ones((len(FREQUENCY), 1)) * 10 ** (np.array([0.0, -6.0]) / 20.0) + 0j
    axis = make_axis(FREQUENCY, [1.0, 1.0])
    untreated = objectives(flat, axis)
    assert untreated.spread == pytest.approx(3.0) and untreated.level == pytest.approx(-3.0)
    assert objectives(flat, make_axis(FREQUENCY, [3.0, 1.0])).spread == pytest.approx(6.0 * np.sqrt(3.0 / 16.0))
    quieter = objectives(0.5 * flat, axis, untreated)
    assert quieter.loss == pytest.approx(20 * np.log10(2))
    assert quieter.benefit == pytest.approx(-0.25 * 20 * np.log10(2))
    assert objectives(2.0 * flat, axis, untreated).benefit == pytest.approx(0.0, abs=1e-9), "louder is no merit"


def test_a_null_does_not_ring() -> None:
    """Two arrivals 5 ms apart cancel at 100 Hz: nothing lasts longer than 5 ms, far below the limit of 200 ms there,
    though sample by sample |dH/d omega|/|H| reaches 5 s."""
    notch = (1.0 + 0.999 * np.exp(-2j * np.pi * FREQUENCY * 0.005))[:, None]
    shared, single = (objectives(notch, make_axis(FREQUENCY, [1.0], width)).ringing for width in (1 / 3, 0.0))
    assert shared == 0.0 < 0.01 < single


@pytest.mark.parametrize("at", [60.0, 159.0])
def test_no_single_frequency_swings_the_figures(at: float) -> None:
    """A null a quarter of a hertz wide and 60 dB deep, in the middle of the band or beside its edge."""
    flat = np.ones((len(FREQUENCY), 1), dtype=complex)
    pitted = np.where(np.abs(FREQUENCY[:, None] - at) < 0.13, 1e-3, flat)
    assert objectives(pitted, make_axis(FREQUENCY, [1.0])).uneven < 0.05
    sharp = make_axis(FREQUENCY, [1.0], smoothing=0.0, edge=0.0)
    assert objectives(pitted, sharp).uneven > 10 * objectives(pitted, make_axis(FREQUENCY, [1.0])).uneven


def test_a_peak_at_the_edge_of_the_band_counts_less_than_one_within() -> None:
    """One resonance of the same shape on a logarithmic axis: at 80 Hz, and at 155 Hz, where the weight is below 0.1."""
    axis = make_axis(FREQUENCY, [1.0])
    inside, outside = (
        objectives(1.0 + 4.0 / (1.0 + 40j * (FREQUENCY / at - at / FREQUENCY))[:, None], axis).uneven
        for at in (80.0, 155.0)
    )
    assert outside < 0.5 * inside


def test_what_one_seat_loses_is_taken_off() -> None:
    """Levels swing by 6 dB at one seat and not at the other, then the other way round: no gain on the whole, and the
    second seat is worse by the standard deviation of such a level."""
    axis = make_axis(FREQUENCY, [1.0, 1.0])
    swing = 10.0 ** (6.0 * np.sin(8.0 * np.log(FREQUENCY)) / 20.0)
    uneven = np.stack([swing, np.ones_like(swing)], axis=1) + 0j
    before = objectives(uneven, axis)
    after = objectives(uneven[:, ::-1], axis, before)
    assert after.uneven == pytest.approx(before.uneven)
    assert after.harm == pytest.approx(before.uneven_at[0] - before.uneven_at[1])
    assert after.benefit == pytest.approx(-after.harm)
    only = make_axis(FREQUENCY, [1.0, 0.0])
    assert objectives(uneven[:, ::-1], only, objectives(uneven, only)).harm == 0.0, "a seat of weight 0 does not count"


def test_benefit_weighs_as_documented() -> None:
    assert benefit(1.0, 2.0, 3.0, 4.0, 0.0) == pytest.approx(6.0206 + 2.0 + 3.0 - 1.0, abs=1e-4)
    assert benefit(1.0, 2.0, 3.0, 4.0, 0.5) == pytest.approx(benefit(1.0, 2.0, 3.0, 4.0, 0.0) - 0.5)
    assert benefit(0.0, 0.0, 0.0, -4.0, 0.0) == 0.0


def test_two_frequencies_far_apart_have_equal_weights() -> None:
    """Both lie at an end of the band, where the weight of a longer axis falls to 0."""
    assert make_axis(np.array([20.0, 160.0]), [1.0]).weight == pytest.approx([0.5, 0.5])
