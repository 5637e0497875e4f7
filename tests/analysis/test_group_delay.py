"""Group delay and its excess over minimum phase, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.analysis.group_delay import excess_group_delay, group_delay, minimum_phase

FREQUENCY = np.arange(10.0, 300.1, 0.25)
S = 2j * np.pi * FREQUENCY


def bump(frequency: float, zero: float, pole: float) -> np.ndarray:
    """Peak or dip that is 1 far away; zeros and poles left of the axis: minimum phase."""
    own = 2 * np.pi * frequency
    return (S * S + 2 * zero * S + own**2) / (S * S + 2 * pole * S + own**2)


def test_delay_of_travel_is_its_time() -> None:
    np.testing.assert_allclose(group_delay(np.exp(-S * 0.0123), FREQUENCY), 0.0123, rtol=1e-9)


def test_delay_of_a_resonance_is_the_closed_form() -> None:
    # 1/(s + delta - j omega0) has group delay delta/(delta² + (omega - omega0)²).
    delta, own = 15.0, 2 * np.pi * 60.0
    found = group_delay(1.0 / (S + delta - 1j * own), FREQUENCY)
    wanted = delta / (delta**2 + (S.imag - own) ** 2)
    np.testing.assert_allclose(found[1:-1], wanted[1:-1], rtol=0.02)


def test_phase_of_a_minimum_phase_system_follows_from_its_magnitude() -> None:
    system = bump(40.0, 40.0, 8.0) * bump(75.0, 6.0, 30.0) * bump(120.0, 60.0, 15.0)
    found = minimum_phase(np.abs(system), FREQUENCY)
    inside = (FREQUENCY > 20.0) & (FREQUENCY < 200.0)
    np.testing.assert_allclose(found[inside], np.angle(system)[inside], atol=0.03)


def test_excess_of_travel_and_minimum_phase_is_the_travel() -> None:
    system = bump(40.0, 40.0, 8.0) * bump(75.0, 6.0, 30.0) * np.exp(-S * 0.009)
    found = excess_group_delay(system, FREQUENCY)
    inside = (FREQUENCY >= found.low) & (FREQUENCY <= found.high)
    assert found.low == pytest.approx(10 * 2**0.5) and found.high == pytest.approx(300.0 / 2**0.5)
    np.testing.assert_allclose(found.excess[inside], 0.009, atol=5e-4)
    np.testing.assert_allclose(found.minimum + found.excess, found.delay, atol=1e-15)


def test_excess_of_an_all_pass_is_its_group_delay() -> None:
    # (a - s)/(a + s): magnitude 1, group delay 2a/(a² + omega²).
    a = 2 * np.pi * 60.0
    system = bump(90.0, 40.0, 12.0) * (a - S) / (a + S)
    found = excess_group_delay(np.stack([system, 3.0 * system]), FREQUENCY)
    inside = (FREQUENCY >= found.low) & (FREQUENCY <= found.high)
    for one in found.excess:
        np.testing.assert_allclose(one[inside], (2 * a / (a * a + S.imag**2))[inside], atol=3e-4)


def test_a_weak_echo_is_minimum_phase_and_a_strong_one_is_not() -> None:
    # 1 + g e^{-s T} has zeros left of the axis for g < 1: no excess. For g > 1 they lie right of it: with a = 1/g the
    # excess is that of the all-pass e^{-sT} (1 + a e^{sT})/(1 + a e^{-sT}), T - 2 T Re(a z/(1 + a z)), z = e^{-sT}.
    delay, z = 0.02, np.exp(-S * 0.02)
    inside = (FREQUENCY > 40.0) & (FREQUENCY < 150.0)
    weak, strong = (excess_group_delay(1.0 + gain * z, FREQUENCY).excess[inside] for gain in (0.4, 2.5))
    np.testing.assert_allclose(weak, 0.0, atol=1e-3)
    wanted = delay - 2.0 * delay * np.real(0.4 * z / (1.0 + 0.4 * z))
    np.testing.assert_allclose(strong, wanted[inside], atol=1e-3)


def test_bad_input_is_named() -> None:
    with pytest.raises(ValueError, match="whole multiples"):
        minimum_phase(np.ones(4), [10.1, 10.35, 10.6, 10.85])
    with pytest.raises(ValueError, match="above 0"):
        minimum_phase(np.zeros(4), [1.0, 2.0, 3.0, 4.0])
