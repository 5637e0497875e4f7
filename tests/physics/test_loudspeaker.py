"""Roll-off of closed and vented boxes and crossover filters, against published values and independent filters."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter, cheb1ap, freqs, freqs_zpk

from fdtd.physics.loudspeaker import (
    BUTTERWORTH_VENTED,
    ORDERS,
    Crossover,
    Rolloff,
    half_power_frequency,
    vented_coefficients,
)

FREQUENCY = np.geomspace(5.0, 400.0, 300)


def level(part: Rolloff | Crossover, frequency: float) -> float:
    """Response in dB at one frequency."""
    return float(20.0 * np.log10(np.abs(part.response(frequency))))


def test_a_closed_box_is_down_by_q_at_its_resonance() -> None:
    """|G(f0)| = Q (Small 1972): -3.01 dB at Q = 0.707, -6.02 dB at 0.5, 0 dB at 1; the phase is +90 degrees."""
    for q, expected in ((None, -3.0103), (np.sqrt(0.5), -3.0103), (0.5, -6.0206), (1.0, 0.0)):
        assert level(Rolloff("closed", 35.0, q), 35.0) == pytest.approx(expected, abs=1e-4)
    assert np.angle(Rolloff("closed", 35.0, 0.9).response(35.0)) == pytest.approx(np.pi / 2)


def test_a_closed_box_peaks_where_published() -> None:
    """Q = 1: largest response Q²/sqrt(Q² - 1/4) = +1.25 dB at f0/sqrt(1 - 1/(2 Q²)) = 1.414 f0 (Small 1972)."""
    fine = np.linspace(35.0, 100.0, 20001)
    found = np.abs(Rolloff("closed", 35.0, 1.0).response(fine))
    assert 20 * np.log10(found.max()) == pytest.approx(1.2494, abs=1e-4)
    assert fine[found.argmax()] == pytest.approx(35.0 * np.sqrt(2.0), abs=0.02)


@pytest.mark.parametrize(("kind", "slope"), [("closed", 12.0412), ("vented", 24.0824)])
def test_slope_far_below_and_nothing_far_above(kind: str, slope: float) -> None:
    """Second and fourth order: 40 lg 2 and 80 lg 2 dB an octave."""
    box = Rolloff(kind, 100.0)
    assert level(box, 1.0) - level(box, 0.5) == pytest.approx(slope, abs=2e-3)
    assert level(box, 1e5) == pytest.approx(0.0, abs=1e-5)


def test_the_ordinary_vented_box_is_fourth_order_butterworth() -> None:
    """Thiele's alignment 5 (B4): Q 0.383, box tuned to the driver, compliance ratio 1.414; -3.01 dB at f0."""
    assert BUTTERWORTH_VENTED == pytest.approx(0.383, abs=5e-4)
    assert vented_coefficients(BUTTERWORTH_VENTED) == pytest.approx((2.6131, 3.4142, 2.6131), abs=1e-4)
    expected = freqs(*butter(4, 2 * np.pi * 30.0, "high", analog=True), worN=2 * np.pi * FREQUENCY)[1]
    np.testing.assert_allclose(Rolloff("vented", 30.0).response(FREQUENCY), expected, rtol=1e-9)
    assert level(Rolloff("vented", 30.0), 30.0) == pytest.approx(-3.0103, abs=1e-4)


@pytest.mark.parametrize(
    ("q", "cutoff", "tuning", "compliance"),
    [
        (0.180, 2.68, None, 10.48),
        (0.209, 2.28, None, 7.48),
        (0.259, 1.77, None, 4.46),
        (0.303, 1.45, None, 2.95),
        (0.383, 1.000, 1.000, 1.414),
        (0.415, 0.867, 0.927, 1.055),
        (0.466, 0.729, 0.829, 0.729),
        (0.518, 0.641, 0.757, 0.559),
        (0.557, 0.600, 0.716, 0.485),
    ],
)
def test_alignments_of_thiele(q: float, cutoff: float, tuning: float | None, compliance: float) -> None:
    """Thiele's table, alignments 1 to 9: f3/fs, fb/fs and Cas/Cab against total Q of the driver.

    Values from memory; they are rounded there, Q most of all, hence 0.7 %. For a box without losses a1 a3 = 1/Q²,
    a3/a1 = fb/fs = h and a2 = h + (1 + Cas/Cab)/h (Small 1973).
    """
    a1, a2, a3 = vented_coefficients(q)
    h = a3 / a1
    assert a1 * a3 == pytest.approx(1.0 / q**2)
    assert half_power_frequency(a1, a2, a3) * np.sqrt(h) == pytest.approx(cutoff, rel=7e-3)
    assert (a2 - h) * h - 1.0 == pytest.approx(compliance, rel=7e-3)
    if tuning is not None:
        assert h == pytest.approx(tuning, rel=7e-3)


