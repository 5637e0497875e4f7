"""From branches to the coefficients of the wall and diaphragm updates.

Trapezoidal rule, step dt, for each branch in series with the air column's mass, all per unit area (theory.md, eq. 10):
    v+ = a (p+ + p) + b v - g x,   a = 1/(2 L/dt + R + K dt/2),  b = (2 L/dt - R - K dt/2) a,  g = 2 K a.
L, R and K are those of `simulated`, which makes up for the rule's error in time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.tables import FaceTables, PortTables
from fdtd.model.excitations import Diaphragm, Excitation, Port
from fdtd.model.problem import Problem
from fdtd.simulation.control_tables import control_tables
from fdtd.simulation.discrete import DiscreteDevice, simulated
from fdtd.simulation.tiles import tile_bounds
from fdtd.simulation.wall_blocks import Block, block_fields, numbered, sort_cells


def _classes(
    rows: list[list[DiscreteDevice]], excitations: int, dt: float, direct: NDArray | None = None
) -> dict[str, NDArray]:
    """Coefficients of admittance classes, (class, excitation) and (branch row, excitation), as in `FaceTables`.

    rows : for each class, what is simulated in every excitation; direct : (class, excitation) what controls add to
    a."""
    number = [max((len(m.branches) for m in row), default=0) or 1 for row in rows] or [1]
    first = np.concatenate([[0], np.cumsum(number)]).astype(np.int64)
    values = np.zeros((3, int(first[-1]), excitations))
    present = np.zeros(values.shape[1:], dtype=bool)
    mass = np.zeros((len(number), excitations))
    for k, row in enumerate(rows):
        for excitation, one in enumerate(row):
            own = slice(first[k], first[k] + len(one.branches))
            values[:, own, excitation], present[own, excitation] = one.branches.T, True
            mass[k, excitation] = 2.0 * one.air_mass / dt
    inertia, resistance, spring = 2.0 * values[0] / dt, values[1], 0.5 * dt * values[2]
    a = np.where(present, 1.0, 0.0) / np.where(present, inertia + resistance + spring, 1.0)
    b, g = (inertia - resistance - spring) * a, 2.0 * values[2] * a
    total = np.add.reduceat(a, first[:-1], axis=0) + (0.0 if direct is None else direct)
    damping = 1.0 / (1.0 + total * mass)  # (theory.md, eq. 11)
    coefficients = {"coupling": total * damping, "damping": damping, "mass": mass, "first": first}
    return coefficients | {"a": a, "b": b, "g": g}


@dataclass(frozen=True)
class WallTables:
    """Kernel tables of the walls and diaphragms, and how many state rows each needs."""

    faces: FaceTables
    ports: PortTables
    face_states: int
    port_states: int


def wall_tables(
    problem: Problem, excitations: list[Excitation], max_frequency: float, tiles: int, real: type
) -> WallTables:
    """Tables for all excitations; faces that are rigid in every excitation are left out."""
    elements = problem.elements
    reacting = np.array(
        [any(excitation.local[r] for excitation in excitations) for r in range(len(problem.regions))], dtype=bool
    )
    local = np.flatnonzero(reacting[elements.region]) if len(elements.region) else np.zeros(0, dtype=np.int64)
    # One absorber may lie elsewhere, or be partly covered, in another excitation: each place is a port of its own.
    moving = [d.port for excitation in excitations for d in excitation.diaphragms if d.branches or d.control]
    members = {port: port_elements(problem, port) for port in dict.fromkeys(moving)}
    covered = [elements.cell[rows] for rows in members.values()]
    port_cells = np.unique(np.concatenate(covered)) if covered else np.zeros(0, np.int64)
    bounds = tile_bounds(problem, tiles)
    blocks, free = _free_cells(problem, excitations, local, port_cells, bounds)
    order = np.concatenate([free, port_cells]).astype(np.int64)
    position = np.full(len(problem.cells.volume), -1, dtype=np.int64)
    position[order] = np.arange(len(order))
    local = local[np.argsort(position[elements.cell[local]], kind="stable")]
    faces, classes, states = _face_tables(problem, excitations, local, order, position, max_frequency)
    denominator = np.ones((len(order), len(excitations)))
    row = position[elements.cell[local]]
    np.add.at(denominator, row, faces["strength"][:, None] * classes["coupling"][faces["kind"]])
    simple, in_blocks = (sum(len(b.cells) for b in blocks if b.faces <= most) for most in (1, len(order)))
    tile = in_blocks + np.searchsorted(free[in_blocks:], bounds)
    fields = {
        "cell": order,
        **faces,
        **classes,
        "simple": simple,
        "free": len(free),
        "tile": tile,
        **block_fields(blocks, {**faces, **classes}, simple, denominator, tiles),
    }
    table = FaceTables(**{name: _real(value, real) for name, value in fields.items()})
    ports = _port_tables(problem, excitations, members, position, denominator, max_frequency, real)
    return WallTables(table, ports, states, len(ports.a))


def _free_cells(
    problem: Problem, excitations: list[Excitation], local: NDArray, port_cells: NDArray, bounds: NDArray
) -> tuple[list[Block], NDArray[np.int64]]:
    """Blocks of like boundary cells; all boundary cells outside ports: those with one face in blocks, others in blocks,
    the rest."""
    elements = problem.elements
    most = np.array(
        [max(len(excitation.local[r]) for excitation in excitations) for r in range(len(problem.regions))],
        dtype=np.int64,
    )
    branches = np.zeros(len(problem.cells.volume), dtype=np.int64)
    np.maximum.at(branches, elements.cell[local], most[elements.region[local]])
    free = branches > 0
    free[port_cells] = False
    alike = numbered([elements.region[local], elements.depth[local], elements.excess[local], _strength(problem, local)])
    blocks = sort_cells(elements.cell[local], alike, free & (branches == 1), bounds)
    first, others = ([b.cells for b in blocks if (b.faces == 1) == one] for one in (True, False))
    for cells in (*first, *others):
        free[cells] = False
    return blocks, np.concatenate([*first, *others, np.flatnonzero(free)]).astype(np.int64)


def _real(value: Any, real: type) -> Any:
    """Real numbers as `real`, all else as it is."""
    return value.astype(real) if isinstance(value, np.ndarray) and value.dtype.kind == "f" else value


def _strength(problem: Problem, rows: NDArray) -> NDArray[np.float64]:
    """c² dt rho A / (2 V) of wall elements (theory.md, eq. 12)."""
    c, rho, dt = problem.speed_of_sound, problem.density, problem.time_step
    return c * c * dt * rho * problem.elements.area[rows] / (2.0 * problem.operator.volume[problem.elements.cell[rows]])


def _face_tables(
    problem: Problem,
    excitations: list[Excitation],
    local: NDArray,
    order: NDArray,
    position: NDArray,
    max_frequency: float,
) -> tuple[dict, dict[str, NDArray], int]:
    elements = problem.elements
    lengths = [np.round(x[local] * 1e12).astype(np.int64) for x in (elements.depth, elements.excess)]
    keys = np.column_stack([elements.region[local], *lengths])
    unique, kind = np.unique(keys.reshape(-1, 3), axis=0, return_inverse=True)
    rows = []
    for region, depth, excess in unique.tolist():  # lengths in 1e-12 m
        air = [problem.density * 1e-12 * (depth - excess if e.fitted[region] else depth) for e in excitations]
        masses = zip(excitations, air, strict=True)
        rows.append([simulated(e.local[region], None, mass, problem.time_step, max_frequency) for e, mass in masses])
    classes = _classes(rows, len(excitations), problem.time_step)
    kind = kind.ravel().astype(np.int64)
    width = np.diff(classes["first"])[kind]
    state = np.concatenate([[0], np.cumsum(width)])
    counts = np.bincount(position[elements.cell[local]], minlength=len(order))
    pointer = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    tables = {
        "pointer": pointer,
        "strength": _strength(problem, local),
        "kind": kind,
        "state": state[:-1].astype(np.int64),
    }
    return tables, classes, int(state[-1])


def port_elements(problem: Problem, port: Port) -> NDArray[np.int64]:
    """The wall elements that a port consists of."""
    return np.flatnonzero(np.isin(problem.elements.region, port.regions))


def port_air_mass(problem: Problem, port: Port) -> float:
    """Mass of the air between the cells' values and the face, kg/m², averaged over the port."""
    mine, elements = port_elements(problem, port), problem.elements
    return problem.density * float(
        np.average(elements.depth[mine] - elements.excess[mine], weights=elements.area[mine])
    )


