"""The cell graph of a room: cells with volumes, links with areas and lengths, wall faces with areas and surfaces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from fdtd.errors import GeometryError
from fdtd.grid.axes import Axis, make_axes
from fdtd.grid.extrude import Extrusion
from fdtd.grid.fine import FineFaces, FineRoom
from fdtd.grid.plan import cut_plan
from fdtd.grid.polygons import Polygon
from fdtd.grid.shape import AXIS_NAMES, TOLERANCE, RoomShape

REGULAR = 1e-9
"""A cell is regular if its volume is that of its box to this share."""


@dataclass(frozen=True)
class Links:
    """cells : (link, 2), the second one further along `axis`; area : m², length : m between the cells' centres.

    thin partition : number of the thin partition in the way, or -1; whole : the link's face is the whole side of a
    regular cell
    """

    cells: NDArray[np.int32]
    axis: NDArray[np.int8]
    area: NDArray[np.float64]
    length: NDArray[np.float64]
    thin_partition: NDArray[np.int16]
    whole: NDArray[np.bool_]


@dataclass(frozen=True)
class Faces:
    """Wall faces: cell : (face,), surface : (face,) number in `Cells.surfaces`, area : m², depth : m from the cell's
    middle to the wall; outline : in surface coordinates, one polygon a face; axis : normal axis, or -1 if slanted.
    thin partition : number of the thin partition the face belongs to, or -1."""

    cell: NDArray[np.int64]
    surface: NDArray[np.int64]
    area: NDArray[np.float64]
    depth: NDArray[np.float64]
    outline: list[Polygon]
    axis: NDArray[np.int64]
    thin_partition: NDArray[np.int64]


@dataclass(frozen=True)
class Cells:
    """edges : cell edges along x, y, z, m; index : (cell, 3); volume : (cell,) m³, true air volume;
    centroid : (cell, 3) m; regular : (cell,) whole boxes of air, alone at their index."""

    edges: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
    index: NDArray[np.int32]
    volume: NDArray[np.float64]
    centroid: NDArray[np.float64]
    regular: NDArray[np.bool_]
    links: Links
    faces: Faces
    surfaces: tuple[str, ...]

    @property
    def size(self) -> NDArray[np.float64]:
        """(cell, 3) m, edge lengths of each cell's box."""
        return np.column_stack([np.diff(e)[self.index[:, a]] for a, e in enumerate(self.edges)])

    @property
    def centre(self) -> NDArray[np.float64]:
        """(cell, 3) m, middle of each cell's box."""
        return np.column_stack([(0.5 * (e[1:] + e[:-1]))[self.index[:, a]] for a, e in enumerate(self.edges)])

    def lookup(self) -> NDArray[np.int32]:
        """(nx, ny, nz) cell at each grid position; -1 where there is no air, -2 where several share one."""
        table = np.full([len(e) - 1 for e in self.edges], -1, dtype=np.int32)
        table[tuple(self.index.T)] = np.arange(len(self.index))
        shared = self.index[1:][(self.index[1:] == self.index[:-1]).all(axis=1)]  # those of one place follow each other
        table[tuple(shared.T)] = -2
        return table


def build_cells(shape: RoomShape, spacing: float, axes: tuple[Axis, Axis, Axis] | None = None) -> Cells:
    """Cut a room into cells no longer than `spacing` (m).

    `axes` may be given so that several states of a room share their cell edges.
    Raises GeometryError if no air is left.
    """
    axes = axes or make_axes(shape, spacing)
    fine = (axes[0].fine, axes[1].fine, axes[2].fine)
    plan = cut_plan(_snapped(np.asarray(shape.plan, dtype=float), fine), fine[0], fine[1])
    room = Extrusion(shape, plan, fine).build()
    if len(room.volume) == 0:
        raise GeometryError("no air is left in the room: the blocks fill it or the ceiling lies below the floor")
    return _gather(room, axes)


