"""From state spaces to the coefficients of their update, by the trapezoidal rule (theory.md, eq. 18).

x+ = A x + B (p+ + p),   v+ = C x+ = (C B) (p+ + p) + (C A) x,
A = (1 - M dt/2)⁻¹ (1 + M dt/2),   B = (1 - M dt/2)⁻¹ drive dt/2,   C = read.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.tables import ControlTables
from fdtd.physics.control import StateSpace


def control_tables(
    rows: list[list[StateSpace | None]], excitations: int, dt: float, real: type
) -> tuple[ControlTables, NDArray[np.float64]]:
    """Tables of the controls (port, excitation), and (port, excitation) C B: what they add to the velocity at once."""
    sizes = np.array([max((len(c.drive) for c in row if c), default=0) for row in rows], dtype=np.int64)
    most = int(sizes.max()) if len(sizes) else 0
    number = max(len(rows), 1)
    matrix = np.zeros((number, most, most, excitations))
    drive, read, past = (np.zeros((number, most, excitations)) for _ in range(3))
    direct = np.zeros((number, excitations))
    for k, row in enumerate(rows):
        for excitation, control in enumerate(row):
            if control is None:
                continue
            n = len(control.drive)
            before = np.eye(n) - 0.5 * dt * control.matrix
            a = np.linalg.solve(before, np.eye(n) + 0.5 * dt * control.matrix)
            b = np.linalg.solve(before, 0.5 * dt * control.drive)
            matrix[k, :n, :n, excitation], drive[k, :n, excitation] = a, b
            read[k, :n, excitation], past[k, :n, excitation] = control.read, control.read @ a
            direct[k, excitation] = control.read @ b
    sizes = sizes if len(sizes) else np.zeros(1, dtype=np.int64)
    return ControlTables(sizes, *(x.astype(real) for x in (matrix, drive, read, past))), direct
