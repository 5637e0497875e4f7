"""From branches to the coefficients of the wall and diaphragm updates.

Trapezoidal rule, step dt, for each branch in series with the air column's mass (all per unit area):
    v+ = a (p+ + p) + b v - g x,   a = 1/(2 L/dt + R + K dt/2),  b = (2 L/dt - R - K dt/2) a,  g = 2 K a.
Mass and resistance are scaled by C² and C, C = cos(omega_march dt/2) at the branch's own resonance, which cancels the
rule's error there (it is of order (omega dt)²/8 elsewhere).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.tables import FaceTables, LinkTables, PortTables
from fdtd.model.lanes import Lane
from fdtd.model.problem import Problem
from fdtd.physics.admittance import Branches

LOW_SHARE = 0.05
"""Share of the highest frequency below which a branch's resonance is out of the band that is corrected."""


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


def _cosine(frequency: float, dt: float) -> float:
    return float(np.sqrt(max(1.0 - (np.pi * frequency * dt) ** 2, 0.25)))


def _classes(rows: list[tuple[tuple[Branches, ...], tuple[float, ...]]], dt: float, max_frequency: float) -> _Classes:
    """rows : for each class, its branches and the series air mass (kg/m²) in every lane."""
    lanes = len(rows[0][0]) if rows else 1
    number = [max((len(b) for b in branches), default=0) or 1 for branches, _ in rows]
    first = np.concatenate([[0], np.cumsum(number)]).astype(np.int64)
    shape = (int(first[-1]), lanes)
    a, b, g = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    coupling, damping, mass = (np.zeros((len(rows), lanes)) for _ in range(3))
    damping += 1.0
    usual = 0.6 * max_frequency
    for k, (branches_of, masses) in enumerate(rows):
        for lane, (branches, air_mass) in enumerate(zip(branches_of, masses, strict=True)):
            # One branch takes the air mass into itself; several share it.
            own = air_mass if len(branches) == 1 else 0.0
            for m, branch in enumerate(branches):
                inertia = branch.mass + own
                resonance = np.sqrt(branch.stiffness / inertia) / (2 * np.pi) if inertia > 0.0 else 0.0
                cosine = _cosine(resonance if LOW_SHARE < resonance / max_frequency < 1.0 else usual, dt)
                inertia, resistance = inertia * cosine**2, branch.resistance * cosine
                spring = branch.stiffness * dt / 2
                scale = 1.0 / (2.0 * inertia / dt + resistance + spring)
                row = first[k] + m
                a[row, lane] = scale
                b[row, lane] = (2.0 * inertia / dt - resistance - spring) * scale
                g[row, lane] = 2.0 * branch.stiffness * scale
            total = a[first[k] : first[k + 1], lane].sum()
            if len(branches) > 1:
                mass[k, lane] = 2.0 * air_mass * _cosine(usual, dt) ** 2 / dt
            damping[k, lane] = 1.0 / (1.0 + total * mass[k, lane])
            coupling[k, lane] = total * damping[k, lane]
    return _Classes(coupling, damping, mass, first, a, b, g)


@dataclass(frozen=True)
class WallTables:
    """Kernel tables of the walls and diaphragms, and how many state rows each needs."""

    faces: FaceTables
    ports: PortTables
    face_states: int
    port_states: int


def wall_tables(problem: Problem, lanes: list[Lane], max_frequency: float, chunks: int, real: type) -> WallTables:
    """Tables for all lanes; faces that are rigid in every lane are left out."""
    pieces, dt = problem.pieces, problem.time_step
    reacting = np.array([any(lane.local[r] for lane in lanes) for r in range(len(problem.regions))], dtype=bool)
    local = np.flatnonzero(reacting[pieces.region]) if len(pieces.region) else np.zeros(0, dtype=np.int64)
    # One absorber may lie elsewhere, or be partly covered, in another lane: each place is a port of its own.
    names = list(dict.fromkeys((name, where) for lane in lanes for name, moving, where in lane.diaphragms if moving))
    members = {port: np.flatnonzero(np.isin(problem.pieces.region, port[1])) for port in names}
    port_cells = (
        np.unique(np.concatenate([pieces.cell[m] for m in members.values()])) if names else np.zeros(0, np.int64)
    )
    free, simple = _free_cells(problem, lanes, local, port_cells)
    order = np.concatenate([free, port_cells]).astype(np.int64)
    position = np.full(len(problem.cells.volume), -1, dtype=np.int64)
    position[order] = np.arange(len(order))
    local = local[np.argsort(position[pieces.cell[local]], kind="stable")]
    faces, classes, states = _face_tables(problem, lanes, local, order, position, max_frequency)
    denominator = np.ones((len(order), len(lanes)))
    row = position[pieces.cell[local]]
    np.add.at(denominator, row, faces["strength"][:, None] * classes.coupling[faces["kind"]])
    work = faces["pointer"][simple : len(free) + 1]
    chunk = simple + np.searchsorted(work, np.linspace(work[0], work[-1], chunks + 1)).astype(np.int64)
    chunk[0], chunk[-1] = simple, len(free)
    table = FaceTables(
        order, faces["pointer"], faces["strength"].astype(real), faces["kind"], faces["state"],
        *_cast(classes, real), simple, len(free), (1.0 / denominator[:simple]).astype(real),
        np.linspace(0, simple, chunks + 1).astype(np.int64), chunk,
    )  # fmt: skip
    ports = _port_tables(problem, lanes, names, members, position, denominator, dt, max_frequency, real)
    return WallTables(table, ports, states, len(ports.a))


