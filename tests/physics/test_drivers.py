"""The closed-box driver against published driver data, its own circuit solved another way, and values that none has."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fdtd.physics.admittance import admittance, normal_absorption
from fdtd.physics.drivers import ClosedBoxDriver, displacement, pressure_at_limit
from fdtd.physics.medium import Medium

MEDIUM = Medium(1.1965, 344.5389)
"""The air of the published small driver below."""

WOOFER = ClosedBoxDriver(
    diaphragm_area=0.0137,
    moving_mass=0.0134,
    suspension_compliance=0.9e-3,
    mechanical_resistance=1.1,
    force_factor=6.8,
    coil_resistance=5.6,
    box_volume=0.011,
)
"""An invented 16.5 cm driver."""


def published_driver(box_volume: float = 0.01) -> ClosedBoxDriver:
    """Small driver of EPFL research code; only Cmc = 2.13e-4 m/N (box included) is known, so the box is free."""
    area, total = 12e-4, 1.0 / 2.13e-4
    box = MEDIUM.bulk_modulus * area**2 / box_volume
    return ClosedBoxDriver(
        diaphragm_area=area,
        moving_mass=0.6671e-3,
        suspension_compliance=1.0 / (total - box),
        mechanical_resistance=0.261,
        force_factor=1.4351,
        coil_resistance=6.0,
        box_volume=box_volume,
    )


def qualities(driver: ClosedBoxDriver) -> tuple[float, float]:
    """Quality factors in the box: w0 Mms/Rms with open terminals; w0 Mms (Re + Rshunt)/Bl², by the shunted coil."""
    size = math.sqrt(driver.stiffness(MEDIUM) * driver.moving_mass)
    shunt = math.inf if driver.shunt_resistance is None else driver.shunt_resistance
    return size / driver.mechanical_resistance, size * (driver.coil_resistance + shunt) / driver.force_factor**2


@pytest.mark.parametrize("box_volume", [0.005, 0.05])
def test_published_small_driver(box_volume: float) -> None:
    """Driver data of EPFL research code, from public notes on it; the results are recomputed from those data."""
    driver = published_driver(box_volume)
    resonance = driver.resonance(MEDIUM)
    assert resonance == pytest.approx(422.2, abs=0.05)
    assert qualities(driver)[0] == pytest.approx(6.78, abs=0.005)
    beta = MEDIUM.impedance * driver.admittance(resonance, MEDIUM)
    assert 1.0 / beta == pytest.approx(0.5276, abs=5e-5)
    assert normal_absorption(beta) == pytest.approx(0.9044, abs=5e-5)
    shunt = driver.optimal_shunt(MEDIUM)
    assert shunt is not None
    assert shunt + driver.coil_resistance == pytest.approx(8.81, abs=0.005)
    matched = replace(driver, shunt_resistance=shunt)
    assert normal_absorption(MEDIUM.impedance * matched.admittance(resonance, MEDIUM)) == pytest.approx(1.0, abs=1e-12)


def test_resonance_in_a_box_by_the_compliance_ratio() -> None:
    """fc = fs sqrt(1 + Vas/Vb), Vas = rho c² Sd² Cms (Small, J. Audio Eng. Soc. 20, 1972; value from memory)."""
    volume = MEDIUM.bulk_modulus * WOOFER.diaphragm_area**2 * WOOFER.suspension_compliance
    free = 1.0 / (2.0 * math.pi * math.sqrt(WOOFER.moving_mass * WOOFER.suspension_compliance))
    expected = free * math.sqrt(1.0 + volume / WOOFER.box_volume)
    assert WOOFER.resonance(MEDIUM) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("shunt", [None, 0.0, 7.0])
def test_one_branch_is_the_driver_without_inductance(shunt: float | None) -> None:
    frequency = np.geomspace(5.0, 500.0, 40)
    driver = replace(WOOFER, shunt_resistance=shunt)
    branches = driver.branches(MEDIUM)
    assert branches is not None and len(branches) == 1
    assert admittance(branches, frequency) == pytest.approx(driver.admittance(frequency, MEDIUM), rel=1e-12)


def test_an_open_coil_has_no_use_for_its_inductance() -> None:
    assert replace(WOOFER, coil_inductance=0.6e-3).branches(MEDIUM) == WOOFER.branches(MEDIUM)


def test_coupled_equations_of_motion_and_current() -> None:
    """Zm and the electrical loop solved together: v = (Sd p - Bl i)/Zm0, (Re + Rs + j w Le) i = Bl v."""
    driver = replace(WOOFER, coil_inductance=0.6e-3, shunt_resistance=2.0)
    assert driver.branches(MEDIUM) is None
    for frequency in (10.0, 60.0, 200.0):
        s = 2j * math.pi * frequency
        stiffness = 1.0 / driver.suspension_compliance
        stiffness += MEDIUM.density * MEDIUM.speed_of_sound**2 * driver.diaphragm_area**2 / driver.box_volume
        motion = s * driver.moving_mass + driver.mechanical_resistance + stiffness / s
        loop = driver.coil_resistance + driver.shunt_resistance + s * driver.coil_inductance
        system = np.array([[motion, driver.force_factor], [-driver.force_factor, loop]])
        velocity = np.linalg.solve(system, np.array([driver.diaphragm_area, 0.0]))[0]
        assert driver.admittance(frequency, MEDIUM) == pytest.approx(velocity, rel=1e-12)


def test_inductance_stays_passive_and_moves_the_resonance_up() -> None:
    """Far above Re/Le the shunted coil is a spring Bl²/Le, which adds to the stiffness."""
    frequency = np.geomspace(1.0, 2000.0, 4000)
    plain = replace(WOOFER, shunt_resistance=0.0, coil_resistance=0.01)
    coil = replace(plain, coil_inductance=5e-3)
    y = coil.admittance(frequency, MEDIUM)
    assert np.all(y.real >= 0.0)
    expected = math.sqrt((coil.stiffness(MEDIUM) + coil.force_factor**2 / 5e-3) / coil.moving_mass) / (2 * math.pi)
    assert frequency[np.argmax(y.real)] == pytest.approx(expected, rel=0.01)


def test_best_shunt_is_the_best_of_all() -> None:
    """Every other resistor absorbs less at resonance, also where total absorption is out of reach."""
    for weak in (1.0, 0.3, 0.02):
        driver = replace(WOOFER, force_factor=WOOFER.force_factor * weak)
        best = driver.optimal_shunt(MEDIUM)
        assert best is not None
        resistors = np.concatenate([[best, 0.0], np.geomspace(0.01, 1e4, 200)])
        resonance = driver.resonance(MEDIUM)
        absorbed = [
            normal_absorption(
                MEDIUM.impedance * replace(driver, shunt_resistance=float(r)).admittance(resonance, MEDIUM)
            )
            for r in resistors
        ]
        assert absorbed[0] == pytest.approx(max(absorbed), abs=1e-12)
    assert replace(WOOFER, mechanical_resistance=10.0).optimal_shunt(MEDIUM) is None


def test_quality_factors_add_like_resistors_in_parallel() -> None:
    assert WOOFER.damping() == WOOFER.mechanical_resistance
    driver = replace(WOOFER, shunt_resistance=3.0)
    parts = sum(1.0 / quality for quality in qualities(driver))
    total = math.sqrt(driver.stiffness(MEDIUM) * driver.moving_mass) / driver.damping()
    assert 1.0 / total == pytest.approx(parts)
    y = np.abs(driver.admittance(driver.resonance(MEDIUM) * np.linspace(0.3, 3.0, 30001), MEDIUM))
    band = driver.resonance(MEDIUM) * np.linspace(0.3, 3.0, 30001)[y >= y.max() / math.sqrt(2.0)]
    assert (band[-1] - band[0]) / driver.resonance(MEDIUM) == pytest.approx(parts, rel=1e-3)


def test_several_drivers_have_the_same_specific_admittance() -> None:
    four = replace(WOOFER, count=4)
    assert four.face_area == pytest.approx(4 * WOOFER.diaphragm_area)
    assert four.branches(MEDIUM) == WOOFER.branches(MEDIUM)


def test_displacement_of_a_matched_diaphragm() -> None:
    """80 dB at 100 Hz moves a matched diaphragm by p/(rho c w) = 0.77 um rms, 1.09 um peak (recomputed)."""
    medium = Medium(1.204, 343.2)
    per_pascal = displacement(1.0 / medium.impedance, 100.0)
    pressure = 20e-6 * 10.0 ** (80.0 / 20.0)
    assert abs(per_pascal) * pressure == pytest.approx(0.77e-6, abs=0.005e-6)
    assert pressure_at_limit(per_pascal, 1.09e-6) == pytest.approx(pressure, rel=0.005)


def test_no_limit_and_no_motion_are_infinite() -> None:
    assert np.all(pressure_at_limit(np.array([1.0, 2.0]), None) == math.inf)
    assert np.all(pressure_at_limit(np.array([0.0, 2.0]), 1.0) == [math.inf, 1.0 / (2.0 * math.sqrt(2.0))])


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("diaphragm_area", 0.0, "above zero"),
        ("box_volume", math.inf, "not a finite number"),
        ("coil_inductance", -1e-6, "zero or more"),
        ("mechanical_resistance", 0.0, "above zero"),
        ("force_factor", -1.0, "above zero"),
        ("shunt_resistance", -1.0, "zero or more"),
        ("coil_resistance", math.nan, "not a finite number"),
        ("count", 0, "whole number"),
        ("count", 1.5, "whole number"),
        ("count", math.nan, "whole number"),
    ],
)
def test_impossible_values_are_named(field: str, value: float, says: str) -> None:
    with pytest.raises(ValueError, match=says) as caught:
        replace(WOOFER, **{field: value})
    assert field in str(caught.value)
