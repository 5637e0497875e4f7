"""The discrete energy of a simulation never rises, and with rigid walls it never changes.

Set-up: random rooms with random passive surfaces, thin partitions, fills, diaphragms (tests/random_rooms.py), cells of
0.3 m, started by
a few steps of noise, so that every wave the grid can carry is there up to its highest frequency.
Exact: the energy of energy (after Bilbao, Hamilton, Botts and Savioja, IEEE/ACM TASLP 24(1), 2016) is
non-negative and falls by what branches dissipate, whatever the room; constant in a lossless one.
Expected error: rounding. Tolerance: a rise of 1e-11 of the starting energy in one step; 1e-10 drift in 10,000 steps.
"""

from __future__ import annotations

import numpy as np
import pytest
from energy import discrete_energy, snapshot
from random_rooms import CEILINGS, PLANS, points_in_air, random_room
from rooms import make_scene, problem_of

from fdtd.model.excitations import make_excitation
from fdtd.physics.admittance import Branch
from fdtd.scene.schema import Block, Rectangle, Scene, ThinPartition
from fdtd.simulation.stepper import ExcitationBlock

CELL = 0.3
ROOMS = 40


def started(scene: Scene, seed: int) -> ExcitationBlock:
    """Two excitations in double precision, after some steps of noise that leave neither flow nor volume behind (a
    steady flow into a rigid room would raise its static pressure for ever)."""
    problem = problem_of(scene, CELL)
    points = points_in_air(problem, 2, seed)
    excitations = [make_excitation(scene, scene.variants[0], problem, point) for point in points]
    noise = np.random.default_rng(seed).standard_normal(3)
    signal = np.diff(np.concatenate([[0.0, 0.0], noise, [0.0, 0.0]]), n=2)
    block = ExcitationBlock(problem, excitations, points[:1], signal, 200.0, precision="double")
    block.advance(len(signal) + 1)
    return block


def energies(block: ExcitationBlock, steps: int, every: int = 1) -> np.ndarray:
    """The energy after every `every` steps."""
    found = []
    for _ in range(steps // every):
        if every > 1:
            block.advance(every - 1)
        before = snapshot(block)
        block.advance(1)
        found.append(discrete_energy(block, before))
    return np.array(found)


@pytest.mark.parametrize("seed", range(ROOMS))
def test_energy_never_rises(seed: int) -> None:
    energy = energies(started(random_room(seed), seed), 150)
    assert np.all(np.isfinite(energy))
    assert energy.min() >= -1e-11 * energy[0]
    assert np.diff(energy).max() <= 1e-11 * energy[0]


@pytest.mark.parametrize("seed", range(3, ROOMS, 9))
def test_long_simulations_stay_bounded(seed: int) -> None:
    energy = energies(started(random_room(seed), seed), 10_000, every=500)
    assert np.diff(energy).max() <= 1e-10 * energy[0]


@pytest.mark.parametrize("plan", [0, 1, 3])
def test_rigid_rooms_keep_their_energy(plan: int) -> None:
    block = Block("cupboard", (0.35, 0.4, 0.0), (1.05, 0.93, 0.8), "rigid")
    thin_partition = ThinPartition(
        "screen", 0, 1.4, Rectangle((0.0, 0.0), (1.3, 1.4)), (Rectangle((0.3, 0.2), (0.8, 0.9)),)
    )
    scene = make_scene(PLANS[plan], CEILINGS[plan % len(CEILINGS)], blocks=[block], thin_partitions=[thin_partition])
    energy = energies(started(scene, plan), 10_000, every=250)
    assert np.abs(energy / energy[0] - 1.0).max() < 1e-10


def test_lossless_reacting_surfaces_keep_their_energy() -> None:
    surfaces = {
        "floor": (Branch(mass=3.0),),
        "ceiling": (Branch(mass=6.0, stiffness=6e5),),
        "wall 1": (Branch(stiffness=2e5), Branch(mass=1.0)),
    }
    panel = ThinPartition("panel", 1, 1.3, Rectangle((0.0, 0.0), (4.0, 4.0)), panel=Branch(4.0, 0.0, 3e5))
    scene = make_scene(PLANS[0], CEILINGS[1], surfaces=surfaces, thin_partitions=[panel])
    energy = energies(started(scene, 3), 10_000, every=250)
    assert np.abs(energy / energy[0] - 1.0).max() < 1e-10


def test_a_damped_room_does_lose_energy() -> None:
    scene = make_scene(PLANS[0], CEILINGS[0], surfaces=(Branch(resistance=2000.0),))
    energy = energies(started(scene, 1), 1000)
    assert energy[-1] < 0.02 * energy[0]
