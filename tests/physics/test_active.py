"""The active unit against its defining equations, published target curves, and an independent solution of its loop."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fdtd.physics.active import DELAY_ERROR, DELAY_TOP, ActiveUnit
from fdtd.physics.admittance import admittance, normal_absorption
from fdtd.physics.medium import Medium

MEDIUM = Medium(1.204, 343.2)
UNIT = ActiveUnit(
    diaphragm_area=0.0137,
    moving_mass=0.0134,
    suspension_compliance=0.9e-3,
    mechanical_resistance=1.1,
    force_factor=6.8,
    coil_resistance=5.6,
    box_volume=0.011,
    target_resistance=200.0,
)
"""An invented unit."""
SPOILT = replace(
    UNIT,
    delay=0.0008,
    band_order=3,
    mismatch_mass=0.1,
    mismatch_stiffness=-0.07,
    mismatch_resistance=0.4,
    mismatch_force=-0.05,
)
FREQUENCY = np.geomspace(5.0, 500.0, 120)


def impedances(unit: ActiveUnit, frequency: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Zm, Zm' (N·s/m) and Zst (Pa·s/m), written out."""
    w = 2.0 * np.pi * frequency
    stiffness = 1.0 / unit.suspension_compliance
    stiffness += MEDIUM.density * MEDIUM.speed_of_sound**2 * unit.diaphragm_area**2 / unit.box_volume
    mass, spring = unit.moving_mass * (1 + unit.mismatch_mass), stiffness * (1 + unit.mismatch_stiffness)
    true = 1j * w * unit.moving_mass + unit.mechanical_resistance + stiffness / (1j * w)
    believed = 1j * w * mass + unit.mechanical_resistance * (1 + unit.mismatch_resistance) + spring / (1j * w)
    target = unit.target_share * (1j * w * mass + spring / (1j * w)) / unit.diaphragm_area + unit.target_resistance
    return true, believed, target


def test_perfect_model_mixes_passive_and_target() -> None:
    """Y = (1 - G) Sd/Zm + G/Zst (Rivet, Karkar and Lissek 2017, with G = 1 their control law)."""
    unit = replace(UNIT, delay=0.0005)
    true, _, target = impedances(unit, FREQUENCY)
    for gain in (0.0, 0.4, 1.0):
        loop = gain * unit.loop_filter(FREQUENCY)
        expected = (1.0 - loop) * unit.diaphragm_area / true + loop / target
        assert unit.admittance(FREQUENCY, MEDIUM, gain) == pytest.approx(expected, rel=1e-10)


def test_motion_and_controller_solved_together() -> None:
    """Zm v + Bl i = Sd p and Bl' Zst i = G (Sd Zst - Zm') p as two equations, with errors of the model and delay."""
    true, believed, target = impedances(SPOILT, FREQUENCY)
    loop = 0.7 * SPOILT.loop_filter(FREQUENCY)
    force = SPOILT.force_factor * (1 + SPOILT.mismatch_force)
    system = np.zeros((len(FREQUENCY), 2, 2), dtype=complex)
    system[:, 0, 0], system[:, 0, 1], system[:, 1, 1] = true, SPOILT.force_factor, force * target
    right = np.zeros((len(FREQUENCY), 2, 1), dtype=complex)
    right[:, 0, 0], right[:, 1, 0] = SPOILT.diaphragm_area, loop * (SPOILT.diaphragm_area * target - believed)
    velocity, current = np.linalg.solve(system, right)[:, :, 0].T
    assert SPOILT.admittance(FREQUENCY, MEDIUM, 0.7) == pytest.approx(velocity, rel=1e-10)
    assert SPOILT.current(FREQUENCY, MEDIUM, 0.7) == pytest.approx(current, rel=1e-10)


def test_power_balance_of_motor() -> None:
    """Power from the amplifier = heat in the coil + what the motor does on the diaphragm (against v, inwards)."""
    velocity, current = SPOILT.admittance(FREQUENCY, MEDIUM), SPOILT.current(FREQUENCY, MEDIUM)
    voltage = SPOILT.coil_resistance * current - SPOILT.force_factor * velocity  # the coil's inductance left out
    electrical = (voltage * current.conj()).real
    heat = SPOILT.coil_resistance * np.abs(current) ** 2
    mechanical = (-SPOILT.force_factor * current * velocity.conj()).real
    assert electrical == pytest.approx(heat + mechanical, rel=1e-10)
    absorbed = velocity.real * SPOILT.diaphragm_area
    friction = SPOILT.mechanical_resistance * np.abs(velocity) ** 2
    assert absorbed + mechanical == pytest.approx(friction, rel=1e-8)


