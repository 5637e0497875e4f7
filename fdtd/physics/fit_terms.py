"""Series branches as numbers a fit can turn: logarithms of mass, resistance and stiffness in units of rho c.

Frequencies are relative to a reference, x = f / reference, so that all three numbers are of like size:

    beta(x) = rho c Y = sum_m 1 / (M_m j x + R_m + K_m / (j x))

Whatever the logarithms, M, R and K are positive: what comes out of a fit in them is passive by construction.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fdtd.physics.admittance import Branch, Branches

Reals: TypeAlias = NDArray[np.float64]
Complexes: TypeAlias = NDArray[np.complex128]

LARGEST_LOG = 18.0
"""Bound of the logarithms: e^18 = 7e7; beyond it a term is nothing, or a branch rigid, to any accuracy that counts."""


@dataclass(frozen=True)
class Scale:
    """What the numbers are relative to. impedance : rho c, Pa·s/m; frequency : Hz."""

    impedance: float
    frequency: float

    def branches(self, values: Reals) -> Branches:
        """values : (branch, 3), relative mass, resistance, stiffness; a branch of three zeros is left out."""
        omega = 2.0 * np.pi * self.frequency
        units = self.impedance * np.array([1.0 / omega, 1.0, omega])
        return tuple(Branch(*(float(v) for v in row * units)) for row in values if row.any())


def ratio(values: Reals, x: Reals) -> Complexes:
    """rho c Y of relative `values` (branch, 3) at x (frequency,)."""
    jx = 1j * x
    impedance = values[:, 0, None] * jx + values[:, 1, None] + values[:, 2, None] / jx
    return np.asarray(np.sum(1.0 / impedance, axis=0), dtype=complex)


def ratio_and_slope(logs: Reals, x: Reals) -> tuple[Complexes, Complexes]:
    """rho c Y (frequency,) and its derivatives (frequency, 3 branch) by flat `logs` (3 branch,)."""
    jx = 1j * x
    powers = np.stack([jx, np.ones_like(jx), 1.0 / jx])
    terms = np.exp(logs.reshape(-1, 3))[:, :, None] * powers
    y = 1.0 / terms.sum(axis=1)
    slope = -terms * (y * y)[:, None, :]
    return y.sum(axis=0), slope.reshape(-1, len(x)).T


def resonance(frequency: Reals, quality: Reals) -> Reals:
    """Relative (.., 3) values of resistance 1, resonance at x = `frequency`, and `quality` factor."""
    return np.stack([quality / frequency, np.ones_like(frequency), quality * frequency], axis=-1)


def real_parts(values: Complexes) -> Reals:
    """Complex residuals (or columns) as twice as many real ones, as least squares wants them."""
    return np.concatenate([values.real, values.imag])
