"""Pole fits of admittances that no passive branches can be."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.physics.fitting import poles_compared
from fdtd.physics.medium import Medium
from fdtd.physics.poles import fit_poles

FREQUENCY = np.geomspace(10.0, 400.0, 200)
S = 2j * np.pi * FREQUENCY
POLES = np.array([-30.0 + 250.0j, -80.0 + 750.0j])
RESIDUES = np.array([0.02 - 0.05j, -0.03 + 0.01j])
REAL_POLE, REAL_RESIDUE = -200.0, -0.5


def known() -> np.ndarray:
    """A sum of five partial fractions, active above 60 Hz."""
    pairs = (r / (S - a) + r.conjugate() / (S - a.conjugate()) for a, r in zip(POLES, RESIDUES, strict=True))
    return sum(pairs) + REAL_RESIDUE / (S - REAL_POLE)


def relative_error(wanted: np.ndarray, most: int = 8) -> float:
    found = fit_poles(FREQUENCY, wanted, most)
    assert np.linalg.eigvals(found.matrix).real.max(initial=-1.0) < 0.0
    assert len(found.drive) <= most
    return float(np.abs(found.admittance(FREQUENCY) - wanted).max() / np.abs(wanted).max())


def test_a_known_active_function_comes_back_with_its_poles() -> None:
    wanted = known()
    assert wanted.real.min() < -1e-3 * np.abs(wanted).max()
    found = fit_poles(FREQUENCY, wanted)
    assert np.abs(found.admittance(FREQUENCY) - wanted).max() < 1e-3 * np.abs(wanted).max()
    expected = np.sort_complex(np.concatenate([POLES, POLES.conj(), [REAL_POLE]]))
    assert np.sort_complex(np.linalg.eigvals(found.matrix)) == pytest.approx(expected, rel=1e-6)


def test_a_controlled_driver_with_delay_is_followed_within_two_per_cent() -> None:
    """Passive and target admittance mixed by band filters and 1 ms of delay, which no finite number of poles equals."""
    passive, target = 1.0 / (S * 1.0 + 50.0 + 3e5 / S), 1.0 / (S * 0.15 + 40.0 + 4e4 / S)
    share = (S / (S + 94.0)) ** 2 * (1005.0 / (S + 1005.0)) ** 2 * np.exp(-1e-3 * S)
    mixed = (1.0 - share) * passive + share * target
    assert mixed.real.min() < -1e-3 * np.abs(mixed).max()
    assert relative_error(mixed) < 0.02
    assert relative_error(mixed, 12) < 1e-3


@pytest.mark.parametrize("seed", range(4))
def test_poles_are_stable_whatever_the_target(seed: int) -> None:
    """Noise, and the mirrored image in time of a stable function, whose poles all lie on the wrong side."""
    draw = np.random.default_rng(seed)
    relative_error(draw.normal(size=200) + 1j * draw.normal(size=200))
    relative_error(known().conj())


def test_a_constant_is_met_by_a_pole_beyond_the_band() -> None:
    assert relative_error(np.full(200, -1e-3 + 0j)) < 0.04


def test_noise_is_not_amplified() -> None:
    draw = np.random.default_rng(5)
    wanted = known()
    noisy = wanted + 0.01 * np.abs(wanted).max() * (draw.normal(size=200) + 1j * draw.normal(size=200))
    found = fit_poles(FREQUENCY, noisy).admittance(FREQUENCY)
    assert np.sqrt(np.mean(np.abs(found - wanted) ** 2)) < 0.01 * np.abs(wanted).max()


def test_nothing_gives_no_states_and_few_points_few_poles() -> None:
    assert len(fit_poles(FREQUENCY, np.zeros(200)).drive) == 0
    assert len(fit_poles(FREQUENCY[::70], known()[::70]).drive) <= 3


@pytest.mark.parametrize("seed", range(4))
def test_no_needle_stands_between_the_rows_of_a_sparse_table(seed: int) -> None:
    """Eight states and nine third octaves: without more points between, poles of Q = 185 and 12 times the table."""
    draw = np.random.default_rng(seed)
    rows = np.array([31.5, 40, 50, 63, 80, 100, 125, 160, 200])
    wanted = draw.normal(size=9) + 1j * draw.normal(size=9)
    found = fit_poles(rows, wanted)
    places = np.linalg.eigvals(found.matrix)
    assert (np.abs(places) / (2.0 * np.abs(places.real))).max() < 5.0  # third octaves: f/Q is no less than 0.23 f
    assert np.abs(found.admittance(np.geomspace(31.5, 200.0, 2000))).max() < 2.0 * np.abs(wanted).max()


def test_the_error_of_poles_is_a_share_of_the_largest_admittance() -> None:
    """Near rho c Y = -1 absorption has no bound: a hair's breadth of error was told as 52 in absorption."""
    medium = Medium(1.2, 343.0)
    wanted = np.full(200, -0.99 / medium.impedance + 0j)
    fit = poles_compared(fit_poles(FREQUENCY, wanted), FREQUENCY, wanted, medium)
    found = fit_poles(FREQUENCY, wanted).admittance(FREQUENCY)
    assert fit.error == pytest.approx(np.abs(found - wanted).max() / np.abs(wanted).max()) and fit.error < 0.04


@pytest.mark.parametrize(
    ("frequency", "values"), [([0.0, 1.0], [1.0, 1.0]), ([1.0, 2.0], [1.0, np.inf]), ([1.0], [1.0, 2.0]), ([], [])]
)
def test_bad_targets_are_refused(frequency: list[float], values: list[float]) -> None:
    with pytest.raises(ValueError):
        fit_poles(frequency, values)
