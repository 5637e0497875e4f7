"""Exchanging source and seat changes nothing.

Set-up: random rooms with everything in them (tests/random_rooms.py), cells of 0.3 m, double precision; a source and a
seat
at two points off the grid, exchanged in the second excitation.
Exact: reciprocity of passive linear air and surfaces (Rayleigh, Theory of Sound, sec. 109, 294); it holds for the grid
because every part of the scheme is symmetric and the source's spreading is the transpose of the seat's reading.
Expected error: rounding. Tolerance: 1e-9 of the largest pressure.
"""

from __future__ import annotations

import numpy as np
import pytest
from random_rooms import points_in_air, random_room
from rooms import problem_of

from fdtd.model.excitations import make_excitation
from fdtd.simulation.device import DOUBLE
from fdtd.simulation.stepper import simulate


@pytest.mark.parametrize("seed", range(3, 43, 4))
def test_source_and_seat_exchanged(seed: int) -> None:
    scene = random_room(seed)
    problem = problem_of(scene, 0.3)
    here, there = points_in_air(problem, 2, seed)
    excitations = [make_excitation(scene, scene.variants[0], problem, point) for point in (here, there)]
    done = simulate(problem, excitations, [here, there], 200.0, 0.12, execution=DOUBLE)
    there_from_here, here_from_there = done.seats[0, 1], done.seats[1, 0]
    assert np.abs(there_from_here).max() > 0.0
    assert np.abs(there_from_here - here_from_there).max() < 1e-9 * np.abs(done.seats).max()
