"""From branches to the coefficients of the wall and diaphragm updates.

Trapezoidal rule, step dt, for each branch in series with the air column's mass, all per unit area (theory.md, eq. 10):
    v+ = a (p+ + p) + b v - g x,   a = 1/(2 L/dt + R + K dt/2),  b = (2 L/dt - R - K dt/2) a,  g = 2 K a.
L, R and K are those of `marched`, which makes up for the rule's error in time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.tables import FaceTables, PortTables
from fdtd.march.chunks import chunk_bounds
from fdtd.march.control_tables import control_tables
from fdtd.march.discrete import Marched, marched
from fdtd.march.wall_blocks import Block, block_fields, numbered, side_by_side, sort_cells
from fdtd.model.lanes import Diaphragm, Lane, Port
from fdtd.model.problem import Problem


@dataclass
class _Classes:
    """Coefficients of the admittance classes, (class, lane) and (branch row, lane)."""

    coupling: NDArray
    damping: NDArray
    mass: NDArray
    first: NDArray
    a: NDArray
    b: NDArray
    g: NDArray


def _classes(rows: list[list[Marched]], lanes: int, dt: float, direct: NDArray | None = None) -> _Classes:
    """rows : for each class, what is marched in every lane; direct : (class, lane) what controls add to a."""
    number = [max((len(m.branches) for m in row), default=0) or 1 for row in rows] or [1]
    first = np.concatenate([[0], np.cumsum(number)]).astype(np.int64)
    values = np.zeros((3, int(first[-1]), lanes))
    present = np.zeros(values.shape[1:], dtype=bool)
    mass = np.zeros((len(number), lanes))
    for k, row in enumerate(rows):
        for lane, one in enumerate(row):
            own = slice(first[k], first[k] + len(one.branches))
            values[:, own, lane], present[own, lane] = one.branches.T, True
            mass[k, lane] = 2.0 * one.air_mass / dt
    inertia, resistance, spring = 2.0 * values[0] / dt, values[1], 0.5 * dt * values[2]
    a = np.where(present, 1.0, 0.0) / np.where(present, inertia + resistance + spring, 1.0)
    b, g = (inertia - resistance - spring) * a, 2.0 * values[2] * a
    total = np.add.reduceat(a, first[:-1], axis=0) + (0.0 if direct is None else direct)
    damping = 1.0 / (1.0 + total * mass)  # (theory.md, eq. 11)
    return _Classes(total * damping, damping, mass, first, a, b, g)


@dataclass(frozen=True)
class WallTables:
    """Kernel tables of the walls and diaphragms, and how many state rows each needs."""

    faces: FaceTables
    ports: PortTables
    face_states: int
    port_states: int


def wall_tables(problem: Problem, lanes: list[Lane], max_frequency: float, chunks: int, real: type) -> WallTables:
    """Tables for all lanes; faces that are rigid in every lane are left out."""
    pieces = problem.pieces
    reacting = np.array([any(lane.local[r] for lane in lanes) for r in range(len(problem.regions))], dtype=bool)
    local = np.flatnonzero(reacting[pieces.region]) if len(pieces.region) else np.zeros(0, dtype=np.int64)
    # One absorber may lie elsewhere, or be partly covered, in another lane: each place is a port of its own.
    moving = [d.port for lane in lanes for d in lane.diaphragms if d.branches or d.control]
    members = {port: port_pieces(problem, port) for port in dict.fromkeys(moving)}
    covered = [pieces.cell[rows] for rows in members.values()]
    port_cells = np.unique(np.concatenate(covered)) if covered else np.zeros(0, np.int64)
    bounds = chunk_bounds(problem, chunks)
    blocks, free = _free_cells(problem, lanes, local, port_cells, bounds)
    order = np.concatenate([free, port_cells]).astype(np.int64)
    position = np.full(len(problem.cells.volume), -1, dtype=np.int64)
    position[order] = np.arange(len(order))
    local = local[np.argsort(position[pieces.cell[local]], kind="stable")]
    faces, classes, states = _face_tables(problem, lanes, local, order, position, max_frequency)
    denominator = np.ones((len(order), len(lanes)))
    row = position[pieces.cell[local]]
    np.add.at(denominator, row, faces["strength"][:, None] * classes.coupling[faces["kind"]])
    simple, in_blocks = (sum(len(b.cells) for b in blocks if b.faces <= most) for most in (1, len(order)))
    chunk = in_blocks + np.searchsorted(free[in_blocks:], bounds)
    later: Any = np.zeros(0, dtype=np.int64)
    table = FaceTables(
        order, side_by_side(order), faces["pointer"], faces["strength"], faces["kind"], faces["state"],
        *_cast(classes, float), simple, len(free), 1.0 / denominator[:simple], later, chunk, *([later] * 10),
    )  # fmt: skip
    table = _in(real, block_fields(blocks, table, denominator, chunks, real))
    ports = _port_tables(problem, lanes, members, position, denominator, max_frequency, real)
    return WallTables(table, ports, states, len(ports.a))


def _free_cells(
    problem: Problem, lanes: list[Lane], local: NDArray, port_cells: NDArray, bounds: NDArray
) -> tuple[list[Block], NDArray[np.int64]]:
    """Blocks of like boundary cells; all boundary cells outside ports: those with one face in blocks, others in blocks,
    the rest."""
    pieces = problem.pieces
    most = np.array([max(len(lane.local[r]) for lane in lanes) for r in range(len(problem.regions))], dtype=np.int64)
    branches = np.zeros(len(problem.cells.volume), dtype=np.int64)
    np.maximum.at(branches, pieces.cell[local], most[pieces.region[local]])
    free = branches > 0
    free[port_cells] = False
    alike = numbered([pieces.region[local], pieces.depth[local], pieces.excess[local], _strength(problem, local)])
    blocks = sort_cells(pieces.cell[local], alike, free & (branches == 1), bounds)
    first, others = ([b.cells for b in blocks if (b.faces == 1) == one] for one in (True, False))
    for cells in (*first, *others):
        free[cells] = False
    return blocks, np.concatenate([*first, *others, np.flatnonzero(free)]).astype(np.int64)


def _in(real: type, table: FaceTables) -> FaceTables:
    """`table` with its real numbers as `real`."""
    columns: list[Any] = [x.astype(real) if isinstance(x, np.ndarray) and x.dtype.kind == "f" else x for x in table]
    return FaceTables(*columns)


def _cast(classes: _Classes, real: type) -> tuple[Any, Any, Any, Any, Any, Any, Any]:
    c = classes
    return (c.coupling.astype(real), c.damping.astype(real), c.mass.astype(real), c.first,
            c.a.astype(real), c.b.astype(real), c.g.astype(real))  # fmt: skip


def _strength(problem: Problem, rows: NDArray) -> NDArray[np.float64]:
    """c² dt rho A / (2 V) of wall pieces (theory.md, eq. 12)."""
    c, rho, dt = problem.speed_of_sound, problem.density, problem.time_step
    return c * c * dt * rho * problem.pieces.area[rows] / (2.0 * problem.operator.volume[problem.pieces.cell[rows]])


def _air_masses(lanes: list[Lane], region: int, depth: int, excess: int, density: float) -> tuple[float, ...]:
    """Series air mass of a class in every lane, kg/m²; depth, excess : in 1e-12 m."""
    return tuple(density * 1e-12 * (depth - excess if lane.fitted[region] else depth) for lane in lanes)


def _face_tables(
    problem: Problem, lanes: list[Lane], local: NDArray, order: NDArray, position: NDArray, max_frequency: float
) -> tuple[dict, _Classes, int]:
    pieces = problem.pieces
    lengths = [np.round(x[local] * 1e12).astype(np.int64) for x in (pieces.depth, pieces.excess)]
    keys = np.column_stack([pieces.region[local], *lengths])
    unique, kind = np.unique(keys.reshape(-1, 3), axis=0, return_inverse=True)
    rows = [
        [
            marched(lane.local[region], None, mass, problem.time_step, max_frequency)
            for lane, mass in zip(lanes, _air_masses(lanes, region, depth, excess, problem.density), strict=True)
        ]
        for region, depth, excess in unique.tolist()
    ]
    classes = _classes(rows, len(lanes), problem.time_step)
    kind = kind.ravel().astype(np.int64)
    width = np.diff(classes.first)[kind]
    state = np.concatenate([[0], np.cumsum(width)])
    counts = np.bincount(position[pieces.cell[local]], minlength=len(order))
    pointer = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    tables = {
        "pointer": pointer,
        "strength": _strength(problem, local),
        "kind": kind,
        "state": state[:-1].astype(np.int64),
    }
    return tables, classes, int(state[-1])


def port_pieces(problem: Problem, port: Port) -> NDArray[np.int64]:
    """The wall pieces that a port consists of."""
    return np.flatnonzero(np.isin(problem.pieces.region, port.regions))


def port_air_mass(problem: Problem, port: Port) -> float:
    """Mass of the air between the cells' values and the face, kg/m², averaged over the port."""
    mine, pieces = port_pieces(problem, port), problem.pieces
    return problem.density * float(np.average(pieces.depth[mine] - pieces.excess[mine], weights=pieces.area[mine]))


