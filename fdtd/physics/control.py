"""A rational admittance as a state space: what electronics add to a device, and what no passive branches can be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import schur


@dataclass(frozen=True, eq=False)
class StateSpace:
    """x' = matrix x + drive p, v = read x: velocity into the face, m/s, from the pressure at the face, Pa.

    matrix : (state, state) 1/s; drive, read : (state,). All eigenvalues of `matrix` have negative real parts.
    There is no direct term: a face has mass, so its velocity cannot jump with the pressure.
    """

    matrix: NDArray[np.float64]
    drive: NDArray[np.float64]
    read: NDArray[np.float64]

    def __post_init__(self) -> None:
        size = len(self.drive)
        if self.matrix.shape != (size, size) or self.read.shape != (size,):
            raise ValueError(f"shapes do not fit: {self.matrix.shape}, {self.drive.shape}, {self.read.shape}")
        if size and np.linalg.eigvals(self.matrix).real.max() >= 0.0:
            raise ValueError("the admittance itself is unstable: it has a pole that does not decay")

    def __eq__(self, other: object) -> bool:
        return isinstance(other, StateSpace) and self._bytes() == other._bytes()

    def __hash__(self) -> int:
        return hash(self._bytes())

    def _bytes(self) -> tuple[bytes, bytes, bytes]:
        return self.matrix.tobytes(), self.drive.tobytes(), self.read.tobytes()

    def admittance(self, frequency: ArrayLike) -> NDArray[np.complex128]:
        """Specific admittance read (s - matrix)⁻¹ drive at `frequency` in Hz, m/(Pa·s); the shape of `frequency`."""
        s = 2j * np.pi * np.asarray(frequency, dtype=float)
        return self.at(s)

    def at(self, s: ArrayLike) -> NDArray[np.complex128]:
        """The same at complex `s`, 1/s."""
        points = np.asarray(s, dtype=complex)
        size = len(self.drive)
        if size == 0:
            return np.zeros(points.shape, dtype=complex)
        # With the matrix made triangular once, each point costs a back substitution and little memory.
        triangle, basis = schur(self.matrix, output="complex")
        drive, flat = basis.conj().T @ self.drive, points.ravel()
        x = np.zeros((size, flat.size), dtype=complex)
        for k in range(size - 1, -1, -1):
            x[k] = (drive[k] + triangle[k, k + 1 :] @ x[k + 1 :]) / (flat - triangle[k, k])
        return np.asarray((self.read @ basis) @ x).reshape(points.shape)

    def scaled(self, factor: float) -> StateSpace:
        """The state space whose admittance is `factor` times this one's."""
        return StateSpace(self.matrix, self.drive, self.read * factor)
