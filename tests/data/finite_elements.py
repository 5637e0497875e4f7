"""High-order finite elements for rooms made of blocks, in the frequency domain: independent of the program under test.

    (K - k² M + j omega rho sum Y B) p = j omega rho b,   H = p/Q,   e^{+j omega t}

Elements are products of Gauss-Lobatto polynomials on a graded grid of blocks; the height of the room may vary along y.
Thin sheets are doubled nodes. Needs numpy and scipy; uses the MKL PARDISO solver (package pypardiso) where installed.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array, csr_array, triu
from scipy.sparse.linalg import splu

Point = tuple[float, float, float]


def lobatto(order: int) -> NDArray[np.float64]:
    """The order + 1 Gauss-Lobatto points on [0, 1]."""
    inner = np.polynomial.legendre.Legendre.basis(order).deriv().roots()
    return 0.5 * (np.concatenate([[-1.0], np.real(inner), [1.0]]) + 1.0)


def lagrange(nodes: NDArray, at: NDArray) -> tuple[NDArray, NDArray]:
    """Values and derivatives (point, node) of the Lagrange polynomials through `nodes`."""
    count = len(nodes)
    value = np.ones((len(at), count))
    slope = np.zeros((len(at), count))
    for k in range(count):
        others = [m for m in range(count) if m != k]
        value[:, k] = np.prod([(at - nodes[m]) / (nodes[k] - nodes[m]) for m in others], axis=0)
        for left_out in others:
            rest = [(at - nodes[m]) / (nodes[k] - nodes[m]) for m in others if m != left_out]
            slope[:, k] += np.prod(rest, axis=0) / (nodes[k] - nodes[left_out])
    return value, slope


@dataclass(frozen=True)
class ThinPartition:
    """A thin partition over the whole section at x = lines[0][line]; `opening` (y, z lower; y, z upper), m."""

    line: int
    opening: tuple[tuple[float, float], tuple[float, float]]


@dataclass
class RoomMesh:
    """A box of elements: lines along x, y and (for a height of 1) z; height(y) must be linear within each element."""

    lines: tuple[NDArray, NDArray, NDArray]
    order: int = 4
    height: Callable[[float], float] | None = None
    thin_partition: ThinPartition | None = None
    surface: Callable[[str, Point], str] = lambda side, middle: side
    stiffness: csr_array = field(init=False)
    mass: csr_array = field(init=False)
    walls: dict[str, csr_array] = field(init=False)
    """Boundary mass matrix of each surface, as named by `surface(side, middle of the element's face)`."""

    def __post_init__(self) -> None:
        self.nodes = lobatto(self.order)
        gauss, weight = np.polynomial.legendre.leggauss(self.order + 2)
        self.gauss, self.weight = 0.5 * (gauss + 1.0), 0.5 * weight
        self.value, self.slope = lagrange(self.nodes, self.gauss)
        self.m = (self.value * self.weight[:, None]).T @ self.value
        self.k = (self.slope * self.weight[:, None]).T @ self.slope
        self._number()
        self._assemble()

    @property
    def count(self) -> int:
        """Number of unknowns."""
        return int(self.dofs.max()) + 1

    def _tall(self, y: float) -> float:
        return 1.0 if self.height is None else self.height(y)

    def _number(self) -> None:
        p = self.order
        shape = tuple(len(line) - 1 for line in self.lines)
        grid = [(np.arange(n)[:, None] * p + np.arange(p + 1)) for n in shape]
        wide = [n * p + 1 for n in shape]
        gx = grid[0][:, None, None, :, None, None]
        gy = grid[1][None, :, None, None, :, None]
        gz = grid[2][None, None, :, None, None, :]
        key = (gx * wide[1] + gy) * wide[2] + gz
        if self.thin_partition is not None:
            line, (low, high) = self.thin_partition.line, self.thin_partition.opening
            at = [(lines[:-1, None] + np.diff(lines)[:, None] * self.nodes) for lines in (self.lines[1], self.lines[2])]
            free = [(a >= lo - 1e-9) & (a <= hi + 1e-9) for a, lo, hi in zip(at, low, high, strict=True)]
            closed = ~(free[0][None, :, None, None, :, None] & free[1][None, None, :, None, None, :])
            beyond = (np.arange(shape[0]) >= line)[:, None, None, None, None, None]
            key = key + np.where((gx == line * p) & beyond & closed, int(np.prod(wide)), 0)
        _, number = np.unique(key, return_inverse=True)
        self.dofs = number.reshape(*shape, (p + 1) ** 3)

    def _section(self, j: int, k: int) -> tuple[NDArray, NDArray]:
        """Mass and stiffness of the (y, z) section of element column (j, k)."""
        (y0, y1), (z0, z1) = self.lines[1][j : j + 2], self.lines[2][k : k + 2]
        low, high = self._tall(y0), self._tall(y1)
        dy = y1 - y0
        tall = low + (high - low) * self.gauss
        rise = (high - low) * (z0 + (z1 - z0) * self.gauss)
        a, da = self.value, self.slope
        mass = np.einsum("q,qi,qj->ij", self.weight * tall, a, a) * dy * (z1 - z0)
        mass2 = np.kron(mass, self.m)
        # z = zeta tall(y): d/dy at constant z = d/dy - (rise/dy) / tall d/dzeta, all divided by the local sizes.
        qy, qz = np.meshgrid(np.arange(len(tall)), np.arange(len(tall)), indexing="ij")
        qy, qz = qy.ravel(), qz.ravel()
        dz_local = tall[qy] * (z1 - z0)
        along_z = np.einsum("qi,qj->qij", a[qy], da[qz]).reshape(len(qy), -1) / dz_local[:, None]
        along_y = np.einsum("qi,qj->qij", da[qy], a[qz]).reshape(len(qy), -1) / dy
        along_y = along_y - (rise[qz] / dy)[:, None] * along_z
        w = (self.weight[qy] * self.weight[qz] * dz_local * dy)[:, None]
        return mass2, (along_y * w).T @ along_y + (along_z * w).T @ along_z

    def _assemble(self) -> None:
        nx, ny, nz = self.dofs.shape[:3]
        size = self.dofs.shape[3]
        rows = np.repeat(self.dofs, size, axis=3).ravel()
        columns = np.tile(self.dofs, (1, 1, 1, size)).ravel()
        stiff = np.empty((nx, ny, nz, size * size))
        mass = np.empty_like(stiff)
        for j in range(ny):
            for k in range(nz):
                m2, k2 = self._section(j, k)
                for i in range(nx):
                    dx = self.lines[0][i + 1] - self.lines[0][i]
                    stiff[i, j, k] = (np.kron(self.k / dx, m2) + np.kron(self.m * dx, k2)).ravel()
                    mass[i, j, k] = np.kron(self.m * dx, m2).ravel()
        shape = (self.count, self.count)
        self.stiffness = csr_array(coo_array((stiff.ravel(), (rows, columns)), shape=shape))
        self.mass = csr_array(coo_array((mass.ravel(), (rows, columns)), shape=shape))
        self._assemble_walls()

    def _assemble_walls(self) -> None:
        parts: dict[str, list] = {}
        n = self.dofs.shape[:3]
        corner = np.arange((self.order + 1) ** 3).reshape((self.order + 1,) * 3)
        for spot in np.ndindex(*n):
            for axis in range(3):
                for end in (0, 1):
                    side = self._side(spot, axis, end)
                    if side is None:
                        continue
                    local = np.take(corner, -end, axis=axis).ravel()
                    matrix, middle = self._face(spot, axis, end)
                    dof = self.dofs[spot][local]
                    parts.setdefault(self.surface(side, middle), []).append((dof, matrix))
        self.walls = {}
        for name, listed in parts.items():
            rows = np.concatenate([np.repeat(d, len(d)) for d, _ in listed])
            columns = np.concatenate([np.tile(d, len(d)) for d, _ in listed])
            data = np.concatenate([m.ravel() for _, m in listed])
            self.walls[name] = csr_array(coo_array((data, (rows, columns)), shape=(self.count, self.count)))

    def _side(self, spot: tuple[int, ...], axis: int, end: int) -> str | None:
        if spot[axis] == (0, self.dofs.shape[axis] - 1)[end]:
            return "-+"[end] + "xyz"[axis]
        if self.thin_partition is not None and axis == 0 and spot[0] + end == self.thin_partition.line:
            middle = [0.5 * (self.lines[a][spot[a]] + self.lines[a][spot[a] + 1]) for a in (1, 2)]
            low, high = self.thin_partition.opening
            if not all(lo < v < hi for lo, v, hi in zip(low, middle, high, strict=True)):
                return "sheet"
        return None

    def _face(self, spot: tuple[int, ...], axis: int, end: int) -> tuple[NDArray, Point]:
        i, j, k = spot
        size = [self.lines[a][spot[a] + 1] - self.lines[a][spot[a]] for a in range(3)]
        at = [self.lines[a][spot[a]] + 0.5 * size[a] for a in range(3)]
        at[axis] = self.lines[axis][spot[axis] + end]
        middle = (at[0], at[1], at[2] * self._tall(at[1]))
        if axis == 0:
            return self._section(j, k)[0], middle
        if axis == 1:
            return np.kron(self.m * size[0], self.m * size[2] * self._tall(at[1])), middle
        y0, y1 = self.lines[1][j], self.lines[1][j + 1]
        slope = at[2] * (self._tall(y1) - self._tall(y0)) / (y1 - y0)
        return np.kron(self.m * size[0], self.m * size[1] * np.hypot(1.0, slope)), middle

    def point(self, at: Point) -> NDArray[np.float64]:
        """Values of all basis functions at a point, m."""
        local = (at[0], at[1], at[2] / self._tall(at[1]))
        spot, value = [], []
        for line, v in zip(self.lines, local, strict=True):
            n = int(np.clip(np.searchsorted(line, v) - 1, 0, len(line) - 2))
            spot.append(n)
            value.append(lagrange(self.nodes, np.array([(v - line[n]) / (line[n + 1] - line[n])]))[0][0])
        out = np.zeros(self.count)
        out[self.dofs[tuple(spot)]] = np.kron(np.kron(value[0], value[1]), value[2])
        return out


class Factor:
    """A factorised complex symmetric matrix; `solve(b)` for real or complex columns b."""

    def __init__(self, matrix: csr_array) -> None:
        try:
            from pypardiso import PyPardisoSolver
        except ImportError:
            self.lu = splu(csc_array(matrix))
            self.solver = None
            return
        self.solver = PyPardisoSolver(mtype=6)
        upper = csr_array(triu(matrix, format="csr"))
        upper.sort_indices()
        self.data = np.ascontiguousarray(upper.data, dtype=complex)
        self.pointer, self.index = (x.astype(np.int32) + 1 for x in (upper.indptr, upper.indices))
        self._call(12, np.zeros((matrix.shape[0], 1), dtype=complex))

    def _call(self, phase: int, b: NDArray) -> NDArray:
        s = self.solver
        integer, x, error = ctypes.c_int32, np.zeros_like(b, order="F"), ctypes.c_int32(0)
        pointer = ctypes.POINTER(integer)
        count = len(self.pointer) - 1
        by = [ctypes.byref(integer(v)) for v in (1, 1, 6, phase, count)]
        s._mkl_pardiso(
            s.pt.ctypes.data_as(ctypes.POINTER(s._pt_type[0])),
            *by,
            self.data.ctypes.data_as(ctypes.c_void_p),
            self.pointer.ctypes.data_as(pointer),
            self.index.ctypes.data_as(pointer),
            s.perm.ctypes.data_as(pointer),
            ctypes.byref(integer(b.shape[1])),
            s.iparm.ctypes.data_as(pointer),
            ctypes.byref(integer(0)),
            b.ctypes.data_as(ctypes.c_void_p),
            x.ctypes.data_as(ctypes.c_void_p),
            ctypes.byref(error),
        )
        if error.value:
            raise RuntimeError(f"PARDISO reports error {error.value}")
        return x

    def solve(self, b: NDArray) -> NDArray[np.complex128]:
        """Solution columns."""
        b = np.asfortranarray(b, dtype=complex)
        return self.lu.solve(b) if self.solver is None else self._call(33, b)

    def close(self) -> None:
        """Give the factors' memory back."""
        if self.solver is not None:
            self._call(-1, np.zeros((len(self.pointer) - 1, 1), dtype=complex))


