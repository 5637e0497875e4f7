"""The lossy cell graph on a few shapes: a small dense T(s), and all its eigenvalues in a region by contour integrals.

Method: W.-J. Beyn, An integral method for solving nonlinear eigenvalue problems, Linear Algebra Appl. 436 (2012) 3839.
With the trapezoidal rule on a circle an eigenvalue z (in units of the radius) enters both moments with the same weight
1/(1 + z^N), so eigenvalues near the circle are found like any other; branch poles inside do no harm, T⁻¹ is regular
there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.modes.lossy_graph import Complex, LossyGraph, Real

NODES = 24
"""Points on a circle."""
RANK = 1e-9
"""Singular values of the first moment below this share of the largest are rounding."""
NEWTON_STEPS = 8
REACH = 0.05
"""Relative distance from its start beyond which Newton's method has gone astray."""
SAME = 1e-8
"""Relative distance of eigenvalues that are one."""
MOST_SUMMED = 64
"""Number of movers whose rows are summed up beforehand; those of the others (few rows each) stay apart."""

Pair = tuple[complex, Complex]
"""An eigenvalue, 1/s, and its vector."""


class Reduced:
    """T(s) on real shapes that are orthonormal with respect to V/c²; shapes can be added.

    shapes : (cell, shape)
    """

    def __init__(self, graph: LossyGraph, shapes: Real) -> None:
        self.graph = graph
        rows = np.bincount(graph.kind, minlength=len(graph.movers.face))
        self._summed = np.argsort(-rows, kind="stable")[:MOST_SUMMED]
        self._apart = np.flatnonzero(~np.isin(graph.kind, self._summed))
        self.shapes = np.zeros((len(graph.volume), 0))
        self._stiff = self.shapes
        self._moved = np.zeros((graph.rows.shape[0], 0))
        self.stiffness = np.zeros((0, 0))
        self.add(shapes)

    def add(self, shapes: Real) -> None:
        """Add shapes: made orthonormal first, what the present ones hold already is left out."""
        new = orthonormal(shapes, self.shapes, self.graph.volume)
        self.shapes = np.hstack([self.shapes, new])
        self._stiff = np.hstack([self._stiff, self.graph.stiffness @ new])
        self._moved = np.hstack([self._moved, self.graph.rows @ new])
        corner = self._stiff.T @ new
        old = len(self.stiffness)
        self.stiffness = np.block([[self.stiffness, corner[:old]], [corner[:old].T, corner[old:]]])
        parts = [self._moved[self.graph.kind == number] for number in self._summed]
        size = self.shapes.shape[1]
        self._sums = np.array([part.T @ part for part in parts]).reshape(len(parts), size * size)

    def matrix(self, s: complex) -> Complex:
        """T(s), (shape, shape)."""
        coupling, size = self.graph.movers.coupling(s), len(self.stiffness)
        value = coupling[self._summed]
        total = (value.real @ self._sums + 1j * (value.imag @ self._sums)).reshape(size, size)
        if len(self._apart):
            rows, value = self._moved[self._apart], coupling[self.graph.kind[self._apart]][:, None]
            total = total + rows.T @ (value.real * rows) + 1j * (rows.T @ (value.imag * rows))
        return np.asarray(total + self.stiffness + s * s * np.eye(size))

    def slope(self, s: complex, vectors: Complex) -> Complex:
        """dT/ds times `vectors`, (shape, column), without forming the matrix."""
        moved = self._moved @ vectors.real + 1j * (self._moved @ vectors.imag)
        pushed = self.graph.movers.slope(s)[self.graph.kind, None] * moved
        return np.asarray(self._moved.T @ pushed.real + 1j * (self._moved.T @ pushed.imag) + 2.0 * s * vectors)

    def bilinear(self, s: complex, vectors: Complex) -> Complex:
        """v_i^T T'(s) v_j of the columns of `vectors`, (shape, column)."""
        return np.asarray(vectors.T @ self.slope(s, vectors))


def orthonormal(new: Real, old: Real, weight: Real) -> Real:
    """`new` columns made orthonormal to each other and to `old`, with respect to `weight`.

    Unit columns count; directions in which they hold less than a twentieth of their largest are left out.
    """
    new = new / np.sqrt(np.maximum(weight @ new**2, 1e-300))
    for least in (2.5e-3, 1e-12):
        for _ in range(2):
            new = new - old @ (old.T @ (weight[:, None] * new))
        values, turn = np.linalg.eigh(new.T @ (weight[:, None] * new))
        kept = values > least * values[-1]
        new = new @ (turn[:, kept] / np.sqrt(values[kept]))
    return np.asarray(new)


