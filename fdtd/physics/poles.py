"""Admittances that no passive branches can be: poles and residues by vector fitting.

B. Gustavsen and A. Semlyen, 'Rational approximation of frequency domain responses by vector fitting', IEEE Trans. Power
Delivery 14 (1999) 1052-1061: with trial poles a_n, solve sigma(s) Y(s) = sum r_n/(s - a_n) for the residues and for
sigma(s) = 1 + sum q_n/(s - a_n); the zeros of sigma are better poles. Unstable ones are mirrored.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.physics.control import StateSpace
from fdtd.physics.fit_terms import Complexes, Reals, dense, real_parts, sharpest

ROUNDS = 12
"""Relocations of the poles; clean data need three or four."""

FAR = 30.0
"""A pole this many times beyond the highest frequency is a constant within 3 %."""

GOOD_ENOUGH = 1e-5
"""Error relative to the largest value at which no further poles are added."""


def fit_poles(frequency: ArrayLike, admittance: ArrayLike, most: int = 8) -> StateSpace:
    """A stable, strictly proper state space of at most `most` states for a complex admittance.

    frequency : (frequency,) Hz, > 0; admittance : (frequency,) m/(Pa·s), active parts allowed. The fewest states are
    taken that come within 1e-5 of the largest |admittance|, or else the best found; never more than frequencies. If
    these leave gaps, values are interpolated over log f, and no resonance is sharper than the table can show.

    Raises ValueError for bad frequencies or values that are not finite.
    """
    f, wanted = np.asarray(frequency, dtype=float), np.asarray(admittance, dtype=complex)
    if f.ndim != 1 or f.shape != wanted.shape:
        raise ValueError(f"frequency and admittance must be of one length, found shapes {f.shape} and {wanted.shape}")
    if not (np.isfinite(f).all() and (f > 0.0).all() and np.isfinite(wanted).all()):
        raise ValueError("frequencies must be above zero and all values finite")
    if most < 1 or len(f) == 0:
        raise ValueError(f"a fit needs one pole and one frequency at least, found {most} and {len(f)}")
    largest = float(np.abs(wanted).max())
    if largest == 0.0:
        return StateSpace(np.zeros((0, 0)), np.zeros(0), np.zeros(0))
    most, order = min(most, len(f)), np.argsort(f)
    rows = f[order]
    f, target = dense(rows, np.asarray(wanted[order] / largest, dtype=complex))
    bound = sharpest(rows, f)
    scale = 2.0 * np.pi * float(np.sqrt(f.min() * f.max()))
    s = np.asarray(2j * np.pi * f / scale, dtype=complex)
    best: tuple[Complexes, Reals] = (np.zeros(0, dtype=complex), np.zeros(0))
    least = np.inf
    for count in range(1, most + 1):
        for far, better in ((False, 0.98), (True, 0.5)):
            poles, coefficients, error = _fitted(s, target, count, far, bound)
            if error < better * least:
                best, least = (poles, coefficients), error
        if error < GOOD_ENOUGH:
            break
    poles, coefficients = best
    return _state_space((poles * scale).astype(complex), coefficients * (scale * largest))


def _start(s: Complexes, count: int) -> Complexes:
    """Lightly damped pairs spread over the band, and one real pole if `count` is odd; pairs have Im > 0 here."""
    low, high = np.abs(s).min(), np.abs(s).max()
    middle = np.geomspace(low, high, count // 2 + 2)[1:-1]
    return np.concatenate([-0.05 * middle + 1j * middle, np.full(count % 2, -1.0 + 0j)])


def _basis(s: Complexes, poles: Complexes) -> Complexes:
    """(frequency, state) partial fractions with real coefficients; poles with Im > 0 stand for pairs."""
    columns = []
    for a in poles:
        first = 1.0 / (s - a)
        if a.imag == 0.0:
            columns.append(first)
        else:
            second = 1.0 / (s - np.conj(a))
            columns += [first + second, 1j * first - 1j * second]
    return np.stack(columns, axis=1)


def _blocks(poles: Complexes) -> tuple[Reals, Reals]:
    """Real matrix (state, state) and drive (state,) whose read-out is the coefficients of `_basis`."""
    size = sum(1 if a.imag == 0.0 else 2 for a in poles)
    matrix, drive, i = np.zeros((size, size)), np.zeros(size), 0
    for a in poles:
        if a.imag == 0.0:
            matrix[i, i], drive[i], i = a.real, 1.0, i + 1
        else:
            matrix[i : i + 2, i : i + 2] = [[a.real, a.imag], [-a.imag, a.real]]
            drive[i], i = 2.0, i + 2
    return matrix, drive


def _solve(matrix: Complexes, goal: Complexes) -> Reals:
    """Real least squares with columns of equal length, for the sake of the condition number."""
    rows = real_parts(matrix)
    length = np.maximum(np.linalg.norm(rows, axis=0), 1e-300)
    found: NDArray[np.float64] = np.linalg.lstsq(rows / length, real_parts(goal), rcond=None)[0]
    return found / length


def _relocated(s: Complexes, wanted: Complexes, poles: Complexes, far: bool, bound: float) -> Complexes:
    """Better poles: the zeros of sigma, mirrored into the stable half; `far` allows for a constant beside them.

    bound : quality factor above which a pole is moved away from the axis.
    """
    basis = _basis(s, poles)
    constant = np.ones((len(s), int(far)))
    coefficients = _solve(np.concatenate([basis, constant, -wanted[:, None] * basis], axis=1), wanted)
    matrix, drive = _blocks(poles)
    zeros = np.linalg.eigvals(matrix - np.outer(drive, coefficients[-basis.shape[1] :]))
    least = np.maximum(np.abs(zeros.imag) / (2.0 * bound), 1e-6)
    zeros = -np.maximum(np.abs(zeros.real), least) + 1j * zeros.imag
    return np.asarray(sorted(zeros[zeros.imag >= 0.0], key=lambda a: (a.imag == 0.0, a.imag, a.real)), dtype=complex)


def _fitted(s: Complexes, wanted: Complexes, count: int, far: bool, bound: float) -> tuple[Complexes, Reals, float]:
    """Poles (one for each pair), coefficients (state,) and largest error of the best of all rounds.

    far : one of the poles lies FAR beyond the band and stands for a constant, which the others cannot; bound : largest
    quality factor
    """
    remote = np.full(int(far), -FAR * np.abs(s).max() + 0j)
    poles = _start(s, count - len(remote))
    best, least = (np.concatenate([poles, remote]), np.zeros(count)), np.inf
    for _ in range(ROUNDS):
        if len(poles):
            poles = _relocated(s, wanted, poles, far, bound)
        every = np.concatenate([poles, remote])
        basis = _basis(s, every)
        coefficients = _solve(basis, wanted)
        error = float(np.abs(basis @ coefficients - wanted).max())
        if error < least:
            best, least = (every, coefficients), error
    return *best, least


def _state_space(poles: Complexes, coefficients: Reals) -> StateSpace:
    if len(poles) == 0:
        return StateSpace(np.zeros((0, 0)), np.zeros(0), np.zeros(0))
    matrix, drive = _blocks(poles)
    return StateSpace(matrix, drive, coefficients)