def _free_cells(problem: Problem, lanes: list[Lane], local: NDArray, port_cells: NDArray) -> tuple[NDArray, int]:
    """Boundary cells outside ports, those with one face of one branch first, and the number of those."""
    pieces = problem.pieces
    most = np.array([max(len(lane.local[r]) for lane in lanes) for r in range(len(problem.regions))], dtype=np.int64)
    cells, faces = np.unique(pieces.cell[local], return_counts=True)
    branches = np.zeros(len(problem.cells.volume), dtype=np.int64)
    np.maximum.at(branches, pieces.cell[local], most[pieces.region[local]])
    free = ~np.isin(cells, port_cells)
    simple = free & (faces == 1) & (branches[cells] == 1)
    return np.concatenate([cells[simple], cells[free & ~simple]]), int(simple.sum())


def _cast(classes: _Classes, real: type) -> tuple[Any, Any, Any, Any, Any, Any, Any]:
    c = classes
    return (c.coupling.astype(real), c.damping.astype(real), c.mass.astype(real), c.first,
            c.a.astype(real), c.b.astype(real), c.g.astype(real))  # fmt: skip


def _strength(problem: Problem, rows: NDArray) -> NDArray[np.float64]:
    """c² dt rho A / (2 V) of wall pieces."""
    c, rho, dt = problem.speed_of_sound, problem.density, problem.time_step
    return c * c * dt * rho * problem.pieces.area[rows] / (2.0 * problem.operator.volume[problem.pieces.cell[rows]])


def _nothing(lanes: list[Lane]) -> tuple[tuple[Branches, ...], tuple[float, ...]]:
    """A class that is rigid in every lane, so that no table is empty."""
    return ((),) * len(lanes), (0.0,) * len(lanes)


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
        (tuple(lane.local[region] for lane in lanes), _air_masses(lanes, region, depth, excess, problem.density))
        for region, depth, excess in unique.tolist()
    ]
    if not rows:
        rows = [_nothing(lanes)]
    classes = _classes(rows, problem.time_step, max_frequency)
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


def _port_tables(
    problem: Problem, lanes: list[Lane], names: list[tuple[str, tuple[int, ...]]], members: dict,
    position: NDArray, denominator: NDArray,
    dt: float, max_frequency: float, real: type,
) -> PortTables:  # fmt: skip
    pieces = problem.pieces
    rows = []
    for name in names:
        mine = members[name]
        depth = np.average(pieces.depth[mine] - pieces.excess[mine], weights=pieces.area[mine])
        of_lane = tuple(next((b for n, b, where in lane.diaphragms if (n, where) == name), ()) for lane in lanes)
        rows.append((of_lane, (problem.density * depth,) * len(lanes)))
    classes = _classes(rows or [_nothing(lanes)], dt, max_frequency)
    share, strength, boundary = [], [], []
    number = len(names)
    mean = np.zeros((number, len(denominator)))
    force = np.zeros((number, len(denominator)))
    for k, name in enumerate(names):
        mine = members[name]
        share.append(pieces.area[mine] / pieces.area[mine].sum())
        strength.append(_strength(problem, mine))
        boundary.append(position[pieces.cell[mine]])
        np.add.at(mean[k], boundary[k], share[k])
        np.add.at(force[k], boundary[k], strength[k])
    solve = np.zeros((len(lanes), number, number))
    for lane in range(len(lanes)):
        answer = (mean / denominator[:, lane]) @ force.T
        solve[lane] = np.linalg.inv(np.eye(number) + classes.coupling[:number, lane, None] * answer)
    joined = [np.concatenate(x) if number else np.zeros(0) for x in (boundary, share, strength)]
    pointer = np.concatenate([[0], np.cumsum([len(s) for s in share])]).astype(np.int64)
    return PortTables(
        pointer, joined[0].astype(np.int64), joined[1].astype(real), joined[2].astype(real),
        *_cast(classes, real), solve=solve.astype(real),
    )  # fmt: skip


def link_tables(problem: Problem, real: type) -> LinkTables:
    """Semi-implicit update of loose links: L du/dt + R u + K x = p_i - p_j, the damped part averaged over the step."""
    loose, dt = problem.loose, problem.time_step
    scale = 1.0 / (loose.mass / dt + loose.resistance / 2)
    into = problem.speed_of_sound**2 * dt * problem.density * loose.area
    volume = problem.operator.volume
    return LinkTables(
        np.ascontiguousarray(loose.cells[:, 0]),
        np.ascontiguousarray(loose.cells[:, 1]),
        ((loose.mass / dt - loose.resistance / 2) * scale).astype(real),
        scale.astype(real),
        (loose.stiffness * scale).astype(real),
        (into / volume[loose.cells[:, 0]]).astype(real),
        (into / volume[loose.cells[:, 1]]).astype(real),
    )
