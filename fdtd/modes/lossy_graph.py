"""The lossy cell graph as a matrix function of the complex frequency s (1/s), time factor e^{st}.

    T(s) p = 0,   T(s) = s² V/c² + K + E^T g(s) E,

one row of E for each thing that moves: a wall element (sqrt(A) at its cell), a diaphragm (sqrt(A) times the average
over its elements), an impedance link (sqrt(A) times the difference of its cells). g(s) = rho s Y(s) is diagonal;
Y = v/p, with the half-cell air mass in series, is that of the row. T is complex symmetric, T^T = T.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array

from fdtd.model.excitations import Branches, Diaphragm, Excitation, StateSpace
from fdtd.model.problem import Problem

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Movers:
    """The different things that move: each is a face (branches in parallel, with a control or not) behind an air mass.

    branches : (branch, 3) mass kg/m², resistance Pa·s/m, stiffness Pa/m; owner : (branch,) their face
    controls : of the faces that have one; face, air_mass : (mover,), kg/m²; faces : number of faces; density : kg/m³
    """

    branches: Real
    owner: NDArray[np.int64]
    controls: tuple[tuple[int, StateSpace], ...]
    faces: int
    face: NDArray[np.int64]
    air_mass: Real
    density: float

    def coupling(self, s: complex | Complex) -> Complex:
        """g(s) = rho s Y(s) of every mover, 1/m: (mover, ...) for `s` of any shape, 1/s."""
        points = np.asarray(s, dtype=complex)
        spread = (slice(None), *([None] * points.ndim))
        mass, resistance, stiffness = (column[spread] for column in self.branches.T)
        own = np.zeros((self.faces, *points.shape), dtype=complex)
        np.add.at(own, self.owner, points / (mass * points**2 + resistance * points + stiffness))
        for number, control in self.controls:
            own[number] += control.at(points)
        own = own[self.face]
        return np.asarray(self.density * points * own / (1.0 + points * self.air_mass[spread] * own))

    def slope(self, s: complex) -> Complex:
        """dg/ds, (mover,), by central differences (relative error about 1e-10)."""
        step = 1e-5 * abs(s)
        return np.asarray((self.coupling(s + step) - self.coupling(s - step)) / (2.0 * step))

    @property
    def least_mass(self) -> Real:
        """(mover,) kg/m² that moves at least: the air's, with that of the branches side by side."""
        with np.errstate(divide="ignore"):
            light = np.bincount(self.owner, 1.0 / self.branches[:, 0], self.faces)
            branch = 1.0 / light
        branch[[number for number, _ in self.controls]] = 0.0
        return np.asarray(self.air_mass + branch[self.face])


@dataclass(frozen=True, eq=False)
class LossyGraph:
    """volume : (cell,) V/c², m·s²; stiffness : K (cell, cell) sparse; rows : E (row, cell) sparse
    kind : (row,) into `movers`
    """

    volume: Real
    stiffness: csr_array
    rows: csr_array
    kind: NDArray[np.int64]
    movers: Movers

    def apply(self, s: Complex, p: Complex) -> Complex:
        """T(s_k) p_k for the columns of p, (cell, column), each with its own s (column,), 1/s."""
        moved = self.movers.coupling(s)[self.kind] * (self.rows @ p)
        return np.asarray(self.volume[:, None] * p * s**2 + self.stiffness @ p + self.rows.T @ moved)


