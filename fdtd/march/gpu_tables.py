"""A problem and its lanes as the flat tables that a graphics card marches (see `fdtd.kernels.gpu_tables`)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from fdtd.kernels.gpu_tables import (
    LONGEST_PIECE,
    PAD,
    SLACK,
    Air,
    Layout,
    Numbers,
    Ports,
    Readers,
    Sizes,
    Special,
    Walls,
)
from fdtd.kernels.tables import FaceTables, LinkTables, MapTables, PointTables, PortTables
from fdtd.march.gpu_air import Pieces, crowded, piece_words, pieces_of, update_matrix
from fdtd.model.problem import Problem

SEAT_PART = 8
"""Cells of a seat that one thread adds up."""
WALL_COST = 1.0
"""Work of a simple wall over that of a plain cell, to share it out evenly."""


class CardTables(NamedTuple):
    """What the march knows about some lanes, as the processor has it too (with one chunk)."""

    faces: FaceTables
    ports: PortTables
    links: LinkTables
    points: PointTables
    maps: MapTables


def lane_width(lanes: int) -> tuple[int, int, int]:
    """(lanes rounded up, lanes of a cell that neighbouring threads take, log2 of a width below 16)."""
    if lanes <= 8:
        shift = max(lanes - 1, 0).bit_length()
        return 1 << shift, 1 << shift, shift
    group = next((g for g in (16, 32) if lanes <= g), 64)
    return -(-lanes // group) * group, group, 4


def layout(problem: Problem, tables: CardTables, lanes: int, real: Any, longest: int = LONGEST_PIECE) -> Layout:
    """The flat tables; real : np.float32 or np.float64; longest : cells of a piece, with many lanes."""
    update = update_matrix(problem)
    longest = longest if lane_width(lanes)[0] > 8 else LONGEST_PIECE
    faces, links = tables.faces, tables.links
    simple = simple_walls(faces)
    kinds = (crowded(update), faces.cell[~simple], links.first, links.second)
    special = np.unique(np.concatenate([np.asarray(k, dtype=np.int64) for k in kinds]))
    pieces = pieces_of(problem, update, special, longest)
    volume, dt = problem.operator.volume, problem.time_step
    return layout_of(pieces, special, lambda cells: update[cells], volume, dt, tables, lanes, real)


def simple_walls(faces: FaceTables) -> NDArray[np.bool_]:
    """Which boundary cells have one face of one branch and belong to no port."""
    count = np.diff(faces.pointer)
    branches = np.diff(faces.first)[faces.kind] if len(faces.kind) else np.zeros(0, np.int64)
    several = np.concatenate([[0], np.cumsum(branches > 1)])
    simple = (count == 1) & (np.diff(several[faces.pointer]) == 0)
    simple[faces.free :] = False
    return simple


def layout_of(
    pieces: Pieces, special: NDArray[np.int64], rows: Callable[[NDArray], csr_array], volume: NDArray, dt: float,
    tables: CardTables, lanes: int, real: Any,
) -> Layout:  # fmt: skip
    """The flat tables of cells that are in pieces already; special : the cells that are in none; rows : their rows of
    the update matrix."""
    width, group, shift = lane_width(lanes)
    faces, cells = tables.faces, len(volume)
    port_cells = np.asarray(faces.cell[faces.free :], dtype=np.int64)
    inside = np.isin(faces.cell, special, invert=True)
    inside[faces.free :] = False
    simple = np.flatnonzero(inside)
    simple = simple[np.argsort(pieces.rank[faces.cell[simple]], kind="stable")]
    other = np.setdiff1d(np.arange(faces.free), simple)
    wall_order = np.concatenate([simple, other, np.arange(faces.free, len(faces.cell))]).astype(np.int64)
    walls, face_states = _walls(faces, wall_order, len(simple), width, lanes)
    ports, port_states, port_order, members = _ports(tables, width, lanes)
    order = np.concatenate([np.setdiff1d(special, port_cells), port_cells[port_order]])
    wall_row = np.full(cells, -1, dtype=np.int64)
    wall_row[faces.cell[wall_order]] = np.arange(len(wall_order))
    rare, half_links = _special(order, rows(order), wall_row, tables, members, width)
    free = len(order) - len(port_cells)
    ports = ports._replace(
        group=ports.group + np.tile([0, free], len(ports.group) // 2), share_cell=ports.share_cell + free
    )
    readers = _readers(tables.points, tables.maps)
    words = piece_words(pieces, faces.cell[simple])
    along = np.pad(pieces.along, ((0, 0), (0, SLACK)))
    air = Air(words, (pieces.offset * width).reshape(-1), pieces.weight.reshape(-1), along.reshape(-1))
    most, number = tables.ports.control.matrix.shape[1], len(tables.ports.pointer) - 1
    numbers = Numbers(
        real(dt), real(0.5 * dt), real(0.0), real(1.0), cells=cells + 2 * PAD, width=width, group=group, shift=shift,
        every=tables.points.every, stride=tables.maps.stride, samples=len(tables.maps.cosine),
        frequencies=tables.maps.cosine.shape[1], parts=len(readers.part) - 1, pieces=len(pieces.start),
        sources=len(tables.points.source_cell), free_cells=free, port_cells=len(port_cells), ports=number,
        port_groups=len(ports.group) // 2 - 1, most=most,
    )  # fmt: skip
    sizes = Sizes(
        cells + 2 * PAD, face_states, len(faces.cell), half_links, port_states, number, number * most,
        len(port_cells) + number * (2 + most),
    )  # fmt: skip
    cost = pieces.length + 1.0 + WALL_COST * np.bitwise_count(words.reshape(-1, 7)[:, 4:6].view(np.uint32)).sum(axis=1)
    parts = (_cast(x, real) for x in (air, walls, rare, ports, readers))
    return Layout(*parts, numbers, sizes, np.pad(volume, PAD).astype(real), cost, lanes)  # type: ignore[call-arg]


def _cast(tables: Any, real: Any) -> Any:
    """Real arrays in `real`, integers in 32 bit; an empty array gets one element, which nothing reads."""
    arrays = []
    for x in tables:
        x = np.asarray(x)
        kind = real if x.dtype.kind == "f" else np.int32
        arrays.append(np.ascontiguousarray(x if len(x) else np.zeros(1), dtype=kind))
    return type(tables)(*arrays)


def _lanes(*values: NDArray, width: int, lanes: int) -> NDArray:
    """(row, lane) arrays side by side as (row * arrays * width,), silent in the lanes that only fill up."""
    stacked = np.zeros((len(values[0]), len(values), width))
    stacked[:, :, :lanes] = np.stack(values, axis=1)
    return stacked.reshape(-1)


def _walls(faces: FaceTables, order: NDArray, simple: int, width: int, lanes: int) -> tuple[Walls, int]:
    """The boundary cells in `order`, the first `simple` of them simple; faces and states renumbered to follow."""
    count = np.diff(faces.pointer)[order]
    total = int(count.sum())
    first_face = np.cumsum(count) - count
    face = np.repeat(np.asarray(faces.pointer)[order] - first_face, count) + np.arange(total)
    kind = np.asarray(faces.kind)[face]
    branches = np.diff(faces.first)[kind] if total else np.zeros(0, np.int64)
    state = np.cumsum(branches) - branches
    row = np.full((len(order), 4), -1, dtype=np.int64)
    some = count > 0
    row[:, 1] = 0
    row[some, 1] = state[first_face[some]]
    row[:, 2], row[:, 3] = first_face, count
    strength = np.zeros(len(order))
    alone = first_face[:simple]
    row[:simple, 0], strength[:simple] = np.asarray(faces.first)[kind[alone]], np.asarray(faces.strength)[face[alone]]
    walls = Walls(
        row.reshape(-1), strength, kind, np.asarray(faces.strength)[face], faces.first,
        _lanes(faces.coupling, faces.damping, faces.mass, width=width, lanes=lanes),
        _lanes(faces.a, faces.b, faces.g, width=width, lanes=lanes),
    )  # fmt: skip
    return walls, int(branches.sum())


def _special(
    cells: NDArray, rows: csr_array, wall_row: NDArray, tables: CardTables, members: tuple, width: int
) -> tuple[Special, int]:
    """Rows of the special `cells`, those under ports last; members : (cell counted from the first of those, port,
    strength). Each loose link stands once for each side; seen from the other its velocity only changes sign."""
    links, points, count = tables.links, tables.points, len(cells)
    position = np.full(len(wall_row), -1, dtype=np.int64)
    position[cells] = np.arange(count)
    own_cell = csr_array((np.full(count, 2.0), (np.arange(count), cells)), shape=rows.shape)
    near = csr_array(own_cell - rows)
    own = np.repeat(cells, np.diff(near.indptr))
    first, second = np.asarray(links.first, dtype=np.int64), np.asarray(links.second, dtype=np.int64)
    side, other = np.concatenate([first, second]), np.concatenate([second, first])
    values = [np.tile(np.asarray(x), 2) for x in (links.keep, links.push, links.pull)]
    values.append(np.concatenate([links.into_first, links.into_second]))
    link, first_link = _by_cell(position[side], count)
    lane = np.repeat(np.arange(len(points.source_pointer) - 1), np.diff(points.source_pointer))
    under, port, strength = members
    member, first_member = _by_cell(under + count - (under.max() + 1 if len(under) else 0), count)
    table = np.zeros((count + 1, 6), dtype=np.int64)
    table[:-1, 0], table[:, 1], table[:-1, 2] = cells + PAD, near.indptr, wall_row[cells]
    table[:, 3], table[:, 5] = first_link, first_member
    return Special(
        table.reshape(-1), (near.indices.astype(np.int64) - own) * width, near.data,
        (other - side)[link] * width, np.stack(values, axis=1)[link].reshape(-1),
        (np.asarray(points.source_cell) + PAD) * width + lane, points.source_weight, port[member], strength[member],
    ), len(side)  # fmt: skip


def _by_cell(position: NDArray, count: int) -> tuple[NDArray, NDArray]:
    """Order of a list by its special cells, and where the part of each begins, (count + 1,)."""
    order = np.argsort(position, kind="stable")
    return order, np.searchsorted(position[order], np.arange(count + 1))


def _ports(tables: CardTables, width: int, lanes: int) -> tuple[Ports, int, NDArray, tuple]:
    """Ports by groups that share no cell; their branch states; the order of the cells under them; memberships."""
    faces, ports = tables.faces, tables.ports
    number, under = len(ports.pointer) - 1, len(faces.cell) - faces.free
    member_port = np.repeat(np.arange(number), np.diff(ports.pointer))
    member_cell = np.asarray(ports.boundary, dtype=np.int64) - faces.free
    joined = csr_array((np.ones(len(member_port)), (member_port, number + member_cell)), shape=(number + under,) * 2)
    groups, label = connected_components(joined, directed=False)
    port_order, cell_order = (np.argsort(x, kind="stable") for x in (label[:number], label[number:]))
    port_place, cell_place = np.argsort(port_order), np.argsort(cell_order)
    ends = np.arange(groups + 1)
    group = np.column_stack([
        np.searchsorted(label[:number][port_order], ends), np.searchsorted(label[number:][cell_order], ends),
    ])  # fmt: skip
    by_port = np.argsort(port_place[member_port], kind="stable")
    branch = np.concatenate([np.arange(ports.first[k], ports.first[k + 1]) for k in port_order] or [np.zeros(0, int)])
    port = np.zeros((number + 1, 4), dtype=np.int64)
    port[:, 0] = np.searchsorted(port_place[member_port][by_port], np.arange(number + 1))
    port[1:, 1] = np.cumsum(np.diff(ports.first)[:number][port_order])
    port[:-1, 2] = ports.control.size[:number][port_order]
    solve = np.moveaxis(np.asarray(ports.solve), 0, 2)[port_order][:, port_order]
    both, control = {"width": width, "lanes": lanes}, ports.control
    flat = [np.asarray(x)[:number][port_order].reshape(-1, lanes) for x in (control.drive, control.read, control.past)]
    matrix = np.asarray(control.matrix)[:number][port_order].reshape(-1, lanes)
    branches = (np.asarray(x)[branch] for x in (ports.a, ports.b, ports.g))
    classes = (np.asarray(x)[:number][port_order] for x in (ports.coupling, ports.damping, ports.mass))
    done = Ports(
        group.reshape(-1), port.reshape(-1), cell_place[member_cell][by_port], np.asarray(ports.share)[by_port],
        _lanes(*classes, **both), _lanes(*branches, **both), _lanes(solve.reshape(-1, lanes), **both),
        _lanes(matrix, **both), _lanes(*flat, **both),
    )  # fmt: skip
    return done, len(branch), cell_order, (cell_place[member_cell], port_place[member_port], np.asarray(ports.strength))


def _readers(points: PointTables, maps: MapTables) -> Readers:
    """Seats in parts of a few cells; map phases by sample."""
    cuts: Sequence[NDArray] = [
        np.arange(a, b, SEAT_PART) for a, b in zip(points.seat_pointer[:-1], points.seat_pointer[1:], strict=True)
    ]
    part = np.concatenate([*cuts, points.seat_pointer[-1:]]).astype(np.int64)
    first = np.concatenate([[0], np.cumsum([len(c) for c in cuts])])
    return Readers(
        part, np.asarray(points.seat_cell) + PAD, points.seat_weight, first, points.signal,
        np.asarray(maps.cosine).reshape(-1), np.asarray(maps.sine).reshape(-1),
    )  # fmt: skip
