"""A pane with free air behind it, and an opening, against published limits."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.physics.admittance import admittance, normal_absorption
from fdtd.physics.medium import Medium
from fdtd.physics.openings import Opening, Pane

AIR = Medium(1.204, 343.2)


def test_a_limp_pane_lets_through_what_the_mass_law_says():
    """All that a lossless limp wall absorbs goes through: 1/(1 + (omega m / 2 rho c)²) at normal incidence.

    R0 = 20 lg(m f) - 42.5 dB (Kuttruff, Room Acoustics; Vigran, Building Acoustics, ch. 6; constant from memory).
    """
    frequency = np.array([63.0, 125.0, 250.0])
    alpha = normal_absorption(Pane(10.0, loss=0.0).admittance(frequency, AIR) * AIR.impedance)
    assert alpha == pytest.approx(1.0 / (1.0 + (2.0 * np.pi * frequency * 10.0 / (2.0 * AIR.impedance)) ** 2))
    assert -10.0 * np.log10(alpha) == pytest.approx(20.0 * np.log10(10.0 * frequency) - 42.5, abs=0.35)


def test_a_pane_at_its_resonance_is_a_resistance():
    pane = Pane(8.0, 40.0, 0.2)
    expected = AIR.impedance + 0.2 * 2.0 * np.pi * 40.0 * 8.0
    assert complex(1.0 / pane.admittance(40.0, AIR)) == pytest.approx(expected)
    still = Pane(8.0, 40.0, 0.2, "still air")
    assert complex(1.0 / still.admittance(40.0, AIR)) == pytest.approx(expected - AIR.impedance)
    assert admittance(pane.branches(AIR), 71.0) == pytest.approx(complex(pane.admittance(71.0, AIR)))


def test_an_opening_is_a_piston_in_a_baffle():
    """Piston functions R1, X1 of x = 2ka (Kinsler et al., Fundamentals of Acoustics, appendix A6; from memory)."""
    opening = Opening(0.8, 2.0)
    radius = np.sqrt(1.6 / np.pi)
    x = np.array([1.0, 2.0, 4.0])
    ratio = opening.impedance(x * AIR.speed_of_sound / (4.0 * np.pi * radius), AIR) / AIR.impedance
    assert ratio.real == pytest.approx([0.1199, 0.4233, 1.0330], abs=2e-4)
    assert ratio.imag == pytest.approx([0.3969, 0.6468, 0.5349], abs=2e-4)


def test_a_small_opening_is_an_air_mass_of_its_end_correction():
    """rho 8a/(3 pi), Rayleigh's end correction of a flanged piston (Rayleigh, Theory of Sound II, sec. 312)."""
    opening = Opening(0.05, 0.05)
    radius = np.sqrt(0.0025 / np.pi)
    reactance = opening.impedance(20.0, AIR).imag / (2.0 * np.pi * 20.0)
    assert float(reactance) == pytest.approx(1.204 * 8.0 * radius / (3.0 * np.pi), rel=1e-3)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Pane(0.0), "mass"),
        (lambda: Pane(5.0, -1.0), "resonance"),
        (lambda: Pane(5.0, 30.0, float("nan")), "loss"),
        (lambda: Pane(5.0, 30.0, 0.1, "water"), "behind"),
        (lambda: Opening(0.0, 1.0), "width"),
        (lambda: Opening(1.0, float("inf")), "height"),
    ],
)
def test_impossible_values_are_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()
