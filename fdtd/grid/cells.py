"""The cell graph of a room: cells with volumes, links with areas and lengths, wall faces with areas and surfaces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from fdtd.errors import GeometryError
from fdtd.grid.axes import Axis, make_axes
from fdtd.grid.extrude import Extrusion, FineFaces, FineRoom
from fdtd.grid.plan import cut_plan
from fdtd.grid.polygons import Polygon
from fdtd.grid.shape import AXIS_NAMES, TOLERANCE, RoomShape

REGULAR = 1e-9
"""A cell is regular if its volume is that of its box to this share."""


@dataclass(frozen=True)
class Links:
    """cells : (link, 2), the second one further along `axis`; area : m², length : m between the cells' centres.

    sheet : number of the sheet in the way, or -1; whole : the link's face is the whole side of a regular cell
    """

    cells: NDArray[np.int64]
    axis: NDArray[np.int64]
    area: NDArray[np.float64]
    length: NDArray[np.float64]
    sheet: NDArray[np.int64]
    whole: NDArray[np.bool_]


@dataclass(frozen=True)
class Faces:
    """Wall faces: cell : (face,), surface : (face,) number in `Cells.surfaces`, area : m², depth : m from the cell's
    middle to the wall; outline : in surface coordinates, one polygon a face; axis : normal axis, or -1 if slanted.
    sheet : number of the sheet the face belongs to, or -1."""

    cell: NDArray[np.int64]
    surface: NDArray[np.int64]
    area: NDArray[np.float64]
    depth: NDArray[np.float64]
    outline: list[Polygon]
    axis: NDArray[np.int64]
    sheet: NDArray[np.int64]


@dataclass(frozen=True)
class Cells:
    """edges : cell edges along x, y, z, m; index : (cell, 3); volume : (cell,) m³, true air volume;
    centroid : (cell, 3) m; regular : (cell,) whole boxes of air, alone at their index."""

    edges: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
    index: NDArray[np.int64]
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

    def lookup(self) -> NDArray[np.int64]:
        """(nx, ny, nz) cell at each grid position; -1 where there is no air, -2 where several share one."""
        table = np.full([len(e) - 1 for e in self.edges], -1, dtype=np.int64)
        table[tuple(self.index.T)] = np.arange(len(self.index))
        flat = np.ravel_multi_index(tuple(self.index.T), table.shape)
        values, counts = np.unique(flat, return_counts=True)
        table.ravel()[values[counts > 1]] = -2
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
    owner = np.column_stack([axis.owner[room.index[:, a]] for a, axis in enumerate(axes)])
    first = np.array([link[0] for link in room.links], dtype=np.int64)
    second = np.array([link[1] for link in room.links], dtype=np.int64)
    sheet = np.array([link[4] for link in room.links], dtype=np.int64)
    inside = (owner[first] == owner[second]).all(axis=1) & (sheet < 0)
    count = len(room.volume)
    graph = coo_array((np.ones(inside.sum()), (first[inside], second[inside])), shape=(count, count))
    _, group = connected_components(graph, directed=False)
    leader = np.unique(group, return_index=True)[1]
    order = np.lexsort((owner[leader, 0], owner[leader, 1], owner[leader, 2]))
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    cell = rank[group]
    number = len(order)
    volume: NDArray[np.float64] = np.asarray(np.bincount(cell, room.volume, number), dtype=float)
    moment = np.column_stack([np.bincount(cell, room.volume * room.centroid[:, a], number) for a in range(3)])
    centroid: NDArray[np.float64] = np.asarray(moment / volume[:, None], dtype=float)
    index = owner[leader][order]
    edges = (axes[0].edges, axes[1].edges, axes[2].edges)
    box = np.prod([np.diff(e)[index[:, a]] for a, e in enumerate(edges)], axis=0)
    _, place, shared = np.unique(index, axis=0, return_inverse=True, return_counts=True)
    regular = (np.abs(volume - box) <= REGULAR * box) & (shared[place.ravel()] == 1)
    links = _gather_links(room, cell, index, edges, centroid, regular)
    faces, surfaces = _gather_faces(room, cell, index, edges, centroid, regular)
    return Cells(edges, index, volume, centroid, regular, links, faces, surfaces)


def _gather_links(
    room: FineRoom, cell: NDArray, index: NDArray, edges: tuple, centroid: NDArray, regular: NDArray
) -> Links:
    rows = np.array([(cell[a], cell[b], axis, sheet) for a, b, axis, _, sheet, _ in room.links], dtype=np.int64)
    area = np.array([link[3] for link in room.links])
    between = (rows[:, 0] != rows[:, 1]) if len(rows) else np.zeros(0, dtype=bool)
    rows, where = np.unique(rows[between].reshape(-1, 4), axis=0, return_inverse=True)
    total: NDArray[np.float64] = np.asarray(np.bincount(where.ravel(), area[between], len(rows)), dtype=float)
    pair, axis, sheet = rows[:, :2], rows[:, 2], rows[:, 3]
    centre = np.column_stack([(0.5 * (e[1:] + e[:-1]))[index[:, a]] for a, e in enumerate(edges)])
    size = np.column_stack([np.diff(e)[index[:, a]] for a, e in enumerate(edges)])
    length = centre[pair[:, 1], axis] - centre[pair[:, 0], axis]
    inside = length < TOLERANCE
    apart = np.abs(centroid[pair[:, 1], axis] - centroid[pair[:, 0], axis])
    length[inside] = np.maximum(apart, 0.3 * size[pair[:, 0], axis])[inside]
    side = np.prod(size, axis=1)[pair[:, 0]] / size[pair[:, 0], axis]
    whole = (np.abs(total - side) <= REGULAR * side) & regular[pair].all(axis=1) & ~inside
    return Links(pair, axis, total, length, sheet, whole)


def _gather_faces(
    room: FineRoom, cell: NDArray, index: NDArray, edges: tuple, centroid: NDArray, regular: NDArray
) -> tuple[Faces, tuple[str, ...]]:
    fine = room.faces
    sheets = _sheet_faces(room, fine)
    owner = cell[np.array(fine.cell, dtype=np.int64)]
    point, normal = np.array(fine.point).reshape(-1, 3), np.array(fine.normal).reshape(-1, 3)
    centre = np.column_stack([(0.5 * (e[1:] + e[:-1]))[index[:, a]] for a, e in enumerate(edges)])
    size = np.column_stack([np.diff(e)[index[:, a]] for a, e in enumerate(edges)])
    straight = np.abs(normal).max(axis=1) > 1.0 - 1e-12
    axis = np.where(straight, np.argmax(np.abs(normal), axis=1), -1)
    middle = np.where(regular[owner, None], centre[owner], centroid[owner])
    depth = np.abs(((middle - point) * normal).sum(axis=1))
    depth = np.maximum(depth, 0.1 * size[owner].min(axis=1))
    surfaces = tuple(dict.fromkeys(fine.surface))
    number = {name: k for k, name in enumerate(surfaces)}
    surface = np.array([number[name] for name in fine.surface], dtype=np.int64)
    return Faces(owner, surface, np.array(fine.area), depth, fine.outline, axis, sheets), surfaces


def _sheet_faces(room: FineRoom, fine: FineFaces) -> NDArray[np.int64]:
    """Add both faces of every sheet to `fine`; returns the sheet number of each face (-1: not of a sheet)."""
    sheets = [-1] * len(fine.cell)
    for first, second, axis, area, sheet, outline in room.links:
        if sheet < 0:
            continue
        middle = outline.mean(axis=0)
        for cell, sign in ((first, -1), (second, 1)):
            normal = np.zeros(3)
            normal[axis] = sign
            point = np.insert(middle, axis, room.sheets[sheet].position)
            name = f"sheet {room.sheets[sheet].name} {'+' if sign > 0 else '-'}{AXIS_NAMES[axis]}"
            fine.add(cell, name, area, point, normal, outline)
            sheets.append(sheet)
    return np.array(sheets, dtype=np.int64)
