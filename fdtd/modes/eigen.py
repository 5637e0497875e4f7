"""Rigid eigenmodes: K x = lambda V x for the smallest lambda, f = c sqrt(lambda) / (2 pi).

The low end of the spectrum is pulled apart from the rest by a Chebyshev polynomial of the operator, and ARPACK
(scipy's `eigsh`) finds the leading eigenvectors of that polynomial: no factorisation, memory linear in cells
(Saad, Numerical Methods for Large Eigenvalue Problems, ch. 4 and 7).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, diags_array
from scipy.sparse.linalg import LinearOperator, eigsh

from fdtd.model.operator import Operator


def _filtered(matrix: csr_array, cut: float, top: float, degree: int) -> LinearOperator:
    """T_degree of the matrix mapped so that [cut, top] goes to [-1, 1]: large only for eigenvalues below `cut`."""
    centre, half = 0.5 * (top + cut), 0.5 * (top - cut)

    def apply(x: NDArray) -> NDArray:
        x = x.ravel()
        before, now = x, (matrix @ x - centre * x) / -half
        for _ in range(degree - 1):
            before, now = now, (matrix @ now - centre * now) * (-2.0 / half) - before
        return now

    return LinearOperator(matrix.shape, matvec=apply, dtype=float)


def rigid_modes(operator: Operator, count: int, total_volume: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The `count` smallest eigenvalues lambda (1/m², the zero of constant pressure included) and their mode shapes.

    Shapes are (mode, cell), with the volume integral of their square equal to the room's volume.
    """
    root = 1.0 / np.sqrt(operator.volume)
    scale = diags_array(root)
    matrix = csr_array(scale @ operator.stiffness @ scale)
    top = operator.largest_eigenvalue() * 1.0001
    cells = matrix.shape[0]
    count = min(count, cells - 2)
    # Weyl's law, N = V k³/(6 pi²), gives a cut above the wanted modes; the count is checked afterwards.
    cut = (6 * np.pi**2 * (count + 6) / total_volume) ** (2 / 3) * 1.1
    cut = min(cut, 0.3 * top)
    degree = max(4, int(np.ceil(1.6 * np.sqrt(top / cut))))
    size = min(cells - 1, max(2 * count + 10, 40))
    start = np.random.default_rng(1).standard_normal(cells)
    _, vectors = eigsh(
        _filtered(matrix, cut, top, degree),
        k=count,
        ncv=size,
        which="LA" if degree % 2 == 0 else "LM",
        v0=start,
        tol=1e-12,
    )
    # Rayleigh-Ritz on the unfiltered matrix gives the eigenvalues to rounding.
    basis, _ = np.linalg.qr(vectors)
    values, rotation = np.linalg.eigh(basis.T @ (matrix @ basis))
    shapes = (root[:, None] * (basis @ rotation)).T * np.sqrt(operator.volume.sum())
    return np.maximum(values, 0.0), shapes