@dataclass(frozen=True)
class Air:
    """speed_of_sound : m/s; density : kg/m³."""

    speed_of_sound: float = 343.2
    density: float = 1.204


def transfer(
    mesh: RoomMesh,
    admittance: dict[str, Callable[[float], complex]],
    source: Point,
    seats: list[Point],
    frequency: NDArray,
    samples: NDArray,
    diaphragms: dict[str, Callable[[float], complex]] | None = None,
    air: Air = Air(),  # noqa: B008
) -> NDArray[np.complex128]:
    """H (seat, frequency), Pa/(m³/s), by solves at `samples` (Hz) and Galerkin projection on all of them.

    admittance : Y(f), m/(Pa s), of each surface that is not rigid and reacts locally
    diaphragms : Y(f) of each surface that moves as one: v = Y (mean p), a rank-one term
    """
    diaphragms = diaphragms or {}
    ports = {name: np.asarray(mesh.walls[name].sum(axis=1)).ravel() for name in diaphragms}
    points = np.column_stack([mesh.point(at) for at in (source, *seats)] + list(ports.values()))
    basis = np.zeros((mesh.count, 0))
    for f in samples:
        omega = 2 * np.pi * f
        matrix = (mesh.stiffness - (omega / air.speed_of_sound) ** 2 * mesh.mass).astype(complex)
        for name, y in admittance.items():
            matrix = matrix + 1j * omega * air.density * y(f) * mesh.walls[name]
        factor = Factor(csr_array(matrix))
        found = factor.solve(points)
        factor.close()
        basis = _extend(basis, np.column_stack([found.real, found.imag]))
    small = {
        "k": basis.T @ (mesh.stiffness @ basis),
        "m": basis.T @ (mesh.mass @ basis),
        **{"wall " + n: basis.T @ (mesh.walls[n] @ basis) for n in admittance},
    }
    seen = basis.T @ points
    area = {name: float(b.sum()) for name, b in ports.items()}
    out = np.empty((len(seats), len(frequency)), dtype=complex)
    for n, f in enumerate(frequency):
        omega = 2 * np.pi * f
        a = small["k"] - (omega / air.speed_of_sound) ** 2 * small["m"] + 0j
        for name, y in admittance.items():
            a += 1j * omega * air.density * y(f) * small["wall " + name]
        for k, (name, y) in enumerate(diaphragms.items()):
            column = seen[:, 1 + len(seats) + k]
            a += 1j * omega * air.density * y(f) / area[name] * np.outer(column, column)
        out[:, n] = 1j * omega * air.density * (seen[:, 1 : 1 + len(seats)].T @ np.linalg.solve(a, seen[:, 0]))
    return out


