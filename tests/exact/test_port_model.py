"""Devices put on ports after the simulation, against the same devices built into it; stability against growth in the
simulation.

Set-up: a small room, 2.9 x 2.1 x 1.9 m, walls of admittance ratio 0.01, h = 0.15 m, an active unit (invented) in a
corner of wall 2 and a passive one on the floor.
Exact: nothing is approximated between the two routes, so the transfer functions agree to what the simulation is cut off
at: 60 dB down, 0.001 of the pressure, which is 0.01 dB away from nulls. Tolerance 0.02 dB (within 30 dB of the
maximum). The predicted critical gain is exact too; a simulation 3 % below it must die away and one 3 % above it must
grow.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from rooms import box_plan, level_error, make_scene, problem_of, resonant, simulate_scene

from fdtd.errors import StabilityError
from fdtd.model.excitations import Diaphragm
from fdtd.physics.active import ActiveUnit
from fdtd.physics.admittance import Branch
from fdtd.ports.predict import seat_transfer
from fdtd.ports.response import PortResponse, port_response
from fdtd.ports.stability import stability
from fdtd.ports.units import check_units
from fdtd.scene.schema import Absorber, Device, Rectangle, Scene
from fdtd.simulation.transfer import impulse_responses, transfer_functions

UNIT = ActiveUnit(
    diaphragm_area=0.03,
    moving_mass=0.04,
    suspension_compliance=6e-4,
    mechanical_resistance=2.0,
    force_factor=8.0,
    coil_resistance=6.0,
    box_volume=0.03,
    target_resistance=120.0,
    target_share=0.2,
    band_high=150.0,
    delay=3e-4,
    largest_stroke=0.006,
    largest_current=4.0,
)
SLOW = replace(UNIT, delay=1.5e-3, target_share=0.1)
"""So much delay that the unit oscillates at a gain of about 2."""
FREQUENCY = np.arange(10.0, 200.1, 0.25)
PLATE = Device("plate", (resonant(6.0, 52.0, 4.0),))
WALL = (Branch(resistance=412.0 / 0.01),)
TOP = 600.0
SPACING = 0.15
DURATION = 4.0


def room(unit: ActiveUnit = UNIT, gain: float = 1.0, second: bool = True) -> Scene:
    """The small room; excitations of one source, two seats."""
    medium = make_scene(box_plan(1.0, 1.0), 1.0).air.medium
    device = Device("active", unit.passive(medium), design=unit, control=unit.control(medium), face_area=unit.face_area)
    absorbers = [Absorber("corner", "active", "wall 2", Rectangle((0.05, 0.05), (0.35, 0.25)), gain)]
    if second:
        absorbers.append(Absorber("floor trap", "plate", "floor", Rectangle((0.12, 1.3), (0.71, 2.0))))
    return make_scene(
        box_plan(2.9, 2.1),
        1.9,
        surfaces=WALL,
        sources=[(0.5, 0.6, 0.4), (2.0, 0.4, 0.3)],
        seats=[(2.2, 1.5, 1.1), (1.3, 1.8, 0.9)],
        devices=(device, PLATE),
        absorbers=absorbers,
    )


def measured(scene: Scene, names: tuple[str, ...]) -> PortResponse:
    """The room with the named units rigid."""
    return port_response(scene, scene.variants[0], problem_of(scene, SPACING), names, top=TOP, duration=DURATION)


def agree(found: np.ndarray, exact: np.ndarray) -> float:
    """Largest level difference, dB, within 30 dB of each response's maximum."""
    loud = np.abs(exact) > np.abs(exact).max(axis=-1, keepdims=True) * 10.0**-1.5
    return float(level_error(found, exact)[loud].max())


