"""A problem and its excitations as a GPU takes them: cells in a box around the room, and the tables of the CPU in the
names of `kernels/gpu.cu`."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, diags_array

from fdtd.kernels.gpu import MOST_SINGLE, ROOM_NAMES, THREADS, Plan
from fdtd.kernels.tables import FaceTables, LinkTables, MapTables, PointTables, PortTables
from fdtd.model.problem import Problem

EXCITATIONS_TOGETHER = 32
"""Most excitations simulated at a time: with more, what a step touches does not stay in the cache of a GPU."""
NARROW = 3
"""Most excitations of which each has a field of its own; more lie side by side, in fours."""
LONGEST_WIDE, LONGEST_NARROW = 6, 12
"""Cells that a thread walks along; fewer where a room would not keep the GPU busy."""
LARGE = 1 << 20
"""Cells times excitations that fill a GPU; beyond, it works on special cells beside the regular ones, not first."""
BUSY = 1 << 14
"""Threads for which it pays to walk on."""
TOGETHER = 12
"""Weights of a special cell that are read together, or some part of it."""
BRANCH_FIELDS = ("coupling", "damping", "mass", "a", "b", "g")
"""Of faces and of ports, which the kernels have in the same arrays."""
SAME_WEIGHT = 1e-13
"""Weights (of order 1) closer than this are the same but for rounding."""
DIGITS = 12
"""Digits after the point to which weights are rounded to see which special cells are alike."""


class Air(NamedTuple):
    """The update of the air in a box of `shape` cells (x, y, z).

    place : (cell,) in the box, x fastest; weight : for each axis (plane, 4), of p - p[cell] at the neighbours -2, -1, 1
    and 2 of regular cells; special : (special,) the other cells; kind : (special,) into step (kind, entry, 3), ways to
    cells, and value (kind, entry), their weights
    """

    shape: NDArray[np.int64]
    place: NDArray[np.int64]
    weight: list[NDArray[np.float64]]
    special: NDArray[np.int64]
    kind: NDArray[np.int64]
    step: NDArray[np.int64]
    value: NDArray[np.float64]


class GpuTables(NamedTuple):
    """What the simulation knows about some excitations, as the processor has it too (with one tile)."""

    faces: FaceTables
    ports: PortTables
    links: LinkTables
    points: PointTables
    maps: MapTables


def excitation_width(excitations: int) -> int:
    """Excitations with those that fill up to fours."""
    return excitations if excitations <= NARROW else -(-excitations // 4) * 4


def air_of(problem: Problem, faces: FaceTables) -> Air:
    """p+ = 2 p - p- - c² dt² V⁻¹ K p (theory.md, eq. 5), K p as differences of pressures; cells with walls or impedance
    links are special anyhow."""
    index, cells = problem.cells.index.astype(np.int64), len(problem.cells.volume)
    shape = index.max(axis=0) + 1
    layer = np.array([1, shape[0], shape[0] * shape[1]])
    again = np.setdiff1d(np.arange(cells), np.unique(index @ layer, return_index=True)[1])
    if len(again):  # further cells in one box, on either side of a slanted wall, stand above the room
        index[again] = np.column_stack(np.unravel_index(np.arange(len(again)), (*shape[:2], len(again)), order="F"))
        index[again, 2] += shape[2]
        shape = index.max(axis=0) + 1
    scale = (problem.speed_of_sound * problem.time_step) ** 2 / problem.operator.volume
    update = csr_array(diags_array(-scale) @ problem.operator.stiffness)
    update.setdiag(0.0)  # K knows differences only
    update.eliminate_zeros()
    row = np.repeat(np.arange(cells), np.diff(update.indptr))
    step = index[update.indices] - index[row]
    odd = (np.count_nonzero(step, axis=1) > 1) | (np.abs(step).max(axis=1) > 2)
    special = np.zeros(cells, dtype=bool)
    special[row[odd]] = True
    weight = []
    for axis in range(3):
        own, mine = np.zeros((cells, 4)), ~odd & (step[:, axis] != 0)
        own[row[mine], np.array([0, 1, -1, 2, 3])[step[mine, axis] + 2]] = update.data[mine]
        usual = _usual(own, index[:, axis], special, int(shape[axis]))
        special |= np.abs(own - usual[index[:, axis]]).max(axis=1) > SAME_WEIGHT
        weight.append(usual)
    for cell in (faces.cell, problem.impedance_links.cells.ravel()):
        special[cell.astype(np.int64)] = True
    chosen = np.flatnonzero(special)
    return Air(shape, index @ layer, weight, chosen, *_kinds(update[chosen], index, chosen))


def _usual(own: NDArray, plane: NDArray, special: NDArray, planes: int) -> NDArray[np.float64]:
    """(plane, 4) the weights that most regular cells of each plane have: the middle ones."""
    usual = np.zeros((planes, 4))
    regular = np.flatnonzero(~special)
    order = regular[np.argsort(plane[regular], kind="stable")]
    bounds = np.searchsorted(plane[order], np.arange(planes + 1))
    for k in np.flatnonzero(np.diff(bounds)):
        cells = order[bounds[k] : bounds[k + 1]]
        usual[k] = np.sort(own[cells], axis=0)[len(cells) // 2].round(DIGITS + 2)
    return usual


def _kinds(rows: csr_array, index: NDArray, cells: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """(kind of each cell, ways to its neighbours, their weights); rows : of the update, those of `cells`."""
    count = np.diff(rows.indptr)
    own = np.repeat(np.arange(len(cells)), count)
    slot = np.arange(len(own)) - rows.indptr[own]
    most = -(-int(count.max(initial=1)) // TOGETHER) * TOGETHER
    step, value = np.zeros((len(cells), most, 3), dtype=np.int64), np.zeros((len(cells), most))
    step[own, slot], value[own, slot] = index[rows.indices] - index[cells[own]], rows.data
    alike = np.column_stack([step.reshape(len(cells), -1), value.round(DIGITS)])
    _, first, kind = np.unique(alike, axis=0, return_index=True, return_inverse=True)
    return kind.ravel(), step[first], value[first]


def _sorted(air: Air, tables: GpuTables, wide: bool) -> tuple[Air, dict[str, Any]]:
    """Special cells with impedance links first, then those with several faces or branches, then the others: in small
    blocks, which share neighbours, or in rows, as they stand in memory. And what walls each has."""
    links, faces, cells = tables.links, tables.faces, air.special
    count, branches = np.diff(faces.pointer), np.append(np.diff(faces.first)[faces.kind], 1)
    several = np.maximum.reduceat(branches, faces.pointer[:-1]) > 1 if len(count) else np.zeros(0, dtype=bool)
    single = np.where(several | (count > MOST_SINGLE) | (np.arange(len(count)) >= faces.free), 0, count)
    wall = _numbered(faces.cell, len(air.place))[cells]
    number = np.where(wall < 0, 0, np.append(single, 0)[wall])
    linked = np.isin(cells, np.concatenate([links.first, links.second]))
    slow = linked | ((wall >= 0) & (number != 1))
    where = np.unravel_index(air.place[cells], air.shape, order="F")
    blocks = [x // 4 for x in where] if wide else []
    order = np.lexsort((*where, *blocks, ~slow, ~linked))
    wall, number = wall[order], number[order]
    values = {
        "slow": int(slow.sum()) if wide else len(cells),
        "linked": int(linked.sum()),
        "special_wall": wall,
        "special_face": np.append(faces.pointer[:-1], 0)[wall].clip(max=max(len(faces.kind) - 1, 0)),
        "special_faces": number,
        "face_branch": np.asarray(faces.first)[faces.kind],
    }
    return air._replace(special=cells[order], kind=air.kind[order]), values


def plan_of(air: Air, tables: GpuTables, volume: NDArray, dt: float, rate: float, excitations: int, real: Any) -> Plan:
    """All that a GPU is given. volume : (cell,) m³; rate : 1 over radians of the top frequency a step."""
    faces, ports, points = tables.faces, tables.ports, tables.points
    width, wide, large = excitation_width(excitations), excitations > NARROW, len(volume) * excitations > LARGE
    nx, ny, nz = (int(n) for n in air.shape)
    x = nx if wide else -(-nx // 4) * 4
    origin = -(-(3 * x * ny + 2 * x + 2) // 4) * 4
    place = origin + air.place % nx + x * (air.place // nx)
    apart, field = (width, 1) if wide else (1, 2 * origin + x * ny * nz)
    threads, blocks, piece = _shares((x, ny, nz), width)
    air, special = _sorted(air, tables, wide)
    per_block = int(np.prod(threads))
    slow_blocks = -(-special["slow"] * width // per_block)
    special_blocks = slow_blocks + -(-(len(air.special) - special["slow"]) * width // 4 // per_block)
    face_states = int(np.diff(faces.first)[faces.kind].sum())
    driven = np.repeat(np.arange(excitations), np.diff(points.source_pointer))
    values = {
        **_of_cpu(tables, width),
        **_regular(air, place - origin, (x, ny, nz), piece if wide else 0),
        **_links(air.special, tables.links, place),
        **_port_cells(faces, ports, place),
        "weight_x": air.weight[0] if wide else _padded(air.weight[0].T, x),
        "weight_y": air.weight[1],
        "weight_z": air.weight[2],
        **dict(zip(("nx", "ny", "nz"), (x, ny, nz), strict=True)),
        **dict(zip(("blocks_x", "blocks_y", "regular_blocks"), (*blocks[:2], int(np.prod(blocks))), strict=True)),
        **{"dt": dt, "rate": rate, "width": width, "apart": apart, "field": field, "origin": origin, "piece": piece},
        "specials": len(air.special),
        "slow_blocks": slow_blocks,
        "special_blocks": special_blocks,
        "every_block": 1 + int(np.prod(blocks)) // max(special_blocks, 1) if large else 1,
        "special_place": place[air.special],
        "special_kind": air.kind,
        **special,
        "entries": air.value.shape[1],
        "entry_offset": air.step @ np.array([1, x, x * ny]),
        "entry_weight": air.value,
        "sources": len(driven),
        "source_element": place[points.source_cell] * apart + driven * field,
        "seats": len(points.seat_pointer) - 1,
        "seat_place": place[points.seat_cell],
        "port_state": face_states,
        "cells": len(place),
        "place": place,
        "volume": volume,
        "samples": len(tables.maps.cosine),
        "frequencies": tables.maps.cosine.shape[1],
    }
    rows = {
        ("face_v", "face_x"): face_states + len(ports.a),
        ("cell_sum",): len(faces.cell),
        ("link_u", "link_x"): 2 * len(tables.links.first),
        ("port_before", "port_velocity", "port_past"): len(ports.coupling),
        ("control_x", "control_next"): int(np.prod(ports.control.drive.shape[:2])),
        ("map_real", "map_imag"): len(place) * tables.maps.cosine.shape[1],
    }
    states = {name: count * width for names, count in rows.items() for name in names}
    states |= dict.fromkeys(("pressure_even", "pressure_odd"), (2 * origin + x * ny * nz) * width)
    kernel = "step_wide" if wide else "step_narrow" if large else "step_small"
    return Plan(values, states, real, kernel, threads, excitations)


def _shares(shape: tuple[int, int, int], width: int) -> tuple[tuple[int, int, int], tuple[int, int, int], int]:
    """(threads of a block, blocks along x, y and z with those of further fields, cells that a thread walks)."""
    x, y, z = shape
    if width > NARROW:
        quads = width // 4
        side = int(np.sqrt(THREADS // quads))
        threads = quads, side, THREADS // quads // side
        piece = int(np.clip(x * y * z * quads // BUSY, 2, LONGEST_WIDE))
        return threads, (-(-x // piece), -(-y // threads[1]), -(-z // threads[2])), piece
    across = min(32, x // 4)
    threads = across, THREADS // across, 1
    piece = int(np.clip(x * y * z // 4 * width // BUSY, 1, LONGEST_NARROW))
    return threads, (-(-x // 4 // across), -(-y // threads[1]), -(-z // piece) * width), piece


def _of_cpu(tables: GpuTables, width: int) -> dict[str, Any]:
    """The tables of the CPU, as far as the kernels have members of their names; excitations are filled up."""
    faces, ports = tables.faces, tables.ports._replace(solve=np.moveaxis(tables.ports.solve, 0, 2))
    both: dict[str, Any] = {
        name: np.concatenate([getattr(faces, name), getattr(ports, name)]) for name in BRANCH_FIELDS
    }
    both["first"] = np.concatenate([faces.first[:-1], len(faces.a) + ports.first])
    groups: dict[str, Any] = {"face_": faces._replace(**both), "port_": ports}
    groups |= {"control_": ports.control, "link_": tables.links}
    named = {prefix + name: x for prefix, group in groups.items() for name, x in group._asdict().items()}
    values = {name: _padded(x, width) if np.ndim(x) > 1 else x for name, x in named.items() if name in ROOM_NAMES}
    values |= {n: x for n, x in (tables.points._asdict() | tables.maps._asdict()).items() if n in ROOM_NAMES}
    values |= {"most_states": ports.control.matrix.shape[1], "port_kind": len(faces.coupling)}
    sides = np.ones((len(faces.cell), faces.coupling.shape[1]))  # 1 + sum beta alpha (theory.md, eq. 12)
    own = np.repeat(np.arange(len(faces.cell)), np.diff(faces.pointer))
    np.add.at(sides, own, faces.strength[:, None] * faces.coupling[faces.kind])
    return values | {"wall_inverse": _padded(1.0 / sides, width)}


def _padded(array: NDArray, width: int) -> NDArray:
    """Zeros after the last axis, up to `width`."""
    return np.pad(array, [(0, 0)] * (array.ndim - 1) + [(0, width - array.shape[-1])])


def _numbered(chosen: NDArray, count: int) -> NDArray[np.int64]:
    """(count,) where each number stands among those chosen, or -1."""
    position = np.full(count, -1, dtype=np.int64)
    position[chosen] = np.arange(len(chosen))
    return position


def _regular(air: Air, place: NDArray, shape: tuple[int, int, int], piece: int) -> dict[str, NDArray]:
    """Bits of the regular cells, by pieces of rows or, if `piece` is 0, by fours."""
    x, y, z = shape
    regular = np.zeros(x * y * z, dtype=bool)
    regular[place] = True
    regular[place[air.special]] = False
    if not piece:
        return {"regular_narrow": np.packbits(regular.reshape(-1, 4), axis=1, bitorder="little")}
    bits = np.pad(regular.reshape(z, y, x), ((0, 0), (0, 0), (0, -x % piece)))
    return {"regular_wide": bits.reshape(-1, piece) @ (1 << np.arange(piece))}


def _links(special: NDArray, links: LinkTables, place: NDArray) -> dict[str, Any]:
    """Both ends of each impedance link, by special cells."""
    side = _numbered(special, len(place))[np.concatenate([links.first, links.second])]
    order, count = np.argsort(side, kind="stable"), len(links.first)
    return {
        "links": count,
        "special_end": np.searchsorted(side[order], np.arange(len(special) + 1)),
        "end_link": order % max(count, 1),
        "end_other": place[np.concatenate([links.second, links.first])][order],
        "end_into": np.concatenate([links.into_first, -links.into_second])[order],
    }


def _port_cells(faces: FaceTables, ports: PortTables, place: NDArray) -> dict[str, Any]:
    """Members of ports by port and by cell."""
    cells, cell = len(faces.cell) - faces.free, ports.boundary - faces.free
    order = np.argsort(cell, kind="stable")
    return {
        "free_walls": faces.free,
        "ports": len(ports.pointer) - 1,
        "port_cells": cells,
        "port_place": place[faces.cell[faces.free :]],
        "member_place": place[faces.cell[ports.boundary]],
        "cell_pointer": np.searchsorted(cell[order], np.arange(cells + 1)),
        "cell_port": np.repeat(np.arange(len(ports.pointer) - 1), np.diff(ports.pointer))[order],
        "cell_strength": ports.strength[order],
    }