def lossy_graph(problem: Problem, excitation: Excitation) -> LossyGraph:
    """Everything that `excitation` puts into the room of `problem`, without discretisation in time."""
    rows, elements, impedance_links = _Rows(), problem.elements, problem.impedance_links
    for number, branches in enumerate(excitation.local):
        mine = np.flatnonzero(elements.region == number)
        if not branches or len(mine) == 0:
            continue
        depth = elements.depth[mine] - (elements.excess[mine] if excitation.fitted[number] else 0.0)
        kind = rows.movers(_table(branches), None, problem.density * depth)
        rows.put(np.arange(len(mine)), elements.cell[mine], np.sqrt(elements.area[mine]), kind)
    for diaphragm in excitation.diaphragms:
        _add_diaphragm(rows, problem, diaphragm)
    if len(impedance_links.mass):
        fields = (impedance_links.mass, impedance_links.resistance, impedance_links.stiffness)
        table, which = np.unique(np.column_stack(fields), axis=0, return_inverse=True)
        # Faces of one branch each, without air.
        kind = np.concatenate([rows.movers(row[None], None, np.zeros(1)) for row in table])[which.ravel()]
        order, size = np.arange(len(kind)), np.sqrt(impedance_links.area)
        cells = np.concatenate([impedance_links.cells[:, 0], impedance_links.cells[:, 1]])
        rows.put(np.concatenate([order, order]), cells, np.concatenate([size, -size]), kind)
    return rows.graph(problem)


def _table(branches: Branches) -> Real:
    return np.array([(b.mass, b.resistance, b.stiffness) for b in branches], dtype=float).reshape(-1, 3)


def _add_diaphragm(rows: _Rows, problem: Problem, diaphragm: Diaphragm) -> None:
    """One row: the average pressure over the face, with the average air mass, as the simulation has it."""
    elements = problem.elements
    mine = np.flatnonzero(np.isin(elements.region, diaphragm.port.regions))
    if len(mine) == 0 or (not diaphragm.branches and diaphragm.control is None):
        return
    area = elements.area[mine]
    mass = problem.density * np.average(elements.depth[mine] - elements.excess[mine], weights=area)
    kind = rows.movers(_table(diaphragm.branches), diaphragm.control, np.array([mass]))
    rows.put(np.zeros(len(mine), dtype=np.int64), elements.cell[mine], area / np.sqrt(area.sum()), kind)


class _Rows:
    """Collects the rows of E and what moves there."""

    def __init__(self) -> None:
        self._entries: list[tuple[NDArray, NDArray, Real]] = []
        self._kind: list[NDArray] = []
        self._branches: list[Real] = []
        self._owner: list[NDArray] = []
        self._controls: list[tuple[int, StateSpace]] = []
        self._face: list[NDArray] = []
        self._air_mass: list[Real] = []
        self._rows = 0

    def movers(self, branches: Real, control: StateSpace | None, air_mass: Real) -> NDArray:
        """A face, before each of the air masses: (row,) numbers of the movers."""
        masses, which = np.unique(np.round(air_mass, 12), return_inverse=True)
        face, first = len(self._branches), sum(len(masses) for masses in self._air_mass)
        if control is not None:
            self._controls.append((face, control))
        self._branches.append(branches)
        self._owner.append(np.full(len(branches), face))
        self._face.append(np.full(len(masses), face))
        self._air_mass.append(masses)
        return (first + which.ravel()).astype(np.int64)

    def put(self, row: NDArray, cell: NDArray, value: Real, kind: NDArray) -> None:
        """Rows of E: entries (entry,) with rows counted from 0, and the rows' movers (row,)."""
        self._entries.append((row + self._rows, cell, value))
        number = int(row.max()) + 1
        self._kind.append(kind)
        self._rows += number

    def graph(self, problem: Problem) -> LossyGraph:
        none = [np.zeros(0)]
        parts = zip(*self._entries, strict=True) if self._entries else (none, none, none)
        row, cell, value = (np.concatenate(part) for part in parts)
        shape = (self._rows, len(problem.cells.volume))
        matrix = csr_array(coo_array((value, (row.astype(np.int64), cell.astype(np.int64))), shape=shape))
        movers = Movers(
            np.concatenate([*self._branches, np.zeros((0, 3))]),
            np.concatenate([*self._owner, *none]).astype(np.int64),
            tuple(self._controls),
            len(self._branches),
            np.concatenate([*self._face, *none]).astype(np.int64),
            np.concatenate([*self._air_mass, *none]),
            problem.density,
        )
        kind = np.concatenate([*self._kind, *none]).astype(np.int64)
        volume = problem.operator.volume / problem.speed_of_sound**2
        return LossyGraph(volume, problem.operator.stiffness, matrix, kind, movers)