def _diaphragm_rows(problem: Problem, lanes: list[Lane], ports: Sequence[Port], top: float) -> list[list[Marched]]:
    """What each port does in each lane."""
    rows = []
    for port in ports:
        mass = port_air_mass(problem, port)
        of_lane = [next((d for d in lane.diaphragms if d.port == port), Diaphragm(port, ())) for lane in lanes]
        rows.append([marched(d.branches, d.control, mass, problem.time_step, top) for d in of_lane])
    return rows


def _port_tables(
    problem: Problem, lanes: list[Lane], members: dict[Port, NDArray], position: NDArray, denominator: NDArray,
    max_frequency: float, real: type,
) -> PortTables:  # fmt: skip
    pieces, number, dt = problem.pieces, len(members), problem.time_step
    rows = _diaphragm_rows(problem, lanes, list(members), max_frequency)
    control, direct = control_tables([[one.control for one in row] for row in rows], len(lanes), dt, real)
    classes = _classes(rows, len(lanes), dt, direct)
    share, strength, boundary = [], [], []
    mean = np.zeros((number, len(denominator)))
    force = np.zeros((number, len(denominator)))
    for k, mine in enumerate(members.values()):
        share.append(pieces.area[mine] / pieces.area[mine].sum())
        strength.append(_strength(problem, mine))
        boundary.append(position[pieces.cell[mine]])
        np.add.at(mean[k], boundary[k], share[k])
        np.add.at(force[k], boundary[k], strength[k])
    solve = np.zeros((len(lanes), number, number))  # (theory.md, eq. 17)
    for lane in range(len(lanes)):
        answer = (mean / denominator[:, lane]) @ force.T
        solve[lane] = np.linalg.inv(np.eye(number) + classes.coupling[:number, lane, None] * answer)
    joined = [np.concatenate(x) if number else np.zeros(0) for x in (boundary, share, strength)]
    pointer = np.concatenate([[0], np.cumsum([len(s) for s in share])]).astype(np.int64)
    return PortTables(
        pointer, joined[0].astype(np.int64), joined[1].astype(real), joined[2].astype(real),
        *_cast(classes, real), solve=solve.astype(real), control=control,
    )  # fmt: skip
