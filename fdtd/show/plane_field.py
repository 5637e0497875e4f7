"""The field of a plane at every point of a picture: smooth in the air, the cells' own values at their middles.

Along a row of cells that see each other a cubic spline runs through their middles, mirrored at both ends: a wall, a
block or a partition moves so little that the pressure meets it level. Nothing is mixed across one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import make_interp_spline
from scipy.ndimage import distance_transform_edt

from fdtd.results.result import CellGrid
from fdtd.scene.schema import Rectangle, Scene, ThinPartition, Variant
from fdtd.show.geometry import View, thin_partition_span
from fdtd.show.things import room_path

Real = NDArray[np.float64]
Mask = NDArray[np.bool_]
Edges = tuple[Real, Real]

SAMPLES = 9
"""Points between the middles of two cells at which a thin wall is looked for."""
MIRRORED = 3
"""Cells that are mirrored at the end of a row."""


@dataclass(frozen=True, eq=False)
class Air:
    """The cells of a plane. edges : m along its two axes; there : (n, m) where there is air
    open : (n - 1, m) and (n, m - 1), whether nothing stands between two neighbours"""

    edges: Edges
    there: Mask
    open: tuple[Mask, Mask]


def plane_air(edges: Edges, there: Mask, scene: Scene, variant: Variant, view: View) -> Air:
    """The air of a plane through `variant`; there : (n, m) which cells are air."""
    first = _open(edges, there, scene, variant, view)
    turned = _open((edges[1], edges[0]), there.T, scene, variant, view, swapped=True)
    return Air(edges, there, (first, turned.T))


def _open(edges: Edges, there: Mask, scene: Scene, variant: Variant, view: View, swapped: bool = False) -> Mask:
    """(n - 1, m) whether cells that follow each other along the first of `edges` are air and see each other."""
    along, across = view.axes[::-1] if swapped else view.axes
    (u, v), result = (_middle(e) for e in edges), there[1:] & there[:-1]
    share = np.linspace(0.0, 1.0, SAMPLES)
    shape = (SAMPLES, len(u) - 1, len(v))
    x = np.broadcast_to((u[:-1] + share[:, None] * np.diff(u))[:, :, None], shape)
    y = np.broadcast_to(v, shape)
    points = np.column_stack([(y if swapped else x).ravel(), (x if swapped else y).ravel()])
    free = (room_path(scene, view).contains_points(points) & ~in_blocks(variant, view, points)).reshape(shape)
    # A wall is what parts two points in the air. The middle of a cell that a slanted wall cuts may lie in the wall.
    result &= free.all(axis=0) | ~free[0] | ~free[-1]
    for thin_partition in variant.thin_partitions:
        if thin_partition.axis == along:
            step = int(np.searchsorted(u, thin_partition.position)) - 1
            if 0 <= step < len(u) - 1:
                result[step] &= ~_covered(thin_partition, {across: v, view.normal: np.full(len(v), view.position)})
    return np.asarray(result)


def in_blocks(variant: Variant, view: View, points: Real) -> Mask:
    """(point,) whether points (point, 2) of the plane lie inside a block."""
    inside = np.zeros(len(points), dtype=bool)
    for block in variant.blocks:
        if view.cuts(block.lower[view.normal], block.upper[view.normal]):
            low, high = ([corner[k] for k in view.axes] for corner in (block.lower, block.upper))
            inside |= ((points > low) & (points < high)).all(axis=1)
    return inside


def _covered(thin_partition: ThinPartition, at: dict[int, Real]) -> Mask:
    """Whether a sheet is at places in its plane, given by their coordinates along its two axes."""

    def within(part: Rectangle) -> Mask:
        spans = {axis: thin_partition_span(thin_partition, part, axis) for axis in at}
        return np.all([(low <= at[axis]) & (at[axis] <= high) for axis, (low, high) in spans.items()], axis=0)

    there = within(thin_partition.rectangle)
    for hole in thin_partition.openings:
        there &= ~within(hole)
    return there


def plane_values(cells: CellGrid, values: ArrayLike, scene: Scene, variant: Variant, view: View) -> NDArray[Any]:
    """(n, m) complex values (cell,) in the cells of the plane, NaN without air: on the line between the middles of the
    two layers beside it, if nothing stands between them."""
    axis, at = view.normal, view.position
    middle, here = _middle(cells.edges[axis]), layer_at(cells, axis, at)
    own = cell_slice(cells, values, axis, at)
    other = here + (1 if at >= middle[here] else -1)
    if not 0 <= other < len(middle):
        return own
    beyond = cell_slice(cells, values, axis, float(middle[other]))
    u, v = np.meshgrid(*(_middle(cells.edges[k]) for k in view.axes), indexing="ij")
    free = np.isfinite(beyond)
    ends = sorted((middle[here], middle[other]))
    places = np.column_stack([u.ravel(), v.ravel()])
    for position in np.linspace(ends[0], ends[1], SAMPLES):
        free &= ~in_blocks(variant, View(axis, float(position)), places).reshape(u.shape)
    for thin_partition in variant.thin_partitions:
        if thin_partition.axis == axis and ends[0] < thin_partition.position < ends[1]:
            free &= ~_covered(thin_partition, dict(zip(view.axes, (u, v), strict=True)))
    part = (at - middle[here]) / (middle[other] - middle[here])
    return np.where(free, own + part * (np.where(free, beyond, 0.0) - own), own)


class Picture:
    """The values of a plane's cells at the points u x v of a picture, rising, m.

    Where there is no air the nearest point with air counts: cells that a slanted wall cuts may lack a rest of it.
    """

    def __init__(self, air: Air, u: Real, v: Real) -> None:
        self.size = len(u), len(v)
        cell = [
            np.clip(np.searchsorted(e, at, side="right") - 1, 0, len(e) - 2)
            for e, at in zip(air.edges, (u, v), strict=True)
        ]
        first = _rows(air.edges[0], air.there, air.open[0], u, cell[0])
        self._along = [(row, points, _together(lines), weights) for row, points, lines, weights in first]
        second = _rows(air.edges[1], air.there.T, air.open[1].T, v, cell[1])
        self._across = [
            (row, points, _together(np.flatnonzero(np.isin(cell[0], lines))), weights)
            for row, points, lines, weights in second
        ]
        empty = ~air.there[np.ix_(*cell)]
        self._empty = np.nonzero(empty)
        nearest = distance_transform_edt(empty, return_distances=False, return_indices=True)
        self._nearest = tuple(one[self._empty] for one in nearest)

    def __call__(self, values: NDArray[Any]) -> NDArray[Any]:
        """(point, point) of `values` (n, m), real or complex; NaN if there is no air at all."""
        half = np.full((self.size[0], values.shape[1]), np.nan, values.dtype)
        for row, points, lines, weights in self._along:
            half[points, lines] = weights.astype(values.real.dtype) @ values[row, lines]
        whole = np.full(self.size, np.nan, values.dtype)
        for row, points, lines, weights in self._across:
            whole[lines, points] = half[lines, row] @ weights.T.astype(values.real.dtype)
        whole[self._empty] = whole[self._nearest]
        return whole


def _rows(
    edges: Real, there: Mask, joined: Mask, at: Real, cell: NDArray[np.int64]
) -> Iterator[tuple[slice, slice, NDArray[np.int64], Real]]:
    """Cells that see each other along the first axis: which, the points in them, the lines they are on, the weights."""
    found: dict[tuple[int, int], list[int]] = {}
    for line in range(there.shape[1]):
        cuts = np.flatnonzero(~joined[:, line]) + 1
        for row in np.split(np.arange(len(there)), cuts):
            if there[row[0], line]:
                found.setdefault((int(row[0]), int(row[-1]) + 1), []).append(line)
    for (start, end), lines in found.items():
        points = slice(int(np.searchsorted(cell, start)), int(np.searchsorted(cell, end)))
        yield slice(start, end), points, np.array(lines), _weights(edges[start : end + 1], at[points])


def _together(lines: NDArray[np.int64]) -> Any:
    """Numbers of lines that follow each other as a slice, which is quicker."""
    one_run = len(lines) > 0 and lines[-1] - lines[0] == len(lines) - 1
    return slice(int(lines[0]), int(lines[-1]) + 1) if one_run else lines


def _weights(edges: Real, at: Real) -> Real:
    """(point, cell) weights of the cells between `edges` at the points `at`."""
    middle, unit = _middle(edges), np.eye(len(edges) - 1)
    if len(middle) == 1:
        return np.ones((len(at), 1))
    low = 2.0 * edges[0] - middle[:MIRRORED][::-1]
    high = 2.0 * edges[-1] - middle[-MIRRORED:][::-1]
    knots = np.concatenate([low, middle, high])
    data = np.vstack([unit[:MIRRORED][::-1], unit, unit[-MIRRORED:][::-1]])
    return np.asarray(make_interp_spline(knots, data, k=3)(at))


def _middle(edges: Real) -> Real:
    return np.asarray(0.5 * (edges[1:] + edges[:-1]))


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
