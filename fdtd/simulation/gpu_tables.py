"""A problem and its excitations as the flat tables that a GPU simulations (see `fdtd.kernels.gpu_tables`)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from fdtd.kernels.gpu_tables import (
    EDGE,
    LONGEST_ELEMENT,
    MOST_SIDE_BY_SIDE,
    OTHER,
    PAD,
    SLACK,
    TOGETHER,
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
from fdtd.model.problem import Problem
from fdtd.simulation.gpu_air import Elements, crowded, elements_of, piece_words, update_matrix

SEAT_PART = 8
"""Cells of a seat that one thread adds up."""
EXCITATIONS_TOGETHER = 64
"""Most excitations simulated at a time by a GPU: with more, what a step touches does not stay in its cache."""
FACES = 3
"""Faces that an edge is filled up to."""
WALL_COST = 1.0
"""Work of a simple wall over that of a plain cell, to share it out evenly."""


class GpuTables(NamedTuple):
    """What the simulation knows about some excitations, as the processor has it too (with one tile)."""

    faces: FaceTables
    ports: PortTables
    links: LinkTables
    points: PointTables
    maps: MapTables


def excitation_width(excitations: int) -> int:
    """Excitations rounded up to a number that a GPU simulations; at most `EXCITATIONS_TOGETHER`."""
    assert excitations <= EXCITATIONS_TOGETHER
    if excitations <= MOST_SIDE_BY_SIDE:
        return 1 << max(excitations - 1, 0).bit_length()
    return next(width for width in (16, 32, EXCITATIONS_TOGETHER) if excitations <= width)


def layout(problem: Problem, tables: GpuTables, excitations: int, real: Any, longest: int = LONGEST_ELEMENT) -> Layout:
    """The flat tables; real : np.float32 or np.float64; longest : cells of an element, with many excitations."""
    update = update_matrix(problem)
    longest = longest if excitation_width(excitations) > MOST_SIDE_BY_SIDE else LONGEST_ELEMENT
    faces, links = tables.faces, tables.links
    simple = simple_walls(faces)
    kinds = (crowded(update), faces.cell[~simple], links.first, links.second)
    special = np.unique(np.concatenate([np.asarray(k, dtype=np.int64) for k in kinds]))
    elements = elements_of(problem, update, special, longest)
    volume, dt = problem.operator.volume, problem.time_step
    return layout_of(elements, special, lambda cells: update[cells], volume, dt, tables, excitations, real)


def simple_walls(faces: FaceTables, most: int = 1) -> NDArray[np.bool_]:
    """Which boundary cells have one face, or up to `most`, each of one branch, and belong to no port."""
    count = np.diff(faces.pointer)
    branches = np.diff(faces.first)[faces.kind] if len(faces.kind) else np.zeros(0, np.int64)
    several = np.concatenate([[0], np.cumsum(branches > 1)])
    simple: NDArray[np.bool_] = (count > 0) & (count <= most) & (np.diff(several[faces.pointer]) == 0)
    simple[faces.free :] = False
    return simple


def layout_of(
    elements: Elements,
    special: NDArray[np.int64],
    rows: Callable[[NDArray], csr_array],
    volume: NDArray,
    dt: float,
    tables: GpuTables,
    excitations: int,
    real: Any,
) -> Layout:
    """The flat tables of cells that are in elements already; special : the cells that are in none; rows : their rows of
    the update matrix."""
    width = excitation_width(excitations)
    faces, cells = tables.faces, len(volume)
    port_cells = np.asarray(faces.cell[faces.free :], dtype=np.int64)
    inside = np.isin(faces.cell, special, invert=True)
    inside[faces.free :] = False
    simple = np.flatnonzero(inside)
    simple = simple[np.argsort(elements.rank[faces.cell[simple]], kind="stable")]
    other = np.setdiff1d(np.arange(faces.free), simple)
    wall_order = np.concatenate([simple, other, np.arange(faces.free, len(faces.cell))]).astype(np.int64)
    walls, face_states = _walls(faces, wall_order, len(simple), width, excitations)
    ports, port_states, port_order, members = _ports(tables, width, excitations)
    order = np.concatenate([np.setdiff1d(special, port_cells), port_cells[port_order]])
    wall_row = np.full(cells, -1, dtype=np.int64)
    wall_row[faces.cell[wall_order]] = np.arange(len(wall_order))
    packed, half_links = _special(order, rows(order), wall_row, tables, members, width)
    free = len(order) - len(port_cells)
    ports = ports._replace(
        group=ports.group + np.tile([0, free], len(ports.group) // 2), share_cell=ports.share_cell + free
    )
    readers = _readers(tables.points, tables.maps)
    text = piece_words(elements, faces.cell[simple])
    # A thread that walks along a row reads the five weights of a cell; threads side by side read one of each cell.
    along = np.pad(elements.along, ((0, 0), (0, SLACK)))
    along = along.T if width > MOST_SIDE_BY_SIDE else along
    air = Air(text, (elements.offset * width).reshape(-1), elements.weight.reshape(-1), along.reshape(-1))
    most, number = tables.ports.control.matrix.shape[1], len(tables.ports.pointer) - 1
    numbers = Numbers(
        real(dt),
        real(0.5 * dt),
        real(0.0),
        real(1.0),
        cells=cells + 2 * PAD,
        width=width,
        every=tables.points.every,
        stride=tables.maps.stride,
        samples=len(tables.maps.cosine),
        frequencies=tables.maps.cosine.shape[1],
        parts=len(readers.part) - 1,
        elements=len(elements.start),
        sources=len(tables.points.source_cell),
        free_cells=free,
        port_cells=len(port_cells),
        ports=number,
        port_groups=len(ports.group) // 2 - 1,
        most=most,
    )
    sizes = Sizes(
        cells + 2 * PAD,
        face_states,
        len(faces.cell),
        half_links,
        port_states,
        number,
        number * most,
        len(port_cells) + number * (2 + most),
    )
    cost = _cost(elements.length, text, width)
    parts = (_cast(x, real) for x in (air, walls, packed, ports, readers))
    return Layout(*parts, numbers, sizes, np.pad(volume, PAD).astype(real), cost, excitations)  # type: ignore[call-arg]


def _cost(length: NDArray, text: NDArray, width: int) -> NDArray[np.float64]:
    """Relative work of elements, to share it out evenly."""
    walls = np.bitwise_count(text.reshape(-1, 7)[:, 4:6].view(np.uint32)).sum(axis=1)
    if width > MOST_SIDE_BY_SIDE:
        return length + 1.0 + WALL_COST * walls
    # The threads of a warp take two elements each at a time, whether there are so many or not.
    return np.ceil(length * width / 64) * (1.0 + WALL_COST * (walls > 0))


def _cast(tables: Any, real: Any) -> Any:
    """Real arrays in `real`, integers in 32 bit; an empty array gets one element, which nothing reads."""
    arrays = []
    for x in tables:
        x = np.asarray(x)
        kind = real if x.dtype.kind == "f" else np.int32
        arrays.append(np.ascontiguousarray(x if len(x) else np.zeros(1), dtype=kind))
    return type(tables)(*arrays)


def _excitations(*values: NDArray, width: int, excitations: int) -> NDArray:
    """(row, excitation) arrays side by side as (row * arrays * width,), silent in the excitations that only fill up."""
    stacked = np.zeros((len(values[0]), len(values), width))
    stacked[:, :, :excitations] = np.stack(values, axis=1)
    return stacked.reshape(-1)


def _walls(faces: FaceTables, order: NDArray, simple: int, width: int, excitations: int) -> tuple[Walls, int]:
    """The boundary cells in `order`, the first `simple` of them simple; faces and states renumbered to follow. Those of
    an edge are filled up with faces without strength."""
    count = np.diff(faces.pointer)[order]
    # As many as a cell has, and for those of an edge the first once more.
    edge = simple_walls(faces, FACES)[order]
    edge[:simple] = False
    slots = np.where(edge, FACES, count)
    total, first_face = int(slots.sum()), np.cumsum(slots) - slots
    own = np.arange(total) - np.repeat(first_face, slots)
    extra = own >= np.repeat(count, slots)
    face = np.repeat(np.asarray(faces.pointer)[order], slots) + np.where(extra, 0, own)
    kind, strength = np.asarray(faces.kind)[face], np.where(extra, 0.0, np.asarray(faces.strength)[face])
    branches = np.diff(faces.first)[kind] if total else np.zeros(0, np.int64)
    state = np.cumsum(branches) - branches
    row = np.full((len(order), 4), OTHER, dtype=np.int64)
    row[edge, 0], row[:, 1] = EDGE, 0
    some = slots > 0
    row[some, 1] = state[first_face[some]]
    row[:, 2], row[:, 3] = first_face, slots
    alone, of_simple = first_face[:simple], np.zeros(len(order))
    branch = np.asarray(faces.first)[kind]
    row[:simple, 0], of_simple[:simple] = branch[alone], strength[alone]
    walls = Walls(
        row.reshape(-1),
        of_simple,
        branch,
        kind,
        strength,
        faces.first,
        _excitations(faces.coupling, faces.damping, faces.mass, width=width, excitations=excitations),
        _excitations(faces.a, faces.b, faces.g, width=width, excitations=excitations),
    )
    return walls, int(branches.sum())


def _special(
    cells: NDArray, rows: csr_array, wall_row: NDArray, tables: GpuTables, members: tuple, width: int
) -> tuple[Special, int]:
    """Rows of the special `cells`, those under ports last; members : (cell counted from the first of those, port,
    strength). Each impedance link stands once for each side; seen from the other its velocity only changes sign."""
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
    excitation = np.repeat(np.arange(len(points.source_pointer) - 1), np.diff(points.source_pointer))
    under, port, strength = members
    member, first_member = _by_cell(under + count - (under.max() + 1 if len(under) else 0), count)
    first_near, (near_offset, near_value) = _filled(near.indptr, near.indices.astype(np.int64) - own, near.data)
    first_link, (link_offset, link_value) = _filled(first_link, (other - side)[link], np.stack(values, axis=1)[link])
    table = np.zeros((count + 1, 6), dtype=np.int64)
    table[:-1, 0], table[:, 1], table[:-1, 2] = cells + PAD, first_near, wall_row[cells]
    table[:, 3], table[:, 5] = first_link, first_member
    return Special(
        table.reshape(-1),
        near_offset * width,
        near_value,
        link_offset * width,
        link_value.reshape(-1),
        (np.asarray(points.source_cell) + PAD) * width + excitation,
        points.source_weight,
        port[member],
        strength[member],
    ), len(link_offset)


def _filled(first: NDArray, *columns: NDArray) -> tuple[NDArray[np.int64], list[NDArray]]:
    """A list by cells with each cell's part filled up by zeros to a multiple of `TOGETHER`: where parts begin, list."""
    count = np.diff(first)
    begin = np.concatenate([[0], np.cumsum(-(-count // TOGETHER) * TOGETHER)])
    place = np.repeat(begin[:-1] - first[:-1], count) + np.arange(first[-1])
    filled = [np.zeros((int(begin[-1]), *column.shape[1:]), column.dtype) for column in columns]
    for target, column in zip(filled, columns, strict=True):
        target[place] = column
    return begin, filled


def _by_cell(position: NDArray, count: int) -> tuple[NDArray, NDArray]:
    """Order of a list by its special cells, and where the part of each begins, (count + 1,)."""
    order = np.argsort(position, kind="stable")
    return order, np.searchsorted(position[order], np.arange(count + 1))


def _ports(tables: GpuTables, width: int, excitations: int) -> tuple[Ports, int, NDArray, tuple]:
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
    group = np.column_stack(
        [
            np.searchsorted(label[:number][port_order], ends),
            np.searchsorted(label[number:][cell_order], ends),
        ]
    )
    by_port = np.argsort(port_place[member_port], kind="stable")
    branch = np.concatenate([np.arange(ports.first[k], ports.first[k + 1]) for k in port_order] or [np.zeros(0, int)])
    port = np.zeros((number + 1, 4), dtype=np.int64)
    port[:, 0] = np.searchsorted(port_place[member_port][by_port], np.arange(number + 1))
    port[1:, 1] = np.cumsum(np.diff(ports.first)[:number][port_order])
    port[:-1, 2] = ports.control.size[:number][port_order]
    solve = np.moveaxis(np.asarray(ports.solve), 0, 2)[port_order][:, port_order]
    both, control = {"width": width, "excitations": excitations}, ports.control
    flat = [
        np.asarray(x)[:number][port_order].reshape(-1, excitations) for x in (control.drive, control.read, control.past)
    ]
    matrix = np.asarray(control.matrix)[:number][port_order].reshape(-1, excitations)
    branches = (np.asarray(x)[branch] for x in (ports.a, ports.b, ports.g))
    classes = (np.asarray(x)[:number][port_order] for x in (ports.coupling, ports.damping, ports.mass))
    done = Ports(
        group.reshape(-1),
        port.reshape(-1),
        cell_place[member_cell][by_port],
        np.asarray(ports.share)[by_port],
        _excitations(*classes, **both),
        _excitations(*branches, **both),
        _excitations(solve.reshape(-1, excitations), **both),
        _excitations(matrix, **both),
        _excitations(*flat, **both),
    )
    return done, len(branch), cell_order, (cell_place[member_cell], port_place[member_port], np.asarray(ports.strength))


def _readers(points: PointTables, maps: MapTables) -> Readers:
    """Seats in parts of a few cells; map phases by sample."""
    cuts: Sequence[NDArray] = [
        np.arange(a, b, SEAT_PART) for a, b in zip(points.seat_pointer[:-1], points.seat_pointer[1:], strict=True)
    ]
    part = np.concatenate([*cuts, points.seat_pointer[-1:]]).astype(np.int64)
    first = np.concatenate([[0], np.cumsum([len(c) for c in cuts])])
    return Readers(
        part,
        np.asarray(points.seat_cell) + PAD,
        points.seat_weight,
        first,
        points.signal,
        np.asarray(maps.cosine).reshape(-1),
        np.asarray(maps.sine).reshape(-1),
    )