@pytest.mark.parametrize("q", [0.40, 0.466, 0.557])
def test_above_the_butterworth_q_the_response_is_chebyshev(q: float) -> None:
    """The same curve as a Chebyshev filter designed from its ripple, up to its level and frequency scale."""
    fine = np.geomspace(1.0, 100.0, 40001)  # f3 = 1
    found = np.abs(Rolloff("vented", 1.0, q).response(fine))
    ripple = 20 * np.log10(found.max())
    assert ripple > 0.0
    zeros, poles, gain = cheb1ap(4, ripple)
    # High-pass: s -> 1/s. Even order: far above it lies at the bottom of its ripple, which here is 0 dB.
    wanted = np.abs(freqs_zpk(zeros, poles, gain, worN=np.geomspace(1e-3, 3.0, 200001))[1]) * found.max()
    edge = np.geomspace(1e-3, 3.0, 200001)[np.nonzero(wanted > np.sqrt(0.5))[0][-1]]
    reference = np.abs(freqs_zpk(zeros, poles, gain, worN=edge / fine)[1]) * found.max()
    np.testing.assert_allclose(found, reference, rtol=2e-4)


@pytest.mark.parametrize("q", [0.15, 0.2, 0.3, 0.38, 0.3827, 0.39, 0.5, 0.6])
def test_a_vented_box_is_3_db_down_at_its_frequency_and_stable(q: float) -> None:
    assert level(Rolloff("vented", 28.0, q), 28.0) == pytest.approx(-3.0103, abs=1e-4)
    assert np.roots([1.0, *vented_coefficients(q), 1.0]).real.max() < 0.0
    if q < BUTTERWORTH_VENTED:
        assert np.abs(Rolloff("vented", 28.0, q).response(FREQUENCY)).max() <= 1.0


@pytest.mark.parametrize("passes", ["low", "high"])
@pytest.mark.parametrize(("kind", "order"), [(k, n) for k, orders in ORDERS.items() for n in orders])
def test_level_and_slope_of_crossovers(kind: str, order: int, passes: str) -> None:
    """-3.01 dB (Butterworth 1930) or -6.02 dB (Linkwitz 1976) at the crossover, 6.02 dB an octave for each order."""
    filter_ = Crossover(kind, order, 80.0, passes)
    assert level(filter_, 80.0) == pytest.approx(-3.0103 if kind == "butterworth" else -6.0206, abs=1e-4)
    far, farther = (80e2, 160e2) if passes == "low" else (0.8, 0.4)
    assert level(filter_, far) - level(filter_, farther) == pytest.approx(6.0206 * order, abs=2e-3)
    assert level(filter_, 0.8 if passes == "low" else 80e2) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(("order", "polarity"), [(2, -1), (4, 1), (8, 1)])
def test_linkwitz_riley_halves_add_up_to_an_all_pass(order: int, polarity: int) -> None:
    """Linkwitz (1976): flat sum, the two in phase at all frequencies; order 2 with one side turned round."""
    low, high = (Crossover("linkwitz-riley", order, 80.0, passes).response(FREQUENCY) for passes in ("low", "high"))
    np.testing.assert_allclose(np.abs(low + polarity * high), 1.0, rtol=1e-9)
    np.testing.assert_allclose(np.angle(low * np.conj(polarity * high)), 0.0, atol=1e-6)


@pytest.mark.parametrize("order", [1, 3, 5, 7])
def test_butterworth_halves_of_odd_order_add_up_too(order: int) -> None:
    """|low + high| = 1 for odd orders (common practice)."""
    low, high = (Crossover("butterworth", order, 80.0, passes).response(FREQUENCY) for passes in ("low", "high"))
    np.testing.assert_allclose(np.abs(low + high), 1.0, rtol=1e-9)


def test_any_shape_of_frequency() -> None:
    for part in (Rolloff("closed", 35.0), Rolloff("vented", 35.0, 0.5), Crossover("butterworth", 3, 80.0, "high")):
        assert part.response(50.0).shape == ()
        assert part.response(np.full((2, 3), 50.0)).shape == (2, 3)
        assert part.response([]).shape == (0,)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Rolloff("open", 35.0),
        lambda: Rolloff("closed", 0.0),
        lambda: Rolloff("closed", 35.0, 0.0),
        lambda: Rolloff("vented", 35.0, 0.7),
        lambda: Crossover("linkwitz-riley", 3, 80.0, "low"),
        lambda: Crossover("bessel", 2, 80.0, "low"),
        lambda: Crossover("butterworth", 2, 80.0, "band"),
        lambda: Crossover("butterworth", 2, -80.0, "low"),
    ],
)
def test_what_does_not_exist_is_refused(make) -> None:
    with pytest.raises(ValueError, match="found"):
        make()
