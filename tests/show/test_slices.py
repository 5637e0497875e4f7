"""From cells to pictures: which cells a plane cuts, what solid cells show."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.results.result import CellGrid
from fdtd.show.plane_field import cell_slice, layer_at

EDGES = (np.array([0.0, 1.0, 3.0]), np.array([0.0, 1.0, 2.0]), np.array([0.0, 0.5, 1.0, 2.0]))


def grid(index: list[tuple[int, int, int]], volume: list[float] | None = None) -> CellGrid:
    return CellGrid(EDGES, np.array(index, dtype=np.int32), np.array(volume or [1.0] * len(index)))


def test_the_plane_picks_the_layer_that_holds_it() -> None:
    cells = grid([(0, 0, 0)])
    assert [layer_at(cells, 2, z) for z in (-1.0, 0.0, 0.49, 0.5, 1.9, 2.0, 5.0)] == [0, 0, 0, 1, 2, 2, 2]


@pytest.mark.parametrize(("axis", "position"), [(0, 2.0), (1, 1.5), (2, 0.7)])
def test_every_cell_lands_in_its_place(axis: int, position: float) -> None:
    index = [(i, j, k) for i in range(2) for j in range(2) for k in range(3)]
    values = np.array([100 * i + 10 * j + k + 1j * i for i, j, k in index])
    picture = cell_slice(grid(index), values, axis, position)
    whole = values.reshape(2, 2, 3)
    np.testing.assert_array_equal(picture, np.take(whole, 1, axis=axis))


def test_solid_cells_are_nan_and_of_a_shared_place_the_largest_cell_counts() -> None:
    cells = grid([(0, 0, 1), (1, 1, 1), (1, 1, 1), (0, 1, 2)], [1.0, 3.0, 1.0, 1.0])
    picture = cell_slice(cells, [5.0, 4.0, 8.0j, 9.0], 2, 0.7)
    assert picture[0, 0] == 5.0
    assert picture[1, 1] == 4.0  # not a mean: a thin wall parts the two
    assert np.isnan(picture[0, 1]) and np.isnan(picture[1, 0])
