"""Whatever a room is cut into, every cell, wall face and loose link is advanced exactly once.

Set-up: random rooms of every kind of geometry (tests/random_rooms.py), 0.3 m. Counted from the tables alone.
"""

from __future__ import annotations

import numpy as np
import pytest
from random_rooms import points_in_air, random_room
from rooms import problem_of

from fdtd.march.air_tables import air_tables, run_mates
from fdtd.march.chunks import LINK_COST, WALL_COST, chunk_bounds, chunk_count
from fdtd.march.link_tables import link_tables
from fdtd.march.wall_tables import wall_tables
from fdtd.model.lanes import make_lane

SEEDS = (2, 7, 13, 26)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("chunks", [1, 2, 5])
def test_every_cell_of_air_once_in_its_chunk(seed: int, chunks: int) -> None:
    problem = problem_of(random_room(seed), 0.3)
    count, air = len(problem.cells.volume), air_tables(problem, 2, chunks, np.float64)
    assert air.cell_chunk[0] == 0 and air.cell_chunk[-1] == count and (np.diff(air.cell_chunk) > 0).all()
    for chunk in range(chunks):
        runs, singles, rest = (
            slice(bound[chunk], bound[chunk + 1]) for bound in (air.run_chunk, air.single_chunk, air.rest_chunk)
        )
        parts = [np.arange(s, s + n) for s, n in zip(air.run_start[runs], air.run_length[runs], strict=True)]
        cells = np.sort(np.concatenate([*parts, air.single_cell[singles], air.rest_cell[rest]]))
        assert (cells == np.arange(air.cell_chunk[chunk], air.cell_chunk[chunk + 1])).all()
        mate = air.run_mate[runs]
        assert ((mate == -1) | ((mate >= runs.start) & (mate < runs.stop))).all()
    own = np.arange(len(air.run_mate))
    has = air.run_mate >= 0
    assert has.any()
    assert (air.run_mate[air.run_mate[has]] == own[has]).all() and (air.run_mate != own).all()


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("chunks", [1, 4])
def test_every_wall_cell_once_in_its_chunk(seed: int, chunks: int) -> None:
    scene = random_room(seed)
    problem = problem_of(scene, 0.3)
    lane = make_lane(scene, scene.variants[0], problem, points_in_air(problem, 1, seed)[0])
    faces = wall_tables(problem, [lane], 200.0, chunks, np.float64).faces
    bounds = chunk_bounds(problem, chunks)
    seen = []
    for chunk in range(chunks):
        spans = [(faces.chunk[chunk], faces.chunk[chunk + 1])]
        for block_chunk, first in ((faces.block_chunk, faces.block_first), (faces.edge_chunk, faces.edge_first)):
            blocks = range(block_chunk[chunk], block_chunk[chunk + 1])
            spans += [(first[k], first[k + 1]) for k in blocks]
        rows = np.concatenate([np.arange(a, b) for a, b in spans])
        cells = faces.cell[rows]
        assert ((cells >= bounds[chunk]) & (cells < bounds[chunk + 1])).all()
        seen.append(rows)
    assert (np.sort(np.concatenate(seen)) == np.arange(faces.free)).all()
    assert len(np.unique(faces.cell)) == len(faces.cell)


@pytest.mark.parametrize("chunks", [1, 2, 5])
def test_every_link_gives_once_to_each_of_its_cells(chunks: int) -> None:
    problem = problem_of(random_room(13), 0.3)
    links, whole = link_tables(problem, 200.0, np.float64, chunks), link_tables(problem, 200.0, np.float64)
    assert len(whole.first) > 20
    bounds, count = chunk_bounds(problem, chunks), len(problem.cells.volume)
    chunk = np.repeat(np.arange(chunks), np.diff(links.chunk))
    assert (np.sort(links.order) == np.arange(len(links.first))).all()
    for cell, into, wanted_cell, wanted in (
        (links.first, links.into_first, whole.first, whole.into_first),
        (links.second, links.into_second, whole.second, whole.into_second),
    ):
        given = into[links.order] != 0.0
        own = cell[links.order][given]
        assert ((own >= bounds[chunk[given]]) & (own < bounds[chunk[given] + 1])).all()
        total = np.bincount(cell, into, count)
        assert np.allclose(total, np.bincount(wanted_cell, wanted, count), rtol=1e-12, atol=0.0)


def test_chunks_fit_the_cache_and_share_out_evenly() -> None:
    assert chunk_count(1000, 1, 4, 1) == 1
    assert chunk_count(1000, 1, 4, 3) == 3
    for threads in (1, 2, 3):
        number = chunk_count(1_000_000, 8, 4, threads)
        assert number % threads == 0 and 1_000_000 * 8 * 2 * 4 / number <= 256 * 1024


def test_chunks_share_out_the_work_of_walls_and_links() -> None:
    problem = problem_of(random_room(13), 0.3)
    cost = np.ones(len(problem.cells.volume))
    np.add.at(cost, problem.pieces.cell, WALL_COST)
    np.add.at(cost, problem.loose.cells.ravel(), LINK_COST)
    _, row = np.unique(problem.cells.index[:, 1:], axis=0, return_inverse=True)
    longest = np.bincount(row.ravel(), cost).max()
    for number in (2, 3, 5):
        shares = np.add.reduceat(cost, chunk_bounds(problem, number)[:-1])
        assert np.ptp(shares) <= 2.0 * longest


OFFSETS = (-400, -200, -20, -10, 10, 20, 200, 400)
"""Of rows of ten cells in layers of twenty rows."""


@pytest.mark.parametrize(
    "row, slot, mates", [(0, 4, False), (0, 3, False), (0, 5, False), (1, 3, False), (1, 2, False), (1, 4, False),
                         (0, 2, True), (1, 5, True), (0, 7, True)],
)  # fmt: skip
def test_only_rows_that_share_neighbours_are_mates(row: int, slot: int, mates: bool) -> None:
    start, same = np.array([402, 412]), np.array([6, 6])
    offset, weight, bounds = np.array([OFFSETS, OFFSETS]), np.ones((2, 9)), np.array([0, 1000])
    assert run_mates(start, same, same, offset, weight, bounds).tolist() == [1, 0]
    offset[row, slot] += 1
    assert run_mates(start, same, same, offset, weight, bounds).tolist() == ([1, 0] if mates else [-1, -1])
    offset[row, slot] -= 1
    weight[1, 2:4], offset[1, 2:4], weight[0, 5], offset[0, 5] = 0.0, 0, 0.0, 0
    assert run_mates(start, same, same, offset, weight, bounds).tolist() == [1, 0]
    assert run_mates(start, np.array([6, 7]), same, offset, weight, bounds).tolist() == [-1, -1]
    assert run_mates(start, same, np.array([0, 6]), offset, weight, bounds).tolist() == [-1, -1]
    assert run_mates(start, same, same, offset, weight, np.array([0, 410, 1000])).tolist() == [-1, -1]