def search(reduced: Reduced, left: float, right: float, low: float, high: float) -> list[Pair]:
    """Approximate eigenpairs with left < Re s < right, low < Im s < high (1/s), on circles that cover the region."""
    middle, half = 0.5 * (left + right), 0.5 * (right - left)
    number = int(np.ceil((high - low) / (2.2 * half)))
    step = (high - low) / number
    radius = 1.02 * float(np.hypot(half, 0.5 * step))
    found: list[Pair] = []
    for centre in low + step * (np.arange(number) + 0.5):
        found += _circle(reduced, complex(middle, centre), radius)
    return found


def _circle(reduced: Reduced, centre: complex, radius: float) -> list[Pair]:
    size = len(reduced.stiffness)
    first, second = np.zeros((2, size, size), dtype=complex)
    for node in np.exp(2j * np.pi * (np.arange(NODES) + 0.5) / NODES):
        inverse = np.linalg.inv(reduced.matrix(centre + radius * node))
        first += node * inverse
        second += node**2 * inverse
    left, values, right = np.linalg.svd(first)
    rank = int(np.sum(values > RANK * values[0]))
    left, right = left[:, :rank], right[:rank].conj().T
    z, y = np.linalg.eig(left.conj().T @ second @ right / values[:rank])
    inside = np.abs(z) < 1.1
    vectors = left @ y[:, inside]
    return [(complex(centre + radius * a), v) for a, v in zip(z[inside], vectors.T, strict=True)]


def newton(reduced: Reduced, pair: Pair) -> Pair | None:
    """The eigenpair that Newton's method (inverse iteration with a moving shift) reaches from `pair`, if any.

    Method: Ruhe, SIAM J. Numer. Anal. 10 (1973) 674.
    """
    s, v = pair
    start, v = s, v / np.linalg.norm(v)
    for _ in range(NEWTON_STEPS):
        try:
            x = np.linalg.solve(reduced.matrix(s), reduced.slope(s, v[:, None])[:, 0])
        except np.linalg.LinAlgError:
            return s, v
        step = complex(1.0 / (v.conj() @ x))
        s, v = s - step, np.asarray(x / np.linalg.norm(x))
        if not np.isfinite(s) or abs(s - start) > REACH * abs(start):
            return None
        if abs(step) < 1e-10 * abs(s):
            return s, v
    return None


def distinct(pairs: list[Pair], reduced: Reduced) -> list[Pair]:
    """Each eigenpair once, in order of frequency; of a multiple eigenvalue as many vectors as it has.

    Vectors of a multiple eigenvalue are chosen so that v_i^T T'(s) v_j = 0 for i != j.
    """
    pairs = sorted(pairs, key=lambda pair: pair[0].imag)
    kept: list[Pair] = []
    while pairs:
        s = pairs[0][0]
        same = [pair for pair in pairs if abs(pair[0] - s) < SAME * abs(s)]
        pairs = [pair for pair in pairs if abs(pair[0] - s) >= SAME * abs(s)]
        left, values, _ = np.linalg.svd(np.array([v for _, v in same]).T, full_matrices=False)
        basis = left[:, values > 1e-3 * values[0]]
        if basis.shape[1] > 1:
            basis = basis @ np.linalg.eig(reduced.bilinear(s, basis))[1]
        kept += [(s, v) for v in basis.T]
    return kept


def presence(reduced: Reduced, pair: Pair) -> tuple[float, Complex]:
    """The vector scaled so that v^T T'(s) v = 2 s, as for a rigid mode of length 1; and its length squared."""
    s, v = pair
    v = v * np.sqrt(2.0 * s / complex(reduced.bilinear(s, v[:, None])[0, 0]))
    return float(np.sum(np.abs(v) ** 2)), v


def all_vectors(pairs: list[Pair], reduced: Reduced) -> NDArray[np.complex128]:
    """(cell, pair) shapes of the pairs."""
    vectors = np.array([v for _, v in pairs]).T
    return np.asarray(reduced.shapes @ vectors.real + 1j * (reduced.shapes @ vectors.imag))
