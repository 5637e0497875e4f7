"""A step of the simulation against the equations written out with whole matrices and, for walls, the general rule.

Set-up: random rooms, 0.3 m, random pressures. Exact: the air update p+ = 2 p - p- - c² dt² V⁻¹ K p (rigid walls);
walls in blocks are walls one by one; tiles and threads change nothing; map sums are the sums that define them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from random_rooms import points_in_air, random_room
from rooms import Problem, box_plan, make_scene, problem_of

from fdtd.model.excitations import Excitation, make_excitation
from fdtd.physics.admittance import Branch
from fdtd.simulation import tiles, wall_blocks
from fdtd.simulation.block import ExcitationBlock
from fdtd.simulation.signals import pulse, time_step_frequency

ALIKE = {
    "box": make_scene(box_plan(6.0, 4.5), 2.7),
    "slope": make_scene(box_plan(6.0, 4.5), ((3.3, 0.0, -0.3),)),
    "L": make_scene(((0.0, 0.0), (6.0, 0.0), (6.0, 1.5), (3.0, 1.5), (3.0, 4.5), (0.0, 4.5)), 2.7),
}
"""Rooms in which many rows are alike; in the last two, rows that are alike otherwise have neighbours elsewhere."""


def _filled(block: ExcitationBlock) -> ExcitationBlock:
    """Random numbers in both pressures."""
    rng = np.random.default_rng(3)
    for p in (block.state.p_now, block.state.p_before):
        p[:] = rng.standard_normal(p.shape)
    return block


def _set_up(seed: int, excitations: int = 1) -> tuple[Problem, list[Excitation], list]:
    scene = random_room(seed)
    problem = problem_of(scene, 0.3)
    places = points_in_air(problem, max(excitations, 2), seed)
    return (
        problem,
        [make_excitation(scene, scene.variants[0], problem, place) for place in places[:excitations]],
        places,
    )


@pytest.mark.parametrize("precision", ["double", "single"])
@pytest.mark.parametrize("excitations", [1, 3, 8])
@pytest.mark.parametrize("seed", [2, 7, 16, *ALIKE])
def test_air_is_the_sparse_operator(
    seed: int | str, excitations: int, precision: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tiles, "TILE_BYTES", 6_000)
    scene = ALIKE[seed] if seed in ALIKE else random_room(seed)
    scene = replace(scene, variants=(replace(scene.variants[0], porous_volumes=(), thin_partitions=()),))
    problem = problem_of(scene, 0.3)
    rigid = tuple(() for _ in problem.regions)
    excitation = Excitation(rigid, tuple(False for _ in rigid), (), points_in_air(problem, 1, 2)[0])
    block = _filled(ExcitationBlock(problem, [excitation] * excitations, [], np.zeros(1), 200.0, precision=precision))
    p, q = block.state.p_now.astype(float), block.state.p_before.astype(float)
    courant = (problem.speed_of_sound * problem.time_step) ** 2
    wanted = 2.0 * p - q - courant / problem.operator.volume[:, None] * (problem.operator.stiffness @ p)
    block.advance(1)
    assert len(block.air.cell_tile) > 2 and len(block.air.bundle_length) > 2 and len(block.air.single_cell) > 0
    assert seed not in ALIKE or (np.diff(block.air.bundle_first) > 2).any()
    assert np.abs(block.state.p_now - wanted).max() < (1e-12 if precision == "double" else 1e-5)


def _simulated(seed: int, excitations: int, steps: int = 60, threads: int = 1) -> NDArray[np.float64]:
    problem, setups, places = _set_up(seed, excitations)
    signal = pulse(200.0, problem.time_step)
    block = _filled(ExcitationBlock(problem, setups, places, signal, 200.0, threads=threads))
    block.advance(steps)
    return block.state.p_now.copy()


@pytest.mark.parametrize("tile_bytes", [6_000, 10**9])
@pytest.mark.parametrize("precision", ["double", "single"])
@pytest.mark.parametrize("excitations", [4, 8])
@pytest.mark.parametrize("seed", [2, 13])
def test_excitations_in_whole_vectors_are_excitations_alone(
    seed: int, excitations: int, precision: str, tile_bytes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rooms with impedance links, cut into many tiles or one; a link between two tiles is simulated in both."""
    problem, setups, places = _set_up(seed, excitations)
    signal = pulse(200.0, problem.time_step)
    monkeypatch.setattr(tiles, "TILE_BYTES", tile_bytes)
    together = ExcitationBlock(problem, setups, places, signal, 200.0, precision=precision)
    assert len(together.links.first) > 0 and (len(together.air.cell_tile) > 2) == (tile_bytes < 10**9)
    start = np.random.default_rng(3).standard_normal((2, *together.state.p_now.shape))
    together.state.p_now[:], together.state.p_before[:] = start
    together.advance(60)
    for k, setup in enumerate(setups):
        alone = ExcitationBlock(problem, [setup], places, signal, 200.0, precision=precision)
        alone.state.p_now[:], alone.state.p_before[:] = start[:, :, k : k + 1]
        alone.advance(60)
        wanted = alone.state.p_now[:, 0]
        error = np.abs(together.state.p_now[:, k] - wanted).max() / np.abs(wanted).max()
        # Other tiles, other vectors, other sums: rounding, which 60 steps of the links in this air raise by some 10^4.
        assert error < 1e5 * np.finfo(alone.state.p_now.dtype).eps