def test_powered_off_is_the_passive_box() -> None:
    off = UNIT.admittance(FREQUENCY, MEDIUM, loop_gain=0.0)
    assert admittance(UNIT.passive(MEDIUM), FREQUENCY) == pytest.approx(off, rel=1e-12)
    assert UNIT.driver.admittance(FREQUENCY, MEDIUM) == pytest.approx(off, rel=1e-12)
    assert np.all(UNIT.current(FREQUENCY, MEDIUM, loop_gain=0.0) == 0.0)


@pytest.mark.parametrize("order", [1, 2, 3, 5])
def test_band_filter_is_butterworth(order: int) -> None:
    """|H|² = 1/(1 + (f/fc)^2n) for the low-pass, fc/f for the high-pass (Butterworth 1930; textbook form)."""
    unit = replace(UNIT, band_order=order)
    low, high = FREQUENCY / unit.band_low, FREQUENCY / unit.band_high
    expected = 1.0 / np.sqrt((1.0 + low ** (-2.0 * order)) * (1.0 + high ** (2.0 * order)))
    assert np.abs(unit.loop_filter(FREQUENCY)) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("order", [1, 2, 3, 4, 7])
@pytest.mark.parametrize("share", [0.05, 0.15, 1.0])
def test_state_space_is_the_closed_formula(order: int, share: float) -> None:
    unit = replace(SPOILT, delay=0.0, band_order=order, target_share=share)
    added = unit.admittance(FREQUENCY, MEDIUM) - unit.admittance(FREQUENCY, MEDIUM, loop_gain=0.0)
    space = unit.control(MEDIUM)
    assert len(space.drive) == 2 * order + 4
    assert np.max(np.abs(space.admittance(FREQUENCY) / added - 1.0)) < 1e-7
    assert space.matrix.dtype == float and np.abs(space.matrix).max() < 1e5


def test_state_space_at_any_gain() -> None:
    unit = replace(SPOILT, delay=0.0)
    found = admittance(unit.passive(MEDIUM), FREQUENCY) + unit.control(MEDIUM).scaled(0.3).admittance(FREQUENCY)
    assert found == pytest.approx(unit.admittance(FREQUENCY, MEDIUM, 0.3), rel=1e-8)


@pytest.mark.parametrize("delay", [2e-5, 1e-4, 5e-4, 1e-3, 3e-3, 0.02])
def test_delay_is_within_its_error(delay: float) -> None:
    """Padé approximant against exp(-j w T) up to four times the band; an all-pass, so Y keeps its size everywhere."""
    unit, plain = replace(UNIT, delay=delay), UNIT.control(MEDIUM)
    frequency = np.linspace(1.0, DELAY_TOP * UNIT.band_high, 500)
    found = unit.control(MEDIUM).admittance(frequency) / plain.admittance(frequency)
    assert np.max(np.abs(found - np.exp(-2j * np.pi * frequency * delay))) < DELAY_ERROR
    assert np.abs(found) == pytest.approx(1.0, abs=1e-7)


def target_bandwidth(unit: ActiveUnit, medium: Medium) -> float:
    """Hz where the target absorbs at least 0.828 at normal incidence, 0 if it never does: closed form of Rivet, Karkar
    and Lissek (2017) for a reflection factor of at most sqrt(2) - 1."""
    limit, impedance = math.sqrt(2.0) - 1.0, medium.impedance
    inside = limit**2 * (unit.target_resistance + impedance) ** 2 - (unit.target_resistance - impedance) ** 2
    surface_mass = unit.target_share * unit.moving_mass / unit.diaphragm_area
    return math.sqrt(max(inside, 0.0) / (1.0 - limit**2)) / (2.0 * math.pi * surface_mass)


