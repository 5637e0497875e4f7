"""The search for branches whose absorption, at random or at normal incidence, is that of a table (see absorption.py).

Four wishes are weighed: the table at its centres; between them a course that stays in the range of the two neighbours;
close to the real admittance interpolated between them; little phase. Branches are added until the first two are met.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fdtd.physics.fit_branches import candidates, columns, refined, simplified, starts
from fdtd.physics.fit_terms import Complexes, Reals, Scale, bounded, ratio, ratio_and_slope, unbounded

PHASE_WEIGHT = 0.05
BETWEEN_WEIGHT = 0.1
OVERSHOOT_WEIGHT = 1.0
"""Weights beside 1 for a band centre: the phase; the course between centres; leaving the range of its neighbours."""

GOOD_ENOUGH = 0.2
"""Cost of all wishes together below which no further branch is tried."""

SHARPEST = 6.0
"""Quality factor above which a branch is drawn back: a table of octave bands knows of no sharper resonance, and one
that stands between the points of the search would go unseen."""

NO_SHARPER = 2.0
"""Times this bound: what no branch passes, however far from it the table draws."""


@dataclass(frozen=True, eq=False)
class Incidence:
    """Cosines (angle,) of the directions of sound, and the share (angle,) of each in the absorption."""

    cosine: Reals
    share: Reals

    def absorption(self, beta: Complexes | Reals) -> Reals:
        """Of rho c Y = `beta` (frequency,)."""
        return self.absorption_and_slope(np.asarray(beta, dtype=complex))[0]

    def absorption_and_slope(self, beta: Complexes) -> tuple[Reals, Reals, Reals]:
        """Absorption (frequency,) and its derivatives by the real and the imaginary part of `beta` (frequency,)."""
        re, im = beta.real[:, None], beta.imag[:, None]
        square = (self.cosine + re) ** 2 + im**2
        kernel = 4.0 * self.cosine * self.share / square
        total = kernel.sum(axis=1)
        falling = 2.0 * re * kernel / square
        by_real = total - np.sum(falling * (self.cosine + re), axis=1)
        return total * beta.real, by_real, -np.sum(falling * im, axis=1)


def _random(angles: int) -> Incidence:
    """Paris' integral by Gauss-Legendre quadrature in the cosine (see diffuse_absorption)."""
    node, share = np.polynomial.legendre.leggauss(angles)
    cosine = 0.5 * (node + 1.0)
    return Incidence(cosine, share * cosine)


RANDOM = _random(24)
"""All directions alike; what is reported is computed with more angles."""

NORMAL = Incidence(np.ones(1), np.ones(1))
"""Straight on."""