@pytest.mark.parametrize("excitations", [1, 3])
@pytest.mark.parametrize("seed", [2, 7, 13])
def test_walls_in_blocks_are_walls_one_by_one(seed: int, excitations: int, monkeypatch: pytest.MonkeyPatch) -> None:
    found = _simulated(seed, excitations)
    monkeypatch.setattr(wall_blocks, "SHORTEST_BLOCK", 10**9)
    wanted = _simulated(seed, excitations)
    assert np.abs(found - wanted).max() < 1e-11 * np.abs(wanted).max()


def test_rooms_of_like_walls_use_blocks() -> None:
    plan = ((0.0, 0.0), (3.0, 0.0), (3.0, 2.4), (0.0, 2.4))
    scene = make_scene(plan, 2.1, surfaces=(Branch(4.0, 200.0, 1e5),))
    problem = problem_of(scene, 0.3)
    block = ExcitationBlock(
        problem, [make_excitation(scene, scene.variants[0], problem, (1.0, 1.0, 1.0))], [], np.zeros(1), 200.0
    )
    faces = block.walls.faces
    assert faces.simple > 100 and len(faces.edge_faces) > 0 and faces.free - faces.edge_first[-1] < 0.1 * faces.simple


@pytest.mark.parametrize("excitations", [1, 3])
def test_chunks_change_nothing_but_rounding(excitations: int, monkeypatch: pytest.MonkeyPatch) -> None:
    found = []
    for size in (10**9, 30_000, 9_000):
        monkeypatch.setattr(tiles, "TILE_BYTES", size)
        found.append(_simulated(13, excitations))
    for other in found[1:]:
        assert np.abs(other - found[0]).max() < 1e-11 * np.abs(found[0]).max()


def test_a_team_finds_what_one_thread_finds_bit_for_bit() -> None:
    problem, excitations, places = _set_up(13, 2)
    found = []
    for thread_group in (1, 3):
        block = _filled(
            ExcitationBlock(problem, excitations, places, pulse(200.0, problem.time_step), 200.0, threads=3)
        )
        block.pace.choose = lambda thread_group=thread_group: thread_group  # type: ignore[method-assign]
        found.append((block.advance(40), block.state.p_now.copy(), block.state.face_x.copy()))
    for one, several in zip(*found, strict=True):
        assert (one == several).all()


@pytest.mark.parametrize("batches", [(40,), (1, 13, 7, 19)])
def test_map_sums_are_what_defines_them(batches: tuple[int, ...]) -> None:
    problem, excitations, places = _set_up(7, 2)
    frequency = np.array([31.0, 80.0, 143.0])
    signal, dt = pulse(200.0, problem.time_step), problem.time_step
    block = _filled(ExcitationBlock(problem, excitations, places, signal, 200.0, frequency, map_steps=sum(batches)))
    other = _filled(ExcitationBlock(problem, excitations, places, signal, 200.0))
    phase = -1j * time_step_frequency(frequency, dt) * dt
    wanted = np.zeros((2, 3, len(problem.cells.volume)), complex)
    for step in range(sum(batches)):
        if step % block.maps.stride == 0:
            wanted += np.exp(phase * step)[None, :, None] * other.state.p_now.T[:, None, :] * block.maps.stride * dt
        other.advance(1)
    for count in batches:
        block.advance(count)
    assert block.maps.stride > 1
    assert np.abs(block.map_sums() - wanted).max() < 2e-7 * np.abs(wanted).max()
