"""Series branches as numbers a fit can turn: logarithms of mass, resistance and stiffness in units of rho c.

Frequencies are relative to a reference, x = f / reference, so that all three numbers are of like size:

    beta(x) = rho c Y = sum_m 1 / (M_m j x + R_m + K_m / (j x))

Whatever the logarithms, M, R and K are positive: what comes out of a fit in them is passive by construction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fdtd.physics.admittance import Branch, Branches

Reals: TypeAlias = NDArray[np.float64]
Complexes: TypeAlias = NDArray[np.complex128]

LARGEST_LOG = 18.0
"""Bound of the logarithms: e^18 = 7e7; beyond it a term is nothing, or a branch rigid, to any accuracy that counts."""

LOW, TOP = 15.0, 250.0
"""Hz: the range of a fit, whatever the range of what it is made for."""

DENSE = 120
"""Points of the grid that tables with gaps are interpolated to."""

MOST_POINTS = 240
"""Longer tables are thinned to this many frequencies for the search; the error is reported over all of them."""

GAP = 0.03
"""Step of ln f above which there is room between two points for a resonance that neither of them shows."""

WITHOUT_GAPS = 20.0
"""Steps over width of the sharpest peak where no step is larger than GAP."""

LEAST_BOUND = 2.0
"""No table is so coarse that broader resonances than this quality factor are asked for."""


def dense(frequency: Reals, values: Complexes) -> tuple[Reals, Complexes]:
    """A table without gaps: its own rows (frequency,), and if they leave gaps, DENSE more, interpolated over log f."""
    axis = np.log(frequency)
    if len(axis) < 2 or np.diff(axis).max() <= GAP:
        return frequency, values
    every = np.unique(np.concatenate([frequency, np.geomspace(frequency[0], frequency[-1], DENSE)[1:-1]]))
    at = np.log(every)
    return every, np.interp(at, axis, values.real) + 1j * np.interp(at, axis, values.imag)


def held(frequency: Reals, values: Complexes) -> tuple[Reals, Complexes]:
    """A table, its end values held down to LOW and up to TOP where it begins above or ends below."""
    if frequency[0] > LOW * (1.0 + GAP):
        frequency, values = np.append(LOW, frequency), np.append(values[0], values)
    if frequency[-1] < TOP / (1.0 + GAP):
        frequency, values = np.append(frequency, TOP), np.append(values, values[-1])
    return frequency, values


def sharpest(rows: Reals, grid: Reals) -> float:
    """Largest quality factor that a table with `rows` (frequency,), searched on `grid` (frequency,), both in rising Hz,
    can show.

    If the table has gaps, the width f/Q of a peak is then no less than the smallest step of the rows and the largest of
    the grid: no peak stands between points where nothing tells of it. What comes in steps of GAP and less, theory for
    the most part, is followed to sharper peaks, whose skirts it shows.
    """
    if len(rows) < 2:
        return LEAST_BOUND
    row, wide = np.diff(np.log(rows)), float(np.diff(np.log(grid)).max())
    if row.max() <= GAP:
        return WITHOUT_GAPS / wide
    return max(LEAST_BOUND, 1.0 / max(float(row.min()), wide))


def spread(frequency: Reals, most: int) -> NDArray[np.intp]:
    """Indices of at most `most` of `frequency`, evenly spread over log f, the ends among them."""
    if len(frequency) <= most:
        return np.arange(len(frequency))
    even = np.geomspace(frequency[0], frequency[-1], most)
    return np.unique(np.clip(np.searchsorted(frequency, even), 0, len(frequency) - 1))


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


def ratio_and_slope(logs: Reals, x: Reals, sharpest: float = math.inf) -> tuple[Complexes, Complexes]:
    """rho c Y (frequency,) and its derivatives (frequency, 3 branch) by flat `logs` (3 branch,).

    sharpest : no branch has a quality factor above it, whatever the logarithms; see `bounded`.
    """
    jx = 1j * x
    powers = np.stack([jx, np.ones_like(jx), 1.0 / jx])
    values = np.exp(logs.reshape(-1, 3))
    least = np.sqrt(values[:, 0] * values[:, 2]) / sharpest
    terms = values[:, :, None] * powers
    y = 1.0 / (terms.sum(axis=1) + least[:, None])
    terms += (least[:, None] * [0.5, 0.0, 0.5])[:, :, None]
    slope = -terms * (y * y)[:, None, :]
    return y.sum(axis=0), slope.reshape(-1, len(x)).T


def bounded(logs: Reals, sharpest: float) -> Reals:
    """Values (branch, 3) of flat `logs`: the resistance is what its logarithm says and the least that the bound of the
    quality factor sqrt(M K)/R leaves, sqrt(M K)/sharpest."""
    values = np.exp(logs.reshape(-1, 3))
    values[:, 1] += np.sqrt(values[:, 0] * values[:, 2]) / sharpest
    return np.asarray(values)


def unbounded(values: Reals, sharpest: float) -> Reals:
    """Flat logarithms, none below the bound, that `bounded` turns into `values` (branch, 3), or nearly so."""
    rows = values.copy()
    rows[:, 1] -= np.sqrt(rows[:, 0] * rows[:, 2]) / sharpest
    return np.log(np.maximum(rows, np.exp(-LARGEST_LOG))).ravel()


def resonance(frequency: Reals, quality: Reals) -> Reals:
    """Relative (.., 3) values of resistance 1, resonance at x = `frequency`, and `quality` factor."""
    return np.stack([quality / frequency, np.ones_like(frequency), quality * frequency], axis=-1)


def real_parts(values: Complexes) -> Reals:
    """Complex residuals (or columns) as twice as many real ones, as least squares wants them."""
    return np.concatenate([values.real, values.imag])
