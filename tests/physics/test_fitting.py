"""Fits: what is known comes back, what is passive stays passive, and tables give their own absorption."""

from __future__ import annotations

import time

import numpy as np
import pytest
from numpy.typing import NDArray

from fdtd.physics.absorption import admittance_ratio_of_absorption, fit_absorption
from fdtd.physics.admittance import RIGID, Branch, Branches, admittance, diffuse_absorption, normal_absorption
from fdtd.physics.design import Fit
from fdtd.physics.fitting import fit_admittance
from fdtd.physics.medium import Medium

MEDIUM = Medium(1.2, 343.0)
Z = MEDIUM.impedance
FREQUENCY = np.geomspace(15.0, 250.0, 160)


def ratio(fit: Fit, frequency: NDArray[np.float64] = FREQUENCY) -> NDArray[np.complex128]:
    return admittance(fit.branches, frequency) * Z


def largest_phase(branches: Branches, frequency: NDArray[np.float64]) -> float:
    """Largest |phase| of the admittance of `branches`, degrees: 0 real, 90 nothing but reactance; rigid: 0."""
    if not branches:
        return 0.0
    return float(np.abs(np.angle(admittance(branches, frequency), deg=True)).max())


def resonance(frequency: float, quality: float, peak: float) -> Branch:
    """Branch with rho c Y = `peak` at its resonance in Hz."""
    resistance = Z / peak
    omega = 2.0 * np.pi * frequency
    return Branch(quality * resistance / omega, resistance, quality * resistance * omega)


@pytest.mark.parametrize(
    "branches",
    [
        (Branch(resistance=800.0),),
        (Branch(mass=8.0, resistance=300.0, stiffness=1.4e6),),
        (Branch(mass=0.5, resistance=40.0),),
        (Branch(stiffness=3e5), resonance(60.0, 8.0, 2.0)),
        (resonance(40.0, 3.0, 0.5), resonance(90.0, 20.0, 3.0), resonance(170.0, 5.0, 0.2)),
    ],
    ids=["resistance", "plate", "mass", "spring and resonance", "three resonances"],
)
def test_known_branches_come_back(branches: Branches) -> None:
    fit = fit_admittance(FREQUENCY, admittance(branches, FREQUENCY), MEDIUM)
    assert len(fit.branches) == len(branches)
    assert fit.error < 1e-3
    found = sorted(fit.branches, key=lambda b: (b.stiffness, b.mass))
    for one, other in zip(found, sorted(branches, key=lambda b: (b.stiffness, b.mass)), strict=True):
        assert (one.mass, one.resistance, one.stiffness) == pytest.approx(
            (other.mass, other.resistance, other.stiffness), rel=0.02
        )


@pytest.mark.parametrize("level", [0.001, 0.03, 1.0, 5.0])
@pytest.mark.parametrize("seed", range(5))
def test_random_passive_sums_are_fitted_within_a_hundredth(level: float, seed: int) -> None:
    """Four resonances of random width, one to an octave; seed 3 needs the exchange."""
    draw = np.random.default_rng(seed)
    places, qualities = 20.0 * 2.0 ** (np.arange(4) + draw.uniform(0, 0.8, 4)), np.exp(draw.uniform(-0.5, 2.5, 4))
    branches = tuple(resonance(f, q, level) for f, q in zip(places, qualities, strict=True))
    fit = fit_admittance(FREQUENCY, admittance(branches, FREQUENCY), MEDIUM)
    assert len(fit.branches) <= 4
    assert fit.error < 0.01


@pytest.mark.parametrize("level", [0.001, 0.03, 1.0, 5.0])
@pytest.mark.parametrize("seed", range(4))
def test_resonances_that_fall_together_are_fitted_within_two_hundredths(level: float, seed: int) -> None:
    draw = np.random.default_rng(seed)
    places, qualities = np.exp(draw.uniform(np.log(15), np.log(400), 4)), np.exp(draw.uniform(-1, 2.5, 4))
    branches = tuple(resonance(f, q, level) for f, q in zip(places, qualities, strict=True))
    assert fit_admittance(FREQUENCY, admittance(branches, FREQUENCY), MEDIUM).error < 0.02