def test_target_band_of_the_published_unit() -> None:
    """Rivet, Karkar and Lissek (2017): f0 = 84 Hz, mu = 0.15, Rst = rho c; alpha >= 0.828 over 410 Hz.

    Sd/Mms = 1.028 m²/kg is implied by their numbers with rho c = 413 Pa·s/m; band ends 16.54 and 426.54 Hz recomputed.
    """
    medium = Medium(413.0 / 343.2, 343.2)
    area, box, resonance = 0.0137, 0.011, 84.0
    mass = area / 1.028
    suspension = mass * (2.0 * math.pi * resonance) ** 2 - medium.bulk_modulus * area**2 / box
    unit = replace(
        UNIT,
        diaphragm_area=area,
        box_volume=box,
        moving_mass=mass,
        suspension_compliance=1.0 / suspension,
        target_resistance=medium.impedance,
    )
    assert unit.driver.resonance(medium) == pytest.approx(resonance)
    assert target_bandwidth(unit, medium) == pytest.approx(410.0, abs=0.02)
    frequency = np.arange(5.0, 600.0, 0.01)
    alpha = normal_absorption(medium.impedance * unit.target_admittance(frequency, medium))
    band = frequency[alpha >= 1.0 - (math.sqrt(2.0) - 1.0) ** 2]
    assert band[-1] - band[0] == pytest.approx(target_bandwidth(unit, medium), abs=0.05)
    assert [band[0], band[-1]] == pytest.approx([16.54, 426.54], abs=0.02)


def test_target_out_of_reach_has_no_band() -> None:
    """The published formula holds for |Rst - sqrt(2) rho c| <= rho c."""
    edge = MEDIUM.impedance * (math.sqrt(2.0) - 1.0)
    for resistance, reached in ((edge * 0.999, False), (edge * 1.001, True)):
        unit = replace(UNIT, target_resistance=resistance)
        assert (target_bandwidth(unit, MEDIUM) > 0.0) == reached
        resonance = unit.driver.resonance(MEDIUM)
        alpha = normal_absorption(MEDIUM.impedance * unit.target_admittance(resonance, MEDIUM))
        assert (alpha >= 1.0 - (math.sqrt(2.0) - 1.0) ** 2) == reached


def test_pressure_at_which_stroke_and_current_run_out() -> None:
    unit = replace(UNIT, largest_stroke=0.004, largest_current=2.0)
    pressure = unit.pressure_at_stroke(FREQUENCY, MEDIUM)
    velocity = np.abs(unit.admittance(FREQUENCY, MEDIUM)) * pressure * math.sqrt(2.0)
    assert velocity / (2.0 * np.pi * FREQUENCY) == pytest.approx(np.full(120, 0.004))
    pressure = unit.pressure_at_current(FREQUENCY, MEDIUM, 0.5)
    assert np.abs(unit.current(FREQUENCY, MEDIUM, 0.5)) * pressure * math.sqrt(2.0) == pytest.approx(np.full(120, 2.0))
    assert np.all(UNIT.pressure_at_stroke(FREQUENCY, MEDIUM) == math.inf)
    assert np.all(unit.pressure_at_current(FREQUENCY, MEDIUM, 0.0) == math.inf)


def test_delay_breaks_passivity() -> None:
    """Latency makes a unit feed the room (De Bono et al., JSV 537, 2022, 117201); without it and with the band open
    the mix of two passive admittances is passive."""
    frequency = np.geomspace(5.0, 1000.0, 500)
    wide = replace(UNIT, band_low=0.01, band_high=1000.0, band_order=1)
    assert np.all(wide.admittance(frequency[frequency < 100.0], MEDIUM).real > 0.0)
    late = replace(wide, delay=0.003)
    assert late.admittance(frequency, MEDIUM).real.min() < 0.0


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("moving_mass", 0.0, "above zero"),
        ("delay", -0.001, "zero or more"),
        ("target_resistance", 0.0, "above zero"),
        ("target_share", 0.0, "above zero"),
        ("largest_stroke", -0.004, "above zero"),
        ("largest_current", math.inf, "not a finite number"),
        ("mismatch_mass", math.inf, "10 % too much is 0.1"),
        ("mismatch_force", -1.0, "relative error"),
        ("mismatch_force", math.nan, "relative error"),
        ("band_low", 200.0, "band_low must be the smaller"),
        ("band_order", 0, "whole number from 1"),
        ("count", -2, "whole number"),
    ],
)
def test_impossible_values_are_named(field: str, value: float, says: str) -> None:
    with pytest.raises(ValueError, match=says) as caught:
        replace(UNIT, **{field: value})
    assert field in str(caught.value)
    assert "active unit" in str(caught.value) or field == "count"