@pytest.mark.parametrize("names", [("corner",), ("corner", "floor trap")])
def test_prediction_is_what_a_simulation_gives(names: tuple[str, ...]) -> None:
    scene = room()
    response = measured(scene, names)
    predicted = seat_transfer(response, response.at(FREQUENCY), response.diaphragms)
    built_in = transfer_functions(simulate_scene(scene, SPACING, DURATION), FREQUENCY)
    assert agree(predicted, built_in) < 0.02
    rigid = tuple(Diaphragm(port, ()) for port in response.ports)
    untreated = seat_transfer(response, response.at(FREQUENCY), rigid)
    assert agree(untreated, built_in) > 3.0  # the units do a lot, so that agreement means something


def test_ports_are_reciprocal() -> None:
    matrices = measured(room(), ("corner", "floor trap")).at(FREQUENCY)
    across, back = matrices.ports_from_ports[:, 0, 1], matrices.ports_from_ports[:, 1, 0]
    assert np.abs(across - back).max() < 1e-9 * np.abs(across).max()


def test_decay_of_the_lowest_modes_agrees() -> None:
    from fdtd.analysis.resonances import find_resonances

    scene = room()
    response = measured(scene, ("corner",))
    predicted = seat_transfer(response, response.at(FREQUENCY), response.diaphragms)
    built_in = transfer_functions(simulate_scene(scene, SPACING, DURATION), FREQUENCY)
    found = []
    for transfer in (predicted, built_in):
        impulse, time = impulse_responses(transfer, FREQUENCY, 200.0)
        modes = find_resonances(impulse.reshape(-1, len(time)), float(time[1]), 40.0, 120.0)
        found.append((modes.frequency[:3], modes.decay_time[:3]))
    (f, t), (f_built, t_built) = found
    assert len(f) == 3
    assert np.abs(f / f_built - 1.0).max() < 1e-3
    assert np.abs(t / t_built - 1.0).max() < 0.02


def grows(scene: Scene) -> bool:
    """Whether the simulation's field is larger at its end than half way."""
    try:
        seats = simulate_scene(scene, SPACING, 8.0).seats
    except StabilityError:
        return True
    steps = seats.shape[-1]
    half = np.abs(seats[..., steps // 2 : steps // 2 + steps // 10]).max()
    return bool(np.abs(seats[..., -(steps // 10) :]).max() > half)


@pytest.mark.parametrize("second", [False, True])
def test_critical_gain_is_where_the_simulation_starts_to_grow(second: bool) -> None:
    scene = room(SLOW, 1.0, second)
    response = measured(scene, ("corner",))
    verdict = stability(response, response.diaphragms, TOP)
    assert 0.3 < verdict.critical < 10.0
    assert not grows(room(SLOW, 0.97 * verdict.critical, second))
    assert grows(room(SLOW, 1.03 * verdict.critical, second))


def test_a_passive_device_is_stable_at_any_gain() -> None:
    response = measured(room(), ("floor trap",))
    verdict = stability(response, response.diaphragms, TOP)
    assert verdict.critical == np.inf
    assert verdict.distance == pytest.approx(1.0)


def test_an_unstable_unit_is_refused_before_the_simulation() -> None:
    scene = room(SLOW, 1.0, False)
    response = measured(scene, ("corner",))
    critical = stability(response, response.diaphragms, TOP).critical
    too_much = room(SLOW, round(1.5 * critical, 2), False)
    with pytest.raises(StabilityError, match=r"'corner' \(gain .*would oscillate at about \d+ Hz.* Set gain to"):
        check_units(too_much, problem_of(too_much, SPACING), list(too_much.variants))


def test_limits_follow_from_stroke_and_current() -> None:
    """Twice the stroke is 6.02 dB more level; the drive has a limit of its own."""
    scene = room()
    units = check_units(scene, problem_of(scene, SPACING), list(scene.variants))["only"]
    twice = room(replace(UNIT, largest_stroke=0.012))
    more = check_units(twice, problem_of(twice, SPACING), list(twice.variants))["only"]
    assert units[0].stability.margin_db > 3.0
    assert more[0].stroke_level - units[0].stroke_level == pytest.approx(20.0 * np.log10(2.0), abs=1e-6)
    assert more[0].drive_level == pytest.approx(units[0].drive_level)
    assert np.all((units[0].stroke_level > 80.0) & (units[0].stroke_level < 160.0))