@pytest.mark.parametrize("seed", range(12))
def test_no_target_makes_an_active_fit(seed: int) -> None:
    """Passive targets with noise that dips below zero, and targets that are nothing but noise."""
    draw = np.random.default_rng(seed)
    clean = admittance(
        (resonance(draw.uniform(20, 200), 10.0 ** draw.uniform(-1, 1.5), 10.0 ** draw.uniform(-2, 1)),), FREQUENCY
    )
    noise = (draw.normal(size=160) + 1j * draw.normal(size=160)) * np.abs(clean).max() * (0.2 if seed % 2 else 2.0)
    assert (clean + noise).real.min() < 0.0
    fit = fit_admittance(FREQUENCY, clean + noise, MEDIUM)
    wide = np.geomspace(0.1, 1e5, 4000)
    assert all(min(b.mass, b.resistance, b.stiffness) >= 0.0 for b in fit.branches)
    assert fit.branches == RIGID or ratio(fit, wide).real.min() >= 0.0


def test_an_active_target_gives_a_rigid_surface_and_a_large_error() -> None:
    fit = fit_admittance(FREQUENCY, np.full(160, -0.3 / Z + 0j), MEDIUM)
    assert fit.branches == RIGID
    assert fit.error == pytest.approx(4 * 0.3 / 0.7**2)  # |alpha| of beta = -0.3, 4 beta/(1 + beta)^2


def test_a_layer_of_air_is_fitted_with_the_springs_and_masses_of_its_series() -> None:
    """Y = j tan(kd)/(rho c) of air over a hard wall (Kuttruff, Room Acoustics, ch. 2), quarter wave at 172 Hz.

    tan has poles on the axis itself (no loss), the hardest case of a sharp resonance: |R| is 1 and only phase counts.
    """
    beta = 1j * np.tan(2.0 * np.pi * FREQUENCY * 0.5 / 343.0)
    fit = fit_admittance(FREQUENCY, beta / Z, MEDIUM)
    found = ratio(fit)
    assert np.abs((1 - found) / (1 + found) - (1 - beta) / (1 + beta)).max() < 0.02


def test_fits_are_repeatable_and_report_their_error() -> None:
    target = admittance((resonance(50.0, 3.0, 1.0), resonance(120.0, 10.0, 0.4)), FREQUENCY) * np.exp(0.1j)
    one, two = (fit_admittance(FREQUENCY, target, MEDIUM) for _ in range(2))
    assert one.branches == two.branches
    assert one.error == np.abs(normal_absorption(ratio(one)) - normal_absorption(target * Z)).max()


def test_a_fit_takes_well_under_a_second() -> None:
    draw = np.random.default_rng(1)
    target = admittance((resonance(50.0, 3.0, 1.0),), FREQUENCY) + np.abs(draw.normal(size=160)) * 1e-3
    fit_admittance(FREQUENCY, target, MEDIUM)
    begin = time.process_time()
    fit_admittance(FREQUENCY, target, MEDIUM)
    assert time.process_time() - begin < 2.0  # 0.2 s on an idle machine


