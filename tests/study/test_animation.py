"""Moving pictures of the sound: what they show against transfer functions, exact decay times and the stored maps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from box_theory import eigenvalue, rigid_frequency
from rooms import DENSITY, IMPEDANCE, box_plan, make_scene

from fdtd import workflow
from fdtd.analysis.response import free_field_reference
from fdtd.errors import FdtdError
from fdtd.listening.animation import LOWEST_LEVEL, Field, fast_levels, level_rate, pressures
from fdtd.listening.animation_signals import Signal, pulse_signal, tone_signal
from fdtd.model.problem import build_problem
from fdtd.physics.admittance import Branch
from fdtd.physics.loudspeaker import Rolloff
from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene
from fdtd.simulation import animation as simulate_animation
from fdtd.study.animation import animation_fields, cut_cells, stored_fields

SIZE = (4.3, 3.1, 2.3)
WALLS = (Branch(0.0, 60.0 * IMPEDANCE, 0.0),)
"""rho c Y = 1/60 on all surfaces: the lowest mode decays by 60 dB in about 0.7 s."""
SOURCE, SEAT = (0.4, 0.5, 0.4), (3.6, 2.4, 1.2)
GRID, TOP = 0.25, 160.0
CUTS = ((2, 1.2), (1, 1.5))


def room() -> Scene:
    return make_scene(box_plan(*SIZE[:2]), SIZE[2], surfaces=WALLS, sources=(SOURCE,), seats=(SEAT,), max_frequency=TOP)


def played(scene: Scene, signal: Signal, length: float) -> tuple[Field, np.ndarray, float]:
    (field,), frequency, spacing = animation_fields(scene, scene.variants, CUTS, signal, length, grid=GRID)
    return field, frequency, spacing


@pytest.fixture(scope="module")
def resonant() -> float:
    """Hz, the lowest mode of the box."""
    return rigid_frequency((1, 0, 0), SIZE)


@pytest.fixture(scope="module")
def tone(resonant: float) -> tuple[Field, np.ndarray, float, Signal]:
    signal = tone_signal(resonant, 1.2)
    return (*played(room(), signal, 2.2), signal)


def test_a_tone_builds_up_to_the_level_of_the_transfer_function(tone, resonant: float) -> None:
    field, frequency, spacing, signal = tone
    size = pressures(field.transfer[field.cells :], signal, frequency, spacing, np.array([1.15]), envelope=True)
    result = workflow.run(room(), grid=GRID, frequencies=(resonant,), duration=2.0)
    whole = result.variants[0].transfer[0, 0]
    there = np.interp(resonant, result.frequency, np.abs(whole))
    expected = there / free_field_reference(resonant, DENSITY)
    assert 20.0 * np.log10(size[0, 0] / expected) == pytest.approx(0.0, abs=0.05)


def test_the_tail_of_a_tone_falls_like_the_mode(tone) -> None:
    field, frequency, spacing, signal = tone
    delta = eigenvalue((1, 0, 0), SIZE, WALLS).imag
    time = np.linspace(1.45, 1.85, 200)
    size = pressures(field.transfer[field.cells :], signal, frequency, spacing, time, envelope=True)[0]
    slope = np.polyfit(time, np.log(size), 1)[0]
    assert -slope == pytest.approx(delta, rel=0.01)


def test_nothing_is_heard_before_it_can_be(tone) -> None:
    pulse = pulse_signal(TOP)
    field, frequency, spacing = played(room(), pulse, 0.2)
    distance = np.linalg.norm(np.subtract(SOURCE, SEAT))
    early = np.linspace(0.0, distance / 343.2, 30)
    seat = field.transfer[field.cells :]
    before = np.abs(pressures(seat, pulse, frequency, spacing, early)).max()
    after = np.abs(pressures(seat, pulse, frequency, spacing, np.linspace(0.0, 0.2, 400))).max()
    assert before < 1e-3 * after


def test_when_all_is_over_nothing_begins_anew(tone) -> None:
    field, frequency, spacing, signal = tone
    seat, late = field.transfer[field.cells :], 1.0 / spacing + np.linspace(0.0, 2.0, 50)
    assert (pressures(seat, signal, frequency, spacing, late) == 0.0).all()
    assert (pressures(seat, signal, frequency, spacing, late, envelope=True) == 0.0).all()
    rate = level_rate(TOP, spacing)
    assert (fast_levels(seat, signal, frequency, spacing, rate, late) == LOWEST_LEVEL).all()


def test_the_first_arrival_is_that_of_free_field(tone) -> None:
    # Before the first reflection comes, the pressure is the pulse's own over the distance (Kuttruff, the point source).
    big = make_scene(box_plan(9.0, 9.0), 9.0, sources=((4.4, 4.5, 4.6),), seats=((5.6, 4.5, 4.6),), max_frequency=TOP)
    pulse = pulse_signal(TOP)
    field, frequency, spacing = played(big, pulse, 0.03)
    time = np.linspace(0.0, 0.024, 200)
    found = pressures(field.transfer[field.cells :], pulse, frequency, spacing, time)[0]
    peak, middle = 0.3 * TOP, 1.5 / (0.3 * TOP)
    argument = (np.pi * peak * (time - 1.2 / 343.2 - middle)) ** 2
    np.testing.assert_allclose(found, (1.0 - 2.0 * argument) * np.exp(-argument) / 1.2, atol=0.02)


def test_cells_and_seats_tell_the_same(tone) -> None:
    """A seat in the middle of a cell of the plan hears what that cell shows."""
    scene = room()
    problem = build_problem(scene, scene.variants[0], GRID)
    cells = problem.cells
    grid = CellGrid(cells.edges, cells.index.astype(np.int32), cells.volume)
    plane, chosen = cut_cells(grid, CUTS[0])
    cell = chosen[len(chosen) // 2]
    seat = replace(scene.variants[0].seats[0], at=tuple(problem.cells.centre[cell].tolist()))
    scene = replace(scene, variants=(replace(scene.variants[0], seats=(seat,)),))
    pulse = pulse_signal(TOP)
    field, frequency, spacing = played(scene, pulse, 0.3)
    both = pressures(field.transfer, pulse, frequency, spacing, np.linspace(0.0, 0.3, 100))
    np.testing.assert_allclose(both[len(chosen) // 2], both[-1], atol=2e-3 * np.abs(both[-1]).max())


def test_roll_off_level_and_polarity_count(tone, resonant: float) -> None:
    field, frequency, spacing, signal = tone
    scene = room()
    source = replace(scene.variants[0].sources[0], level=-6.0, polarity=-1, rolloff=Rolloff("closed", 40.0))
    changed = replace(scene, variants=(replace(scene.variants[0], sources=(source,)),))
    other, axis, step = played(changed, signal, 2.2)
    np.testing.assert_array_equal(axis, frequency)
    np.testing.assert_allclose(other.transfer, field.transfer * source.playback(axis), rtol=1e-4)


def test_a_stored_map_shows_what_the_simulation_shows(tone, resonant: float) -> None:
    field, frequency, spacing, signal = tone
    result = workflow.run(room(), grid=GRID, frequencies=(resonant,), duration=2.0)
    (stored,), found = stored_fields(result, [0], CUTS, resonant + 0.04)
    assert found == pytest.approx(resonant)
    size = pressures(field.transfer[: field.cells], signal, frequency, spacing, np.array([1.15]), envelope=True)[:, 0]
    there = np.abs(stored.transfer[: stored.cells, 0])
    strong = there > 0.1 * there.max()
    assert np.abs(20.0 * np.log10(size[strong] / there[strong])).max() < 0.1


def test_a_frequency_without_a_map_is_refused() -> None:
    result = workflow.run(room(), grid=0.5, frequencies=(40.0, 60.0), duration=0.2)
    with pytest.raises(FdtdError, match=r"no pressure map at 50 Hz; it has 40, 60"):
        stored_fields(result, [0], CUTS, 50.0)


def test_the_running_level_of_a_tone_is_its_level(tone) -> None:
    field, frequency, spacing, signal = tone
    rate = level_rate(TOP, spacing)
    seat = field.transfer[field.cells :]
    level = fast_levels(seat, signal, frequency, spacing, rate, np.array([1.18]))
    size = pressures(seat, signal, frequency, spacing, np.array([1.18]), envelope=True)
    assert level[0, 0] == pytest.approx(20.0 * np.log10(size[0, 0]), abs=0.25)


def test_too_large_a_animation_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(simulate_animation, "MOST_BYTES", 1e4)
    with pytest.raises(FdtdError, match="--grid"):
        played(room(), pulse_signal(TOP), 0.2)
