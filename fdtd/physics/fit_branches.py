"""The search for a few passive branches whose reflection coefficient is the wanted one.

Branches are added one at a time: from a grid of resonances, resistances, masses and springs the one is taken that,
with non-negative weights (Lawson and Hanson, Solving Least Squares Problems, 1974), lowers the error of reflection
most; then all numbers are refined together by bounded least squares in their logarithms. If that is not good enough,
each branch in turn is taken out and sought anew.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from fdtd.physics.fit_terms import (
    LARGEST_LOG,
    Complexes,
    Reals,
    bounded,
    ratio,
    ratio_and_slope,
    real_parts,
    resonance,
    unbounded,
)

GOOD_ENOUGH = 1.5e-3
"""Error of the reflection coefficient below which no further branch is added."""

TRIED = 3
"""Candidates from the grid that are refined for each further branch."""

LEVELLED = 4
"""Rounds of least squares with more weight on the largest errors (in the manner of Lawson), if a fit is not good."""

POOR = 5e-3
"""Error of the reflection coefficient above which branches are exchanged."""

NEGLIGIBLE = 1e-4
"""A mass, resistance, stiffness or branch that changes reflection by less than this is left out."""

Residual = Callable[[Reals], tuple[Reals, Reals]]
"""Flat logarithms -> real residuals (residual,) and their derivatives (residual, 3 branch)."""


def reflection(beta: Complexes) -> Complexes:
    """Reflection coefficient at normal incidence, (1 - beta)/(1 + beta), for beta = rho c Y."""
    return np.asarray((1.0 - beta) / (1.0 + beta), dtype=complex)


def candidates(x: Reals, wanted: Complexes) -> Reals:
    """(candidate, 3) relative values: resistance, mass, spring, a grid of resonances, and the peaks of `wanted`."""
    low, high = x.min() / 2.0, x.max() * 4.0
    place, quality = np.meshgrid(np.geomspace(low, high, 24), [0.1, 0.4, 1.5, 6.0, 24.0], indexing="ij")
    grid = resonance(place.ravel(), quality.ravel())
    return np.concatenate([np.eye(3), grid, *_peaks(x, wanted)])


def _peaks(x: Reals, wanted: Complexes) -> Iterator[Reals]:
    """Candidates at the four highest maxima of Re `wanted`, their qualities from 1 to 256."""
    re = wanted.real
    inner = np.flatnonzero((re[1:-1] > re[:-2]) & (re[1:-1] >= re[2:])) + 1
    for i in inner[np.argsort(-re[inner])][:4]:
        yield resonance(np.full(9, x[i]), 2.0 ** np.arange(9.0))


def refined(logs: Reals, residual: Residual, most_steps: int = 60) -> tuple[Reals, float]:
    """Bounded least squares from flat `logs`: the logarithms found and the cost."""
    from scipy.optimize import least_squares  # slow to load, and most scenes do without it

    bound = LARGEST_LOG
    start = np.clip(logs, -bound + 1e-3, bound - 1e-3)
    found = least_squares(
        lambda v: residual(v)[0],
        start,
        jac=lambda v: residual(v)[1],
        bounds=(-bound, bound),
        max_nfev=most_steps,
        ftol=1e-9,
        xtol=1e-9,
        gtol=1e-12,
    )
    return found.x, float(found.cost)


def reflection_residual(x: Reals, wanted: Complexes, weight: Reals, sharpest: float = math.inf) -> Residual:
    """Residuals weight times (reflection found - wanted), real parts before imaginary ones; see `ratio_and_slope`."""
    target = reflection(wanted)

    def residual(logs: Reals) -> tuple[Reals, Reals]:
        beta, slope = ratio_and_slope(logs, x, sharpest)
        by_beta = -2.0 / (1.0 + beta) ** 2 * weight
        return real_parts((reflection(beta) - target) * weight), real_parts(by_beta[:, None] * slope)

    return residual


NO_EFFECT = 1e-150
"""Length of a candidate's column up to which it changes nothing, as near full absorption; its square is not 0."""


def starts(have: Reals, grid: Reals, old: Reals, matrix: Reals, goal: Reals) -> list[Reals]:
    """Values (branch, 3) to refine: what we `have`, rescaled, with each of the most promising of `grid`.

    old (residual, branch), matrix (residual, candidate), goal (residual,) : the problem, linear in the shares.
    """
    from scipy.optimize import nnls  # as above

    length = np.maximum(np.linalg.norm(matrix, axis=0), NO_EFFECT)
    gain = matrix.T @ (goal - old.sum(axis=1)) / length
    found = []
    for _ in range(TRIED):
        best = int(np.argmax(gain))
        if gain[best] <= 0.0:
            break
        shares, _ = nnls(np.concatenate([old, matrix[:, best : best + 1]], axis=1), goal)
        rows = np.concatenate([have, grid[best : best + 1]]) / np.maximum(shares, 1e-4)[:, None]
        found.append(np.maximum(rows, 1e-6))
        alike = np.abs(matrix.T @ matrix[:, best]) / (length * length[best])
        gain = np.where(alike > 0.9, -np.inf, gain)
    return found


