"""Whatever a room is cut into, every cell, wall face and impedance link is advanced exactly once.

Set-up: random rooms of every kind of geometry (tests/random_rooms.py), 0.3 m. Counted from the tables alone.
"""

from __future__ import annotations

import numpy as np
import pytest
from random_rooms import points_in_air, random_room
from rooms import box_plan, make_scene, problem_of

from fdtd.kernels.tables import OWN_CODE, repeated, vector_size
from fdtd.model.excitations import make_excitation
from fdtd.simulation.air_parts import row_parts
from fdtd.simulation.air_tables import air_tables
from fdtd.simulation.link_tables import link_tables
from fdtd.simulation.tiles import LINK_COST, WALL_COST, tile_bounds, tile_count
from fdtd.simulation.wall_tables import wall_tables

SEEDS = (2, 7, 13, 26)


@pytest.mark.parametrize("seed", [*SEEDS, 0])
@pytest.mark.parametrize("tiles", [1, 2, 5])
def test_every_cell_of_air_once_in_its_chunk(seed: int, tiles: int) -> None:
    problem = problem_of(random_room(seed) if seed else make_scene(box_plan(6.0, 4.5), 2.7), 0.3)
    count, air = len(problem.cells.volume), air_tables(problem, 2, tiles, np.float64)
    assert air.cell_tile[0] == 0 and air.cell_tile[-1] == count and (np.diff(air.cell_tile) > 0).all()
    length = np.repeat(air.bundle_length, np.diff(air.bundle_first))
    assert air.bundle_first[0] == 0 and air.bundle_first[-1] == len(air.run_start) >= len(air.bundle_length)
    assert seed or len(air.run_start) > 2 * len(air.bundle_length)  # equal cells: most rows are like others
    for tile in range(tiles):
        bundles, singles, rest = (
            slice(bound[tile], bound[tile + 1]) for bound in (air.bundle_tile, air.single_tile, air.rest_tile)
        )
        runs = slice(air.bundle_first[bundles.start], air.bundle_first[bundles.stop])
        parts = [np.arange(s, s + n) for s, n in zip(air.run_start[runs], length[runs], strict=True)]
        cells = np.sort(np.concatenate([*parts, air.single_cell[singles], air.rest_cell[rest]]))
        assert (cells == np.arange(air.cell_tile[tile], air.cell_tile[tile + 1])).all()


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("tiles", [1, 4])
def test_every_wall_cell_once_in_its_chunk(seed: int, tiles: int) -> None:
    scene = random_room(seed)
    problem = problem_of(scene, 0.3)
    excitation = make_excitation(scene, scene.variants[0], problem, points_in_air(problem, 1, seed)[0])
    faces = wall_tables(problem, [excitation], 200.0, tiles, np.float64).faces
    bounds = tile_bounds(problem, tiles)
    seen = []
    for tile in range(tiles):
        spans = [(faces.tile[tile], faces.tile[tile + 1])]
        for block_tile, first in ((faces.block_tile, faces.block_first), (faces.edge_tile, faces.edge_first)):
            blocks = range(block_tile[tile], block_tile[tile + 1])
            spans += [(first[k], first[k + 1]) for k in blocks]
        rows = np.concatenate([np.arange(a, b) for a, b in spans])
        cells = faces.cell[rows]
        assert ((cells >= bounds[tile]) & (cells < bounds[tile + 1])).all()
        seen.append(rows)
    assert (np.sort(np.concatenate(seen)) == np.arange(faces.free)).all()
    assert len(np.unique(faces.cell)) == len(faces.cell)


@pytest.mark.parametrize("tiles", [1, 2, 5])
def test_every_link_gives_once_to_each_of_its_cells(tiles: int) -> None:
    problem = problem_of(random_room(13), 0.3)
    links, whole = link_tables(problem, 200.0, np.float64, tiles), link_tables(problem, 200.0, np.float64)
    assert len(whole.first) > 20
    bounds, count = tile_bounds(problem, tiles), len(problem.cells.volume)
    tile = np.repeat(np.arange(tiles), np.diff(links.tile))
    assert (np.sort(links.order) == np.arange(len(links.first))).all()
    for cell, into, wanted_cell, wanted in (
        (links.first, links.into_first, whole.first, whole.into_first),
        (links.second, links.into_second, whole.second, whole.into_second),
    ):
        given = into[links.order] != 0.0
        own = cell[links.order][given]
        assert ((own >= bounds[tile[given]]) & (own < bounds[tile[given] + 1])).all()
        total = np.bincount(cell, into, count)
        assert np.allclose(total, np.bincount(wanted_cell, wanted, count), rtol=1e-12, atol=0.0)


def test_chunks_fit_the_cache_and_share_out_evenly() -> None:
    assert tile_count(1000, 1, 4, 1) == 1
    assert tile_count(1000, 1, 4, 3) == 3
    for threads in (1, 2, 3):
        number = tile_count(1_000_000, 8, 4, threads)
        assert number % threads == 0 and 1_000_000 * 8 * 2 * 4 / number <= 320 * 1024


def test_chunks_share_out_the_work_of_walls_and_links() -> None:
    problem = problem_of(random_room(13), 0.3)
    cost = np.ones(len(problem.cells.volume))
    np.add.at(cost, problem.elements.cell, WALL_COST)
    np.add.at(cost, problem.impedance_links.cells.ravel(), LINK_COST)
    _, row = np.unique(problem.cells.index[:, 1:], axis=0, return_inverse=True)
    longest = np.bincount(row.ravel(), cost).max()
    for number in (2, 3, 5):
        shares = np.add.reduceat(cost, tile_bounds(problem, number)[:-1])
        assert np.ptp(shares) <= 2.0 * longest


@pytest.mark.parametrize("excitations, size", [(1, 8), (1, 4), (3, 8), (8, 8), (8, 4)])
def test_parts_are_whole_vectors_of_like_weights(excitations: int, size: int) -> None:
    """Three rows of a table whose weights change at cells 3, 4, 17 and 40; the third is as the first."""
    along = np.zeros((5, 70))
    along[2] = np.searchsorted([3, 4, 17, 40], np.arange(70), side="right")
    begin, length = np.array([0, 5, 0, 30]), np.array([50, 30, 50, 4])
    bounds, parts = row_parts(along, begin, length, excitations, size)
    assert (bounds[0] == bounds[2]).all() and (bounds[:2, 1] > bounds[:2, 0]).all()
    assert (parts[:, 1] >= 0).any() and ((parts[:, 1] < 0).any() or excitations % size == 0)
    for row, (first, last) in enumerate(bounds):
        numbers = np.repeat(along[2, begin[row] : begin[row] + length[row]], excitations)
        whole = size if len(numbers) >= size else size // 2
        ends = parts[first:last, 0]
        starts = np.concatenate([[0], ends])[: last - first]
        assert ((ends - starts) > 0).all() and ((ends - starts) % whole == 0).all()
        assert len(numbers) - whole < np.append(ends, 0).max() <= len(numbers)
        for start, (end, column) in zip(starts, parts[first:last], strict=True):
            if column >= 0:
                assert len(set(numbers[start:end])) == 1
                assert numbers[start] == along[2, begin[row] + column // repeated(excitations)]


def test_excitations_with_code_of_their_own_are_whole_vectors() -> None:
    assert all(
        excitations == 1 or excitations % vector_size(real) == 0
        for excitations in OWN_CODE
        for real in (np.float32, np.float64)
    )
