"""Fits of sparse measured tables: what stands between the rows counts too, and nothing sharper than they can show."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from fdtd.physics.absorption import fit_normal_absorption, hard_side
from fdtd.physics.admittance import RIGID, Branch, Branches, admittance, normal_absorption
from fdtd.physics.fit_terms import bounded, ratio, ratio_and_slope, unbounded
from fdtd.physics.fitting import fit_admittance
from fdtd.physics.medium import Medium

MEDIUM = Medium(1.2, 343.0)
Z = MEDIUM.impedance
ROWS = np.array([63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0])
PEAK = np.array([0.1, 0.2, 0.6, 0.9, 0.5, 0.2, 0.1])
"""Invented absorption of a resonance at 125 Hz, in third octaves."""
FINE = np.geomspace(15.0, 250.0, 4000)


def absorbed(branches: Branches, frequency: NDArray[np.float64] = FINE) -> NDArray[np.float64]:
    return normal_absorption(admittance(branches, frequency) * Z)


def largest_quality(branches: Branches) -> float:
    """Of the branches with mass and spring; without resistance it is infinite."""
    both = [b for b in branches if b.mass > 0.0 and b.stiffness > 0.0]
    return max((np.sqrt(b.mass * b.stiffness) / max(b.resistance, 1e-30) for b in both), default=0.0)


def test_a_peak_of_absorption_is_met_between_the_rows_too() -> None:
    """Needles of Q = 1e5 at the rows met them all, and 0.15 was absorbed everywhere else."""
    fit = fit_normal_absorption(ROWS, PEAK, MEDIUM)
    assert absorbed(fit.branches, ROWS) == pytest.approx(PEAK, abs=0.01)
    between = np.sqrt(ROWS[:-1] * ROWS[1:])
    low, high = np.minimum(PEAK[:-1], PEAK[1:]), np.maximum(PEAK[:-1], PEAK[1:])
    found = absorbed(fit.branches, between)
    assert (found > low - 0.01).all() and (found < high + 0.01).all()
    assert absorbed(fit.branches).max() < 0.93
    assert largest_quality(fit.branches) < 12.1
    assert fit.error < 0.15 and len(fit.frequency) > 100  # between the rows, against straight lines in rho c Y


def test_a_real_admittance_with_a_peak_gets_no_needles() -> None:
    """No passive branches have that real admittance: the error is told, and it is that on a dense grid."""
    fit = fit_admittance(ROWS, hard_side(PEAK) / Z + 0j, MEDIUM)
    inside = FINE[FINE >= 63.0]
    wanted = np.interp(np.log(inside), np.log(fit.frequency), fit.wanted.real)
    largest = np.abs(absorbed(fit.branches, inside) - normal_absorption(wanted)).max()
    assert fit.error == pytest.approx(largest, rel=0.05) and fit.error < 0.25
    assert largest_quality(fit.branches) < 4.6  # third octaves: f/Q is no less than 0.22 f


@pytest.mark.parametrize("seed", range(6))
def test_tables_of_noise_give_smooth_passive_surfaces(seed: int) -> None:
    draw = np.random.default_rng(seed)
    first = int(draw.integers(0, 4))
    real, imaginary, alpha = draw.uniform(0.02, 1.0, 7), draw.uniform(-1.0, 1.0, 7), draw.uniform(0.05, 0.95, 7)
    rows = ROWS[first:]
    for fit, bound in (
        (fit_admittance(rows, (real + 1j * imaginary)[first:] / Z, MEDIUM), 4.6),
        (fit_normal_absorption(rows, alpha[first:], MEDIUM), 12.1),
    ):
        assert largest_quality(fit.branches) < bound
        wide = np.geomspace(0.1, 1e5, 4000)
        assert all(min(b.mass, b.resistance, b.stiffness) >= 0.0 for b in fit.branches)
        assert (admittance(fit.branches, wide).real >= 0.0).all()


def test_below_and_above_the_table_its_end_values_are_near() -> None:
    """A slope of 0.7 to 0.3 from 63 to 125 Hz says nothing of 15 Hz; a hole or a needle there would be a find."""
    fit = fit_normal_absorption(np.array([63.0, 80.0, 100.0, 125.0]), np.array([0.7, 0.6, 0.45, 0.3]), MEDIUM)
    found = absorbed(fit.branches)
    assert found[FINE < 63.0] == pytest.approx(0.7, abs=0.15)
    assert found[FINE > 125.0] == pytest.approx(0.3, abs=0.15)


def test_a_sharp_resonance_that_many_rows_show_is_kept() -> None:
    """Q = 20 at 80 Hz, rows every 1 Hz."""
    stiffness = 2.0 * (2.0 * np.pi * 80.0) ** 2
    sharp = (Branch(2.0, 2.0 * 2.0 * np.pi * 80.0 / 20.0, stiffness),)
    rows = np.arange(20.0, 201.0)
    fit = fit_admittance(rows, admittance(sharp, rows), MEDIUM)
    assert fit.error < 0.02
    near = np.array([70.0, 78.0, 80.0, 82.0, 95.0])
    assert admittance(fit.branches, near) == pytest.approx(admittance(sharp, near), rel=0.03)


def test_no_absorption_is_rigid_and_bad_tables_are_refused() -> None:
    fit = fit_normal_absorption(ROWS, np.zeros(7), MEDIUM)
    assert fit.branches == RIGID and fit.error == 0.0
    with pytest.raises(ValueError, match="rising"):
        fit_normal_absorption(ROWS[::-1], PEAK, MEDIUM)
    with pytest.raises(ValueError, match="between 0 and 1"):
        fit_normal_absorption(ROWS, PEAK + 0.2, MEDIUM)


def test_bounded_values_and_their_slopes() -> None:
    """No quality factor above the bound; derivatives against differences of 1e-6."""
    draw = np.random.default_rng(3)
    logs, x = draw.normal(size=6) * 2.0 + np.tile([2.0, -4.0, 2.0], 2), np.geomspace(0.3, 3.0, 9)
    values = bounded(logs, 5.0)
    assert (np.sqrt(values[:, 0] * values[:, 2]) / values[:, 1] < 5.0).all()
    assert unbounded(values, 5.0) == pytest.approx(logs, abs=1e-6)
    beta, slope = ratio_and_slope(logs, x, 5.0)
    assert beta == pytest.approx(ratio(values, x))
    for k in range(6):
        step = np.zeros(6)
        step[k] = 1e-6
        difference = (ratio(bounded(logs + step, 5.0), x) - ratio(bounded(logs - step, 5.0), x)) / 2e-6
        assert slope[:, k] == pytest.approx(difference, rel=1e-5, abs=1e-8)


@pytest.mark.parametrize("share", [1.0, 1.0 - 1e-16, 1e-17, 5e-324, 0.0])
def test_a_table_at_the_ends_of_what_can_be_absorbed_is_met(share: float) -> None:
    """Where all is absorbed, no further branch changes anything to first order: that was 0/0."""
    with np.errstate(all="raise", under="ignore"):
        fit = fit_normal_absorption(ROWS, np.full(len(ROWS), share), MEDIUM)
    assert absorbed(fit.branches, ROWS) == pytest.approx(np.full(len(ROWS), share), abs=0.01)