def columns(values: Reals, x: Reals) -> Complexes:
    """rho c Y of each of `values` (branch, 3) on its own: (frequency, branch)."""
    if len(values) == 0:
        return np.zeros((len(x), 0), dtype=complex)
    return np.stack([ratio(row[None], x) for row in values], axis=1)


@dataclass(frozen=True, eq=False)
class Search:
    """One search: wanted rho c Y (frequency,), Re >= 0, and weights, at relative frequencies x.

    counts : share (frequency,) by which an error counts where fits are compared; 1 where `wanted` is known
    sharpest : largest quality factor of a branch; a sharper resonance could stand unseen between the frequencies
    """

    x: Reals
    wanted: Complexes
    weight: Reals
    counts: Reals
    sharpest: float

    @cached_property
    def grid(self) -> tuple[Reals, Complexes]:
        """Candidates (candidate, 3) and the rho c Y of each (frequency, candidate)."""
        rows = candidates(self.x, self.wanted)
        return rows, columns(rows, self.x)

    def error(self, values: Reals) -> float:
        """Largest error of reflection of `values` (branch, 3)."""
        return float(self.errors(values).max())

    def errors(self, values: Reals) -> Reals:
        """Error of reflection (frequency,) of `values` (branch, 3), where it counts."""
        return np.abs(reflection(ratio(values, self.x)) - reflection(self.wanted)) * self.counts

    def one_more(self, have: Reals) -> Reals:
        """`have` (branch, 3) and the best further branch, refined together; `have` itself if none helps."""
        old = columns(have, self.x)
        now = old.sum(axis=1) if len(have) else self.wanted
        # R_found - R_wanted = 2 (wanted - found)/((1 + found)(1 + wanted)): the linear problem has this weight.
        scale = 2.0 * self.weight / np.abs((1.0 + now) * (1.0 + self.wanted))
        grid, grid_columns = self.grid
        both = real_parts(old * scale[:, None]), real_parts(grid_columns * scale[:, None])
        residual = reflection_residual(self.x, self.wanted, self.weight, self.sharpest)
        first = starts(have, grid, *both, real_parts(self.wanted * scale))
        tried = [refined(unbounded(rows, self.sharpest), residual, 20) for rows in first]
        if not tried:
            return have
        return bounded(refined(min(tried, key=lambda t: t[1])[0], residual)[0], self.sharpest)

    def exchanged(self, values: Reals) -> Reals:
        """`values`, each branch in turn taken out and sought anew where that lowers the error."""
        best, least = values, self.error(values)
        for _ in range(len(values)):
            trial = self.one_more(best[1:])  # puts the new one last, so the next in turn is again the first
            error = self.error(trial)
            best, least = (trial, error) if error < least else (np.roll(best, -1, axis=0), least)
            if least < GOOD_ENOUGH:
                break
        return best


def find(search: Search, most: int) -> Reals:
    """Relative values (branch, 3) of at most `most` branches for what `search` wants."""
    best = have = np.zeros((0, 3))
    least = search.error(best)
    if least < NEGLIGIBLE:
        return best
    for _ in range(most):
        have = search.one_more(have)
        error = search.error(have)
        if error < 0.98 * least:
            best, least = have, error
        if error < GOOD_ENOUGH:
            break
    if least > POOR and len(best) > 1:
        best = search.exchanged(best)
    return simplified(_levelled(best, search), search.x)


def _levelled(values: Reals, search: Search) -> Reals:
    """`values`, or ones of smaller largest error: least squares again, with more weight where the error is large."""
    x, weight = search.x, search.weight
    best, least = values, search.error(values)
    for _ in range(LEVELLED if least > GOOD_ENOUGH else 0):
        size = search.errors(values)
        weight = weight * np.sqrt(0.1 + size / size.max())
        residual = reflection_residual(x, search.wanted, weight, search.sharpest)
        values = bounded(refined(unbounded(values, search.sharpest), residual, 15)[0], search.sharpest)
        error = search.error(values)
        if error < least:
            best, least = values, error
    return best


def simplified(values: Reals, x: Reals) -> Reals:
    """`values` without what does not matter at x: single terms set to zero, whole branches left out.

    A branch with both mass and spring keeps its resistance: without it, a resonance beyond the range of x, where
    nothing is compared, would ring for ever.
    """
    target = reflection(ratio(values, x))

    def changes(trial: Reals) -> bool:
        return bool(np.abs(reflection(ratio(trial, x)) - target).max() > NEGLIGIBLE)

    rows = values.copy()
    for i in reversed(range(len(rows))):
        without = np.delete(rows, i, axis=0)
        if not changes(without):
            rows = without
    for i, j in product(range(len(rows)), (0, 2, 1)):
        if j == 1 and rows[i, 0] > 0.0 and rows[i, 2] > 0.0:
            continue
        trial = rows.copy()
        trial[i, j] = 0.0
        if trial[i].any() and not changes(trial):
            rows = trial
    return rows
