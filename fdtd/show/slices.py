"""A plane of the structured grid: the layer of cells that holds it, and their values."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.results.result import CellGrid


def layer_at(cells: CellGrid, axis: int, position: float) -> int:
    """Number of the layer of cells along `axis` that holds the plane at `position` (m); the nearest one outside."""
    edges = cells.edges[axis]
    return int(np.clip(np.searchsorted(edges, position, side="right") - 1, 0, len(edges) - 2))


def cell_slice(cells: CellGrid, values: ArrayLike, axis: int, position: float) -> NDArray[np.complex128]:
    """Values in the layer of cells that holds the plane `axis` = `position`.

    Parameters
    ----------
    cells : the cells; values : (cell,) real or complex

    Returns
    -------
    (n, m) complex array over the two remaining axes in x, y, z order, NaN where there is no air. Of cells that share a
    place on the grid the largest counts.
    """
    place, chosen = cells.layer(axis, layer_at(cells, axis, position))
    first, second = (len(cells.edges[k]) - 1 for k in range(3) if k != axis)
    result = np.full(first * second, np.nan + 1j * np.nan)
    result[place] = np.asarray(values, dtype=complex)[chosen]
    return result.reshape(first, second)