def _diaphragm_rows(
    problem: Problem, excitations: list[Excitation], ports: Sequence[Port], top: float
) -> list[list[DiscreteDevice]]:
    """What each port does in each excitation."""
    rows = []
    for port in ports:
        mass = port_air_mass(problem, port)
        of_excitation = [
            next((d for d in excitation.diaphragms if d.port == port), Diaphragm(port, ()))
            for excitation in excitations
        ]
        rows.append([simulated(d.branches, d.control, mass, problem.time_step, top) for d in of_excitation])
    return rows


def _port_tables(
    problem: Problem,
    excitations: list[Excitation],
    members: dict[Port, NDArray],
    position: NDArray,
    denominator: NDArray,
    max_frequency: float,
    real: type,
) -> PortTables:
    elements, number, dt = problem.elements, len(members), problem.time_step
    rows = _diaphragm_rows(problem, excitations, list(members), max_frequency)
    control, direct = control_tables([[one.control for one in row] for row in rows], len(excitations), dt, real)
    classes = _classes(rows, len(excitations), dt, direct)
    share, strength, boundary = [], [], []
    mean = np.zeros((number, len(denominator)))
    force = np.zeros((number, len(denominator)))
    for k, mine in enumerate(members.values()):
        share.append(elements.area[mine] / elements.area[mine].sum())
        strength.append(_strength(problem, mine))
        boundary.append(position[elements.cell[mine]])
        np.add.at(mean[k], boundary[k], share[k])
        np.add.at(force[k], boundary[k], strength[k])
    solve = np.zeros((len(excitations), number, number))  # (theory.md, eq. 17)
    for excitation in range(len(excitations)):
        answer = (mean / denominator[:, excitation]) @ force.T
        solve[excitation] = np.linalg.inv(np.eye(number) + classes["coupling"][:number, excitation, None] * answer)
    joined = [np.concatenate(x) if number else np.zeros(0) for x in (boundary, share, strength)]
    pointer = np.concatenate([[0], np.cumsum([len(s) for s in share])]).astype(np.int64)
    fields = {
        "pointer": pointer,
        "boundary": joined[0].astype(np.int64),
        "share": joined[1],
        "strength": joined[2],
        **classes,
        "solve": solve,
        "control": control,
    }
    return PortTables(**{name: _real(value, real) for name, value in fields.items()})