def _snapped(plan: NDArray, fine: tuple[NDArray, ...]) -> NDArray:
    """Corners moved by less than a nanometre onto the grid lines they define."""
    plan = plan.copy()
    for axis in (0, 1):
        nearest = fine[axis][np.argmin(np.abs(plan[:, axis, None] - fine[axis]), axis=1)]
        close = np.abs(nearest - plan[:, axis]) <= 2 * TOLERANCE
        plan[close, axis] = nearest[close]
    return plan


def _gather(room: FineRoom, axes: tuple[Axis, Axis, Axis]) -> Cells:
    """Join the fine cells that belong to one cell (those connected inside one box of the grid)."""
    edges = (axes[0].edges, axes[1].edges, axes[2].edges)
    shape = [len(e) - 1 for e in edges]
    # Position on the grid as one number: x runs fastest, then y.
    place = np.zeros(len(room.volume), dtype=np.int64)
    for a in (2, 1, 0):
        place = place * shape[a] + axes[a].owner[room.index[:, a]]
    leader, group = _groups(room, place)
    order = np.argsort(place[leader], kind="stable")
    cell = np.empty(len(order), dtype=np.int32)
    cell[order] = np.arange(len(order))
    cell = cell if group is None else cell[group]
    place = place[leader][order]
    index = np.column_stack([place // n % m for n, m in zip((1, shape[0], shape[0] * shape[1]), shape, strict=True)])
    index = index.astype(np.int32)
    volume: NDArray[np.float64] = np.asarray(np.bincount(cell, room.volume, len(order)), dtype=float)
    centroid = np.empty((len(order), 3))
    for a in range(3):
        centroid[:, a] = np.bincount(cell, room.volume * room.centroid[:, a], len(order)) / volume
    box = np.prod([np.diff(e)[index[:, a]] for a, e in enumerate(edges)], axis=0)
    alone = np.concatenate([[True], place[1:] != place[:-1], [True]])
    regular = (np.abs(volume - box) <= REGULAR * box) & alone[1:] & alone[:-1]
    links = _gather_links(room, cell, index, edges, centroid, regular)
    faces, surfaces = _gather_faces(room, cell, index, edges, centroid, regular)
    return Cells(edges, index, volume, centroid, regular, links, faces, surfaces)


def _groups(room: FineRoom, place: NDArray) -> tuple[NDArray, NDArray | None]:
    """The first fine cell of each cell, and the number of every fine cell's cell (None: each is one by itself)."""
    links, count = room.links, len(place)
    inside = np.flatnonzero((place[links.first] == place[links.second]) & (links.thin_partition < 0))
    if len(inside) == 0:
        return np.arange(count), None
    ends = (links.first[inside], links.second[inside])
    graph = coo_array((np.ones(len(inside), dtype=np.int8), ends), shape=(count, count))
    group = connected_components(graph, directed=False)[1]
    return np.unique(group, return_index=True)[1], group


def _summed(room: FineRoom, cell: NDArray) -> tuple[NDArray, NDArray, NDArray, NDArray]:
    """Links between cells, the fine ones of a pair, an axis and a thin partition added up: cells, axis, thin partition,
    area."""
    fine, thin_partitions = room.links, len(room.thin_partitions) + 1
    first, second = cell[fine.first], cell[fine.second]
    between = np.flatnonzero(first != second)
    number = np.int64(cell.max() + 1)
    key = ((first[between] * number + second[between]) * 3 + fine.axis[between]) * thin_partitions + (
        fine.thin_partition[between] + 1
    )
    order = np.argsort(key, kind="stable")
    key, area = key[order], fine.area[between]
    new = np.concatenate([[True], key[1:] != key[:-1]]) if len(key) else np.zeros(0, dtype=bool)
    where = np.empty(len(order), dtype=np.int32)
    where[order] = np.cumsum(new) - 1
    total: NDArray[np.float64] = np.asarray(np.bincount(where, area), dtype=float)
    chosen = between[order[new]]
    pair = np.column_stack([first[chosen], second[chosen]])
    return pair, fine.axis[chosen], fine.thin_partition[chosen], total


def _gather_links(
    room: FineRoom, cell: NDArray, index: NDArray, edges: tuple, centroid: NDArray, regular: NDArray
) -> Links:
    pair, axis, thin_partition, total = _summed(room, cell)
    length, side = np.empty(len(axis)), np.empty(len(axis))
    inside = np.zeros(len(axis), dtype=bool)
    for a, e in enumerate(edges):
        mine = np.flatnonzero(axis == a)
        low, high = pair[mine].T
        size = [np.diff(each)[index[low, b]] for b, each in enumerate(edges)]
        centre = 0.5 * (e[1:] + e[:-1])
        apart = centre[index[high, a]] - centre[index[low, a]]
        shared = apart < TOLERANCE
        between = np.abs(centroid[high[shared], a] - centroid[low[shared], a])
        apart[shared] = np.maximum(between, 0.3 * size[a][shared])
        length[mine], inside[mine], side[mine] = apart, shared, np.prod(size, axis=0) / size[a]
    whole = (np.abs(total - side) <= REGULAR * side) & regular[pair].all(axis=1) & ~inside
    return Links(pair, axis, total, length, thin_partition, whole)


def _gather_faces(
    room: FineRoom, cell: NDArray, index: NDArray, edges: tuple, centroid: NDArray, regular: NDArray
) -> tuple[Faces, tuple[str, ...]]:
    fine = room.faces
    thin_partitions = _thin_partition_faces(room, fine)
    owner = cell[np.array(fine.cell, dtype=np.int64)].astype(np.int64)
    point, normal = np.array(fine.point).reshape(-1, 3), np.array(fine.normal).reshape(-1, 3)
    centre = np.column_stack([(0.5 * (e[1:] + e[:-1]))[index[owner, a]] for a, e in enumerate(edges)])
    size = np.column_stack([np.diff(e)[index[owner, a]] for a, e in enumerate(edges)])
    straight = np.abs(normal).max(axis=1) > 1.0 - 1e-12
    axis = np.where(straight, np.argmax(np.abs(normal), axis=1), -1)
    middle = np.where(regular[owner, None], centre, centroid[owner])
    depth = np.abs(((middle - point) * normal).sum(axis=1))
    depth = np.maximum(depth, 0.1 * size.min(axis=1))
    surfaces = tuple(dict.fromkeys(fine.surface))
    number = {name: k for k, name in enumerate(surfaces)}
    surface = np.array([number[name] for name in fine.surface], dtype=np.int64)
    return Faces(owner, surface, np.array(fine.area), depth, fine.outline, axis, thin_partitions), surfaces


def _thin_partition_faces(room: FineRoom, fine: FineFaces) -> NDArray[np.int64]:
    """Add both faces of every thin partition to `fine`; returns the thin partition number of each face (-1: not of a
    thin partition)."""
    thin_partitions = [-1] * len(fine.cell)
    links = room.links
    for number, outline in links.outline.items():
        first, second, axis, thin_partition = (
            int(x[number]) for x in (links.first, links.second, links.axis, links.thin_partition)
        )
        area = links.area[number]
        middle = outline.mean(axis=0)
        for cell, sign in ((first, -1), (second, 1)):
            normal = np.zeros(3)
            normal[axis] = sign
            point = np.insert(middle, axis, room.thin_partitions[thin_partition].position)
            name = (
                f"thin partition {room.thin_partitions[thin_partition].name} "
                f"{'+' if sign > 0 else '-'}{AXIS_NAMES[axis]}"
            )
            fine.add(cell, name, area, point, normal, outline)
            thin_partitions.append(thin_partition)
    return np.array(thin_partitions, dtype=np.int64)
