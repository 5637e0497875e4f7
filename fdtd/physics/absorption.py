"""From a table of absorption, printed (random incidence) or measured in a tube (normal incidence), to branches.

A table says nothing of phase, so a real local admittance is taken (on the hard side, beta = rho c Y below 0.64): the
one whose Paris integral over all angles up to 90 degrees is the printed value; at normal incidence (beta up to 1) that
of 4 beta/(1 + beta)². A real admittance that changes with
frequency is not causal; the branches found are as nearly real as a few can be while their own absorption is that of
the table (phases of 50 to 80 degrees for tables that change by 3 to 5 in an octave).
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from fdtd.physics.admittance import RIGID, diffuse_absorption, normal_absorption
from fdtd.physics.design import Band, Fit
from fdtd.physics.fit_bands import NORMAL, SHARPEST, Task, search
from fdtd.physics.fit_terms import LOW, MOST_POINTS, TOP, Reals, Scale, dense, held, ratio, sharpest, spread
from fdtd.physics.medium import Medium

HIGHEST_BOUND = 25.0
"""Quality factor above which no measured absorption is asked to go, however close its rows stand."""

MOST_ROWS = 40
"""Rows of a measured table that the search meets; what stands between them counts as the course between."""


def admittance_ratio_of_absorption(absorption: float) -> float:
    """Real rho c Y, at most 0.64, of random-incidence `absorption` by Paris' integral (see diffuse_absorption).

    Raises ValueError below 0 and above 0.951, the most that a real local admittance absorbs at random incidence
    (Kuttruff, Room Acoustics, ch. 2).
    """
    from scipy.optimize import brentq  # slow to load, and most scenes do without it

    best, highest = _most_absorbing()
    if not (math.isfinite(absorption) and 0.0 <= absorption <= highest):
        raise ValueError(
            f"random-incidence absorption must lie between 0 and {highest:.3f}, the most that a locally reacting "
            f"surface with a real admittance can absorb; found {absorption:g}. Tables above it hold edge effects of "
            f"the measurement: enter {math.floor(highest * 100) / 100:g} or less"
        )
    if absorption == 0.0:
        return 0.0
    if absorption == highest:
        return best
    low = absorption / 16.0  # alpha = 8 beta at most, when beta is small
    return float(brentq(lambda b: float(diffuse_absorption(b)) - absorption, low, best, xtol=1e-14, rtol=1e-12))


@cache
def _most_absorbing() -> tuple[float, float]:
    """The real rho c Y that absorbs most at random incidence, and its absorption."""
    from scipy.optimize import minimize_scalar  # as above

    found = minimize_scalar(lambda b: -float(diffuse_absorption(b)), bounds=(0.3, 1.0), options={"xatol": 1e-9})
    return float(found.x), -float(found.fun)


def fit_absorption(bands: dict[float, float], medium: Medium) -> Fit:
    """Branches, four at most, whose own random-incidence absorption is that of a table.

    bands : centre frequency in Hz (> 0) -> absorption, in any order. Bands beyond the first at or above 250 Hz are left
    out: they would draw branches away from what is simulated. Between centres the real admittance is interpolated over
    log f, outside the end values hold; the Fit's `wanted` is that admittance from 15 Hz (or lower) to 250 Hz (or the
    highest band). No absorption anywhere gives a rigid surface.

    Raises ValueError for an empty table, a frequency that is not above zero, or absorption that no real local
    admittance has.
    """
    centres = np.array(sorted(bands), dtype=float)
    if len(centres) == 0 or not (np.isfinite(centres).all() and centres[0] > 0.0):
        raise ValueError("a table of absorption needs at least one band with its centre frequency in Hz above zero")
    centres = centres[: np.searchsorted(centres, TOP) + 1]
    table = np.array([bands[f] for f in centres])
    beta = np.array([_named(f, a) for f, a in zip(centres, table, strict=True)])
    frequency = np.geomspace(min(LOW, centres[0]), max(TOP, centres[-1]), 121)
    wanted = np.interp(np.log(frequency), np.log(centres), beta).astype(complex)
    scale = Scale(medium.impedance, float(np.sqrt(frequency[0] * frequency[-1])))
    values = search(Task.of(centres, table, beta, frequency, scale)) if beta.any() else np.zeros((0, 3))
    found = diffuse_absorption(ratio(values, centres / scale.frequency))
    rows = tuple(Band(*map(float, row)) for row in zip(centres, table, found, strict=True))
    branches = scale.branches(values) or RIGID
    return Fit(branches, frequency, wanted, float(np.abs(found - table).max()), rows)


def hard_side(absorption: Reals) -> Reals:
    """beta <= 1 of alpha = 4 beta/(1 + beta)² (Kuttruff, Room Acoustics, ch. 2) for `absorption` from 0 to 1.

    (1 - r)/(1 + r) with r = sqrt(1 - alpha), written free of cancellation.
    """
    return np.asarray(absorption / (1.0 + np.sqrt(1.0 - absorption)) ** 2)


def fit_normal_absorption(frequency: Reals, absorption: Reals, medium: Medium) -> Fit:
    """Branches, four at most, whose own absorption at normal incidence is that of a table.

    frequency : (frequency,) Hz, > 0, rising; absorption : (frequency,), 0 to 1. The Fit's `wanted` is the real
    admittance on the hard side, interpolated over log f; its error is that of absorption at normal incidence. Where the
    table does not reach from 15 to 250 Hz, the fit is drawn towards its end values, which the error does not count. No
    resonance is sharper than the rows can show.

    Raises ValueError for shapes that differ, frequencies that do not rise from above zero, or absorption out of range.
    """
    f, alpha = np.asarray(frequency, dtype=float), np.asarray(absorption, dtype=float)
    if f.ndim != 1 or f.shape != alpha.shape or len(f) == 0 or not (f[0] > 0.0 and (np.diff(f) > 0.0).all()):
        raise ValueError("frequency and absorption must be lists of one length, frequencies rising from above zero")
    if not (np.isfinite(f).all() and ((alpha >= 0.0) & (alpha <= 1.0)).all()):
        raise ValueError("absorption at normal incidence must lie between 0 and 1")
    grid, _ = dense(*held(f, hard_side(alpha).astype(complex)))
    scale = Scale(medium.impedance, float(np.sqrt(grid[0] * grid[-1])))
    used, points = spread(f, MOST_ROWS), grid[spread(grid, MOST_POINTS)]
    centres, table = f[used], alpha[used]
    bound = float(np.clip(sharpest(f, points), SHARPEST, HIGHEST_BOUND))
    values = np.zeros((0, 3))
    if alpha.any():
        values = search(Task.of(centres, table, hard_side(table), points, scale, NORMAL, bound))
    branches = scale.branches(values) or RIGID
    known, wanted = dense(f, hard_side(alpha).astype(complex))
    found = ratio(values, known / scale.frequency)
    error = float(np.abs(normal_absorption(found) - normal_absorption(wanted)).max())
    return Fit(branches, known, wanted, error)


def _named(frequency: float, absorption: float) -> float:
    try:
        return admittance_ratio_of_absorption(absorption)
    except ValueError as e:
        raise ValueError(f"{frequency:g} Hz: {e}") from None