def _extend(basis: NDArray, vectors: NDArray) -> NDArray:
    """`basis` and whatever of `vectors` is new, orthonormal."""
    for _ in range(2):
        vectors = vectors / np.linalg.norm(vectors, axis=0)
        vectors = vectors - basis @ (basis.T @ vectors)
    left, size, _ = np.linalg.svd(vectors, full_matrices=False)
    left = left[:, size > 1e-9]
    left = left - basis @ (basis.T @ left)
    return np.column_stack([basis, np.linalg.qr(left)[0]]) if left.shape[1] else basis


def box_transfer(
    size: Point,
    ratios: dict[str, float],
    source: Point,
    seats: list[Point],
    frequency: NDArray,
    air: Air = Air(),  # noqa: B008
) -> NDArray[np.complex128]:
    """Exact H of a box whose six sides ('-x', '+x', ...) have real admittance ratios: separable complex modes."""
    order = 36
    nodes = lobatto(order)
    gauss, weight = np.polynomial.legendre.leggauss(order + 2)
    value, slope = lagrange(nodes, 0.5 * (gauss + 1.0))
    mass, stiff = (value * (weight / 2)[:, None]).T @ value, (slope * (weight / 2)[:, None]).T @ slope
    out = np.empty((len(seats), len(frequency)), dtype=complex)
    for n, f in enumerate(frequency):
        k = 2 * np.pi * f / air.speed_of_sound
        lam, at_source, at_seats = [], [], []
        for axis in range(3):
            matrix = stiff / size[axis] + 0j
            matrix[0, 0] += 1j * k * ratios["-" + "xyz"[axis]]
            matrix[-1, -1] += 1j * k * ratios["+" + "xyz"[axis]]
            values, vectors = np.linalg.eig(np.linalg.solve(mass * size[axis], matrix))
            keep = np.argsort(values.real)
            vectors = vectors[:, keep] / np.sqrt(
                np.einsum("im,ij,jm->m", vectors[:, keep], mass * size[axis], vectors[:, keep])
            )
            lam.append(values[keep])
            places = np.array([source[axis], *(seat[axis] for seat in seats)]) / size[axis]
            seen = lagrange(nodes, places)[0] @ vectors
            at_source.append(seen[0])
            at_seats.append(seen[1:])
        total = lam[0][:, None, None] + lam[1][None, :, None] + lam[2][None, None, :] - k * k
        for s in range(len(seats)):
            x, y, z = (at_source[a] * at_seats[a][s] for a in range(3))
            out[s, n] = 2j * np.pi * f * air.density * np.einsum("i,j,k,ijk->", x, y, z, 1.0 / total)
    return out