@dataclass(frozen=True, eq=False)
class Task:
    """What the search needs, at relative frequencies x: `centres` band centres first, then points between and beyond.

    beta : real rho c Y; wanted : its absorption; low, high : the range of the neighbouring bands;
    between, phase, overshoot : weights of the other wishes; incidence : of which absorption the table is;
    sharpest : quality factor above which a branch is drawn back
    """

    x: Reals
    beta: Reals
    wanted: Reals
    low: Reals
    high: Reals
    between: Reals
    overshoot: Reals
    phase: Reals
    centres: int
    incidence: Incidence = RANDOM
    sharpest: float = SHARPEST

    @staticmethod
    def of(
        centres: Reals,
        table: Reals,
        beta: Reals,
        frequency: Reals,
        scale: Scale,
        incidence: Incidence = RANDOM,
        sharpest: float = SHARPEST,
    ) -> Task:
        """The task of a `table` of absorption, real ratios `beta` at its `centres`, over `frequency` (all Hz)."""
        f = np.concatenate([centres, frequency[::2]])
        ratios = np.interp(np.log(f), np.log(centres), beta)
        wanted = incidence.absorption(ratios)
        after = np.minimum(np.searchsorted(centres, f), len(centres) - 1)
        before = np.maximum(np.searchsorted(centres, f, side="right") - 1, 0)
        low, high = np.minimum(table[before], table[after]), np.maximum(table[before], table[after])
        n, inside = len(centres), (f >= centres[0]) & (f <= centres[-1])
        weight = 1.0 / (0.002 + 0.03 * wanted)
        share = np.sqrt(n / (len(f) - n))
        between = np.where(np.arange(len(f)) < n, 1.0, BETWEEN_WEIGHT * share) * weight
        overshoot = OVERSHOOT_WEIGHT * share * weight * inside
        phase = PHASE_WEIGHT * share / (0.002 + 0.1 * ratios) * np.where(inside, 1.0, 0.5)
        return Task(f / scale.frequency, ratios, wanted, low, high, between, overshoot, phase, n, incidence, sharpest)

    def firmer(self) -> Task:
        """The same with the centres counting three times as much as the other wishes."""
        first = np.arange(len(self.x)) < self.centres
        return replace(self, between=self.between * np.where(first, 1.0, 0.3), phase=self.phase * 0.3)

    def residual(self, logs: Reals) -> tuple[Reals, Reals]:
        """All wishes in one list of residuals, with their derivatives by flat `logs`."""
        beta, slope = ratio_and_slope(logs, self.x, NO_SHARPER * self.sharpest)
        alpha, by_real, by_imag = self.incidence.absorption_and_slope(beta)
        alpha_slope = by_real[:, None] * slope.real + by_imag[:, None] * slope.imag
        over = np.maximum(alpha - self.high, 0.0) + np.minimum(alpha - self.low, 0.0)
        hinge = self.overshoot * (over != 0.0)
        sharp, sharp_slope = _sharpness(logs, self.sharpest)
        values = [(alpha - self.wanted) * self.between, over * hinge, beta.imag * self.phase, sharp]
        slopes = [alpha_slope * self.between[:, None], alpha_slope * hinge[:, None], slope.imag * self.phase[:, None]]
        slopes.append(sharp_slope)
        return np.concatenate(values), np.concatenate(slopes)

    def values(self, logs: Reals) -> Reals:
        """Values (branch, 3) that flat `logs` stand for."""
        return bounded(logs, NO_SHARPER * self.sharpest)

    def logs(self, values: Reals) -> Reals:
        """Flat logarithms that stand for `values` (branch, 3)."""
        return unbounded(values, NO_SHARPER * self.sharpest)

    def linear(self, admittances: Complexes, around: Complexes) -> Reals:
        """Residuals (residual, branch) that `admittances` (x, branch) add near the ratio `around` (x,)."""
        _, by_real, by_imag = self.incidence.absorption_and_slope(around)
        change = by_real[:, None] * admittances.real + by_imag[:, None] * admittances.imag
        return np.concatenate([change * self.between[:, None], admittances.imag * self.phase[:, None]])

    def misses(self, values: Reals) -> float:
        """Largest error at a centre or overshoot between them, in parts of what is allowed (1 is good)."""
        alpha = self.incidence.absorption(ratio(values, self.x))
        allowed = np.minimum(0.005, 0.001 + 0.05 * self.wanted)
        centre = (np.abs(alpha - self.wanted) / allowed)[: self.centres]
        over = np.maximum(np.maximum(alpha - self.high, self.low - alpha), 0.0) / (0.01 + 0.1 * self.wanted)
        return float(max(centre.max(), over[self.overshoot > 0.0].max()))


def _sharpness(logs: Reals, sharpest: float) -> tuple[Reals, Reals]:
    """By how much ln Q = (ln M + ln K)/2 - ln R of each branch passes the bound, and its slopes (branch, 3 branch)."""
    excess = logs.reshape(-1, 3) @ np.array([0.5, -1.0, 0.5]) - np.log(sharpest)
    slope = np.kron(np.diag(1.0 * (excess > 0.0)), np.array([[0.5, -1.0, 0.5]]))
    return np.maximum(excess, 0.0), slope


def search(task: Task, most: int = 4) -> Reals:
    """Few branches that meet every band, or of up to `most` those that come nearest: values (branch, 3).

    Once the bands are met, one more branch is kept only if it halves the cost: a better course or less phase.
    """
    x, order = task.x, np.argsort(task.x)
    grid = candidates(x[order], task.beta[order].astype(complex))
    grid_columns, have = columns(grid, x), np.zeros((0, 3))
    best, least, least_cost = have, np.inf, np.inf
    for _ in range(most):
        tried = [refined(s, task.residual, 40) for s in _further(task, have, grid, grid_columns)]
        if not tried:
            break
        logs, cost = min(tried, key=lambda t: t[1])
        have = task.values(logs)
        trial, miss = have, task.misses(have)
        if miss > 1.0:
            trial = task.values(refined(logs, task.firmer().residual, 30)[0])
            miss = task.misses(trial)
        met = least <= 1.0
        if (met and miss <= 1.0 and cost < 0.5 * least_cost) or (not met and miss < least):
            best, least, least_cost = trial, miss, cost
        elif met:
            break
        if least <= 1.0 and least_cost < GOOD_ENOUGH:
            break
    return simplified(best, x)


NEARLY_ALL = 0.99
"""Real rho c Y from which a first branch is looked for at most: at 1, where all is absorbed, the slope is 0."""


def _further(task: Task, have: Reals, grid: Reals, grid_columns: Complexes) -> list[Reals]:
    """Flat logarithms of what we `have` (branch, 3) with one more branch of `grid`, the most promising choices."""
    old = columns(have, task.x)
    around = old.sum(axis=1) if len(have) else np.minimum(task.beta, NEARLY_ALL).astype(complex)
    goal = task.linear(task.beta[:, None].astype(complex), around)[:, 0]
    found = starts(have, grid, task.linear(old, around), task.linear(grid_columns, around), goal)
    return [task.logs(rows) for rows in found]
