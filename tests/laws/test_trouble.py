"""How a simulation ends: by itself when all seats are quiet, and with a message when the field grows or is not finite.

A time step 3 % above the bound lies past the true stability limit of a regular grid (there the row-sum bound equals
the spectral radius), so the field must grow; that is how a fault would show.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from rooms import box_plan, make_scene, problem_of

from fdtd.errors import StabilityError
from fdtd.model.excitations import Excitation, make_excitation
from fdtd.model.problem import Problem
from fdtd.physics.admittance import Branch, Branches
from fdtd.scene.schema import Scene
from fdtd.simulation.stepper import simulate


def box(surfaces: Branches) -> tuple[Scene, Problem]:
    """A small box with the same surface everywhere, on coarse cells."""
    scene = make_scene(
        box_plan(3.0, 2.4), 2.1, surfaces=surfaces, sources=[(0.7, 0.8, 0.6)], seats=[(2.2, 1.5, 1.1), (0.4, 2.0, 1.9)]
    )
    return scene, problem_of(scene, 0.3)


def excitations_of(scene: Scene, problem: Problem) -> list[Excitation]:
    """One excitation a source of the first variant."""
    return [make_excitation(scene, scene.variants[0], problem, s.at) for s in scene.variants[0].sources]


def test_simulation_stops_by_itself_when_all_seats_are_sixty_decibels_down() -> None:
    scene, problem = box((Branch(resistance=2000.0),))
    done = simulate(problem, excitations_of(scene, problem), [s.at for s in scene.variants[0].seats], 200.0)
    assert done.outcome == "quiet" and done.fallen >= 60.0
    tail = np.abs(done.seats[..., -200:]).max()
    assert tail < 2e-3 * np.abs(done.seats).max()


def test_a_given_duration_is_kept() -> None:
    scene, problem = box((Branch(resistance=2000.0),))
    done = simulate(problem, excitations_of(scene, problem), [(1.0, 1.0, 1.0)], 200.0, duration=0.2)
    assert done.seats.shape[-1] == int(np.ceil(0.2 / problem.time_step))


def test_a_growing_field_is_noticed() -> None:
    scene, problem = box(())
    hasty = replace(problem, time_step=problem.time_step * 1.03)
    with pytest.raises(StabilityError, match="grows by itself|finite"):
        simulate(hasty, excitations_of(scene, hasty), [(1.0, 1.0, 1.0)], 200.0, duration=3.0)


@pytest.mark.parametrize("length", [1.8, 2.1, 2.6])
@pytest.mark.parametrize("top", [30.0, 60.0])
def test_a_rigid_room_with_all_modes_above_the_band_is_not_taken_for_growing(length: float, top: float) -> None:
    scene = make_scene(box_plan(length, 1.0), 1.0, sources=[(0.3, 0.4, 0.3)])
    problem = problem_of(scene, 0.25)
    simulate(problem, excitations_of(scene, problem), [(1.2, 0.6, 0.5)], top, duration=3.0)
