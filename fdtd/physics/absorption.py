"""From a printed table of random-incidence absorption to branches.

A table says nothing of phase, so a real local admittance is taken (on the hard side, beta = rho c Y below 0.64): the
one whose Paris integral over all angles up to 90 degrees is the printed value. A real admittance that changes with
frequency is not causal; the branches found are as nearly real as a few can be while their own absorption is that of
the table (`largest_phase` says how nearly; 50 to 80 degrees for tables that change by 3 to 5 in an octave).
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from fdtd.physics.admittance import RIGID, Branches, admittance, diffuse_absorption
from fdtd.physics.design import Band, Fit
from fdtd.physics.fit_bands import Task, search
from fdtd.physics.fit_terms import Reals, Scale, ratio
from fdtd.physics.medium import Medium

TOP = 250.0
"""Hz: bands beyond the first at or above it are left out; they would draw branches away from what is simulated."""

MOST = 4
"""Most branches for a table."""


def admittance_ratio_of_absorption(absorption: float) -> float:
    """Real rho c Y, at most 0.64, of random-incidence `absorption` by Paris' integral (see diffuse_absorption).

    Raises ValueError below 0 and above 0.951, the most that a real local admittance absorbs at random incidence
    (Kuttruff, Room Acoustics, ch. 2).
    """
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
    found = minimize_scalar(lambda b: -float(diffuse_absorption(b)), bounds=(0.3, 1.0), options={"xatol": 1e-9})
    return float(found.x), -float(found.fun)


def largest_phase(branches: Branches, frequency: Reals) -> float:
    """Largest |phase| of the admittance of `branches` at `frequency` in Hz, degrees: 0 real, 90 nothing but reactance.

    Rigid surfaces have none: 0.
    """
    if not branches:
        return 0.0
    return float(np.abs(np.angle(admittance(branches, frequency), deg=True)).max())


def fit_absorption(bands: dict[float, float], medium: Medium) -> Fit:
    """Branches, four at most, whose own random-incidence absorption is that of a table.

    bands : centre frequency in Hz (> 0) -> absorption, in any order. Bands beyond the first at or above 250 Hz are left
    out. Between centres the real admittance is interpolated over log f, outside the end values hold; the Fit's `wanted`
    is that admittance from 15 Hz (or lower) to 250 Hz (or the highest band). No absorption anywhere gives a rigid
    surface.

    Raises ValueError for an empty table, a frequency that is not above zero, or absorption that no real local
    admittance has.
    """
    centres = np.array(sorted(bands), dtype=float)
    if len(centres) == 0 or not (np.isfinite(centres).all() and centres[0] > 0.0):
        raise ValueError("a table of absorption needs at least one band with its centre frequency in Hz above zero")
    centres = centres[: np.searchsorted(centres, TOP) + 1]
    table = np.array([bands[f] for f in centres])
    beta = np.array([_named(f, a) for f, a in zip(centres, table, strict=True)])
    frequency = np.geomspace(min(15.0, centres[0]), max(TOP, centres[-1]), 121)
    wanted = np.interp(np.log(frequency), np.log(centres), beta).astype(complex)
    scale = Scale(medium.impedance, float(np.sqrt(frequency[0] * frequency[-1])))
    values = search(Task.of(centres, table, beta, frequency, scale)) if beta.any() else np.zeros((0, 3))
    found = diffuse_absorption(ratio(values, centres / scale.frequency))
    rows = tuple(Band(*map(float, row)) for row in zip(centres, table, found, strict=True))
    branches = scale.branches(values) or RIGID
    return Fit(branches, frequency, wanted, float(np.abs(found - table).max()), rows)


def _named(frequency: float, absorption: float) -> float:
    try:
        return admittance_ratio_of_absorption(absorption)
    except ValueError as e:
        raise ValueError(f"{frequency:g} Hz: {e}") from None
