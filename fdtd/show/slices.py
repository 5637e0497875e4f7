"""Values of cells as pictures: a plane of the structured grid, and two different grids on a common raster."""

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
    (n, m) complex array over the two remaining axes in x, y, z order, NaN where there is no air. Cells that share a
    place on the grid are averaged by volume.
    """
    data = np.asarray(values, dtype=complex)
    rest = [k for k in range(3) if k != axis]
    shape = tuple(len(cells.edges[k]) - 1 for k in rest)
    inside = cells.index[:, axis] == layer_at(cells, axis, position)
    place = np.ravel_multi_index(tuple(cells.index[inside][:, k] for k in rest), shape)
    weight, selected = cells.volume[inside], data[inside]
    total = np.bincount(place, weight, minlength=shape[0] * shape[1])
    real = np.bincount(place, weight * selected.real, minlength=total.size)
    imaginary = np.bincount(place, weight * selected.imag, minlength=total.size)
    result = np.full(total.size, np.nan + 1j * np.nan)
    air = total > 0.0
    result[air] = (real[air] + 1j * imaginary[air]) / total[air]
    return result.reshape(shape)


def on_raster(
    edges: tuple[NDArray[np.float64], NDArray[np.float64]],
    values: NDArray[np.generic],
    raster: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> NDArray[np.generic]:
    """`values` (n, m) on the grid `edges`, read at the midpoints of the pixels of `raster` (also edges)."""
    picks = []
    for own, wanted in zip(edges, raster, strict=True):
        middle = 0.5 * (wanted[1:] + wanted[:-1])
        picks.append(np.clip(np.searchsorted(own, middle, side="right") - 1, 0, len(own) - 2))
    return values[np.ix_(*picks)]


def common_raster(grids: list[CellGrid], axis: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Edges of a raster over the two axes other than `axis` that holds the edges of all `grids`."""
    first, second = (k for k in range(3) if k != axis)
    return _merged([g.edges[first] for g in grids]), _merged([g.edges[second] for g in grids])


def _merged(edges: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    merged = np.unique(np.concatenate(edges))
    # Edges that differ by rounding only are one edge.
    return merged[np.concatenate([[True], np.diff(merged) > 1e-9])]
