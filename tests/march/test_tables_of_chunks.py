"""Whatever a room is cut into, every cell, wall face and loose link is advanced exactly once.

Set-up: random rooms of every kind of geometry (tests/random_rooms.py), 0.3 m. Counted from the tables alone.
"""

from __future__ import annotations

import numpy as np
import pytest
from random_rooms import points_in_air, random_room
from rooms import box_plan, make_scene, problem_of

from fdtd.kernels.rows import LANES, repeated
from fdtd.kernels.vectors import vector_size
from fdtd.march.air_parts import row_parts
from fdtd.march.air_tables import air_tables
from fdtd.march.chunks import LINK_COST, WALL_COST, chunk_bounds, chunk_count
from fdtd.march.link_tables import link_tables
from fdtd.march.wall_blocks import side_by_side
from fdtd.march.wall_tables import wall_tables
from fdtd.model.lanes import make_lane

SEEDS = (2, 7, 13, 26)


@pytest.mark.parametrize("seed", [*SEEDS, 0])
@pytest.mark.parametrize("chunks", [1, 2, 5])
def test_every_cell_of_air_once_in_its_chunk(seed: int, chunks: int) -> None:
    problem = problem_of(random_room(seed) if seed else make_scene(box_plan(6.0, 4.5), 2.7), 0.3)
    count, air = len(problem.cells.volume), air_tables(problem, 2, chunks, np.float64)
    assert air.cell_chunk[0] == 0 and air.cell_chunk[-1] == count and (np.diff(air.cell_chunk) > 0).all()
    length = np.repeat(air.bundle_length, np.diff(air.bundle_first))
    assert air.bundle_first[0] == 0 and air.bundle_first[-1] == len(air.run_start) >= len(air.bundle_length)
    assert seed or len(air.run_start) > 2 * len(air.bundle_length)  # equal cells: most rows are like others
    for chunk in range(chunks):
        bundles, singles, rest = (
            slice(bound[chunk], bound[chunk + 1]) for bound in (air.bundle_chunk, air.single_chunk, air.rest_chunk)
        )
        runs = slice(air.bundle_first[bundles.start], air.bundle_first[bundles.stop])
        parts = [np.arange(s, s + n) for s, n in zip(air.run_start[runs], length[runs], strict=True)]
        cells = np.sort(np.concatenate([*parts, air.single_cell[singles], air.rest_cell[rest]]))
        assert (cells == np.arange(air.cell_chunk[chunk], air.cell_chunk[chunk + 1])).all()


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
        assert number % threads == 0 and 1_000_000 * 8 * 2 * 4 / number <= 320 * 1024


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


@pytest.mark.parametrize("lanes, size", [(1, 8), (1, 4), (3, 8), (8, 8), (8, 4)])
def test_parts_are_whole_vectors_of_like_weights(lanes: int, size: int) -> None:
    """Three rows of a table whose weights change at cells 3, 4, 17 and 40; the third is as the first."""
    along = np.zeros((5, 70))
    along[2] = np.searchsorted([3, 4, 17, 40], np.arange(70), side="right")
    begin, length = np.array([0, 5, 0, 30]), np.array([50, 30, 50, 4])
    bounds, parts = row_parts(along, begin, length, lanes, size)
    assert (bounds[0] == bounds[2]).all() and (bounds[:2, 1] > bounds[:2, 0]).all()
    assert (parts[:, 1] >= 0).any() and ((parts[:, 1] < 0).any() or lanes % size == 0)
    for row, (first, last) in enumerate(bounds):
        numbers = np.repeat(along[2, begin[row] : begin[row] + length[row]], lanes)
        whole = size if len(numbers) >= size else size // 2
        ends = parts[first:last, 0]
        starts = np.concatenate([[0], ends])[: last - first]
        assert ((ends - starts) > 0).all() and ((ends - starts) % whole == 0).all()
        assert len(numbers) - whole < np.append(ends, 0).max() <= len(numbers)
        for start, (end, column) in zip(starts, parts[first:last], strict=True):
            if column >= 0:
                assert len(set(numbers[start:end])) == 1
                assert numbers[start] == along[2, begin[row] + column // repeated(lanes)]


def test_lanes_with_code_of_their_own_are_whole_vectors() -> None:
    assert all(lanes == 1 or lanes % vector_size(real) == 0 for lanes in LANES for real in (np.float32, np.float64))


def test_cells_side_by_side() -> None:
    assert side_by_side(np.array([4, 5, 6, 9, 2, 3, 7])).tolist() == [3, 2, 1, 1, 2, 1, 1]
    assert side_by_side(np.zeros(0, dtype=np.int64)).tolist() == []