@pytest.mark.parametrize(
    ("frequency", "values", "words"),
    [
        ([20.0, 10.0], [1e-3, 1e-3], "rise from above zero"),
        ([0.0, 10.0], [1e-3, 1e-3], "rise from above zero"),
        ([10.0, 20.0], [1e-3, np.nan], "20 Hz is not a finite number"),
        ([10.0, 20.0], [1e-3], "one length"),
        ([], [], "1 or more"),
    ],
)
def test_bad_targets_are_refused(frequency: list[float], values: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        fit_admittance(frequency, values, MEDIUM)


# -- tables of random-incidence absorption


def test_the_most_that_a_real_admittance_absorbs_is_0_951() -> None:
    """0.951 at rho c Y = 1/1.567 = 0.638 (Kuttruff, Room Acoustics, ch. 2, value from memory)."""
    assert admittance_ratio_of_absorption(0.951) == pytest.approx(0.638, abs=0.03)  # flat near the top
    with pytest.raises(ValueError, match=r"between 0 and 0\.951.*found 0\.96.*0\.95 or less"):
        admittance_ratio_of_absorption(0.96)
    with pytest.raises(ValueError, match="found -0.1"):
        admittance_ratio_of_absorption(-0.1)
    with pytest.raises(ValueError, match="found nan"):
        admittance_ratio_of_absorption(float("nan"))


@pytest.mark.parametrize("absorption", [1e-4, 0.005, 0.02, 0.1, 0.5, 0.9, 0.95])
def test_absorption_to_admittance_and_back_by_the_closed_form(absorption: float) -> None:
    """alpha = 8 b [1 - 2 b ln((1 + b)/b) + b/(1 + b)] for real b: elementary integration of 8 b c²/(c + b)², c 0 to 1.

    The same closed form is in Kuttruff, Room Acoustics, ch. 2 (from memory).
    """
    b = admittance_ratio_of_absorption(absorption)
    closed = 8.0 * b * (1.0 - 2.0 * b * np.log((1.0 + b) / b) + b / (1.0 + b))
    assert closed == pytest.approx(absorption, abs=2e-5)


def test_the_same_absorption_in_all_bands_is_one_resistance() -> None:
    fit = fit_absorption({63: 0.1, 125: 0.1, 250: 0.1}, MEDIUM)
    (branch,) = fit.branches
    assert (branch.mass, branch.stiffness) == (0.0, 0.0)
    assert branch.resistance == pytest.approx(Z / admittance_ratio_of_absorption(0.1), rel=1e-3)
    assert largest_phase(fit.branches, FREQUENCY) == 0.0


def test_no_absorption_is_a_rigid_surface() -> None:
    fit = fit_absorption({63: 0.0, 125: 0.0}, MEDIUM)
    assert fit.branches == RIGID and fit.error == 0.0
    assert [(b.frequency, b.wanted, b.found) for b in fit.bands] == [(63.0, 0.0, 0.0), (125.0, 0.0, 0.0)]
    assert largest_phase(fit.branches, FREQUENCY) == 0.0


def random_table(draw: np.random.Generator) -> dict[float, float]:
    """Two to four octave bands, 0.005 to 0.9, neighbours up to a factor of 5 apart."""
    centres = [31.5, 63.0, 125.0, 250.0][draw.integers(0, 3) :]
    values = [np.exp(draw.uniform(np.log(0.005), np.log(0.9)))]
    for _ in centres[1:]:
        values.append(float(np.clip(values[-1] * 5.0 ** draw.uniform(-1.0, 1.0), 0.005, 0.9)))
    return dict(zip(centres, values, strict=True))


STEEP = [
    {63.0: 0.9, 125.0: 0.18, 250.0: 0.9},
    {63.0: 0.02, 125.0: 0.5, 250.0: 0.12},
    {63.0: 0.005, 125.0: 0.025, 250.0: 0.005},
    {31.5: 0.05, 63.0: 0.25, 125.0: 0.05, 250.0: 0.25},
    {125.0: 0.5, 250.0: 0.12},
    {125.0: 0.3},
    {50.0: 0.1, 63.0: 0.15, 80.0: 0.2, 100.0: 0.3, 125.0: 0.25, 160.0: 0.2, 200.0: 0.15, 250.0: 0.1},
]


@pytest.mark.parametrize("table", [*STEEP, *(random_table(np.random.default_rng(seed)) for seed in range(16))], ids=str)
def test_a_table_gives_its_own_absorption(table: dict[float, float]) -> None:
    fit = fit_absorption(table, MEDIUM)
    assert 1 <= len(fit.branches) <= 4
    assert fit.error == max(abs(b.found - b.wanted) for b in fit.bands) < 0.01
    centres = np.array(sorted(table))
    own = diffuse_absorption(ratio(fit, centres))
    assert own == pytest.approx([table[f] for f in centres], abs=0.01)
    assert [b.found for b in fit.bands] == pytest.approx(own, abs=1e-3)
    for low, high in zip(centres[:-1], centres[1:], strict=True):
        between = diffuse_absorption(ratio(fit, np.linspace(low, high, 60)))
        least, most = sorted((table[low], table[high]))
        assert between.max() < 1.15 * most + 0.01
        assert between.min() > 0.85 * least - 0.01
    everywhere = diffuse_absorption(ratio(fit))
    assert everywhere.max() < 1.25 * max(table.values()) + 0.02  # below and above the table, too


def test_a_gentle_table_stays_nearly_real() -> None:
    """A phase there must be: |Y| cannot change with frequency without (Bode's relation); a factor 1.5 needs little."""
    fit = fit_absorption({63: 0.10, 125: 0.15, 250: 0.12}, MEDIUM)
    beta = ratio(fit, np.geomspace(63.0, 250.0, 50))
    assert np.mean(np.abs(np.angle(beta, deg=True))) < 30.0


def test_bands_far_above_the_simulated_range_are_left_out() -> None:
    fit = fit_absorption({125: 0.1, 250: 0.2, 500: 0.4, 1000: 0.9, 2000: 1.1}, MEDIUM)
    assert [b.frequency for b in fit.bands] == [125.0, 250.0]
    assert [b.frequency for b in fit_absorption({500: 0.4, 1000: 0.9}, MEDIUM).bands] == [500.0]


def test_bad_tables_are_refused() -> None:
    with pytest.raises(ValueError, match="at least one band"):
        fit_absorption({}, MEDIUM)
    with pytest.raises(ValueError, match="at least one band"):
        fit_absorption({0.0: 0.1}, MEDIUM)
    with pytest.raises(ValueError, match="125 Hz: .*found 1.05"):
        fit_absorption({125.0: 1.05}, MEDIUM)
