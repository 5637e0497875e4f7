"""From a complex admittance to a few passive branches that absorb and reflect alike.

What counts in a room is the reflected sound, so the error that is made small is that of the reflection coefficient
R = (1 - beta)/(1 + beta), beta = rho c Y, not that of Y itself. The other fits stand in modules of their own and are
offered here too: tables of absorption (absorption.py) and poles for what is not passive (poles.py).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.physics import fit_branches
from fdtd.physics.absorption import admittance_ratio_of_absorption, fit_absorption, largest_phase
from fdtd.physics.admittance import RIGID, Branches, admittance, normal_absorption
from fdtd.physics.control import StateSpace
from fdtd.physics.design import Fit
from fdtd.physics.fit_terms import Complexes, Reals, Scale
from fdtd.physics.medium import Medium
from fdtd.physics.poles import fit_poles, is_passive

__all__ = [
    "admittance_ratio_of_absorption",
    "compared",
    "fit_absorption",
    "fit_admittance",
    "fit_poles",
    "is_passive",
    "largest_phase",
]

MOST_POINTS = 240
"""Longer tables are thinned to this many frequencies for the search; the error is reported over all of them."""


def fit_admittance(frequency: ArrayLike, admittance: ArrayLike, medium: Medium, most: int = 4) -> Fit:
    """At most `most` branches (fewer where they are enough) for a complex specific admittance.

    frequency : (frequency,) Hz, > 0, rising; admittance : (frequency,) m/(Pa·s), Re >= 0 for a passive surface. Where
    Re is negative it is taken as zero for the search, so the branches are never active; the error that is reported
    is against the values as given.

    Raises ValueError for shapes that differ, frequencies that do not rise from above zero, values that are not finite.
    """
    f, values = np.asarray(frequency, dtype=float), np.asarray(admittance, dtype=complex)
    _check(f, values, most)
    wanted = values * medium.impedance
    used = _thinned(f)
    scale = Scale(medium.impedance, float(np.sqrt(f[0] * f[-1])))
    passive = np.maximum(wanted.real, 0.0) + 1j * wanted.imag
    found = fit_branches.find(f[used] / scale.frequency, passive[used], _weight(f[used]), most)
    return compared(scale.branches(found), f, values, medium)


def compared(branches: Branches, frequency: Reals, wanted: Complexes, medium: Medium) -> Fit:
    """`branches` beside the specific admittance `wanted` (frequency,), m/(Pa·s), that they stand for."""
    found = admittance(branches, frequency) if branches else np.zeros(len(frequency), dtype=complex)
    return _judged(branches or RIGID, frequency, found, wanted, medium)


def poles_compared(control: StateSpace, frequency: Reals, wanted: Complexes, medium: Medium) -> Fit:
    """`control` beside the specific admittance `wanted` (frequency,), m/(Pa·s), that it stands for; no branches."""
    return _judged(RIGID, frequency, control.admittance(frequency), wanted, medium)


def _judged(branches: Branches, frequency: Reals, found: Complexes, wanted: Complexes, medium: Medium) -> Fit:
    beta, found = wanted * medium.impedance, found * medium.impedance
    with np.errstate(divide="ignore", invalid="ignore"):  # beta = -1, an active surface: infinite absorption
        difference = np.abs(normal_absorption(found) - normal_absorption(beta))
    return Fit(branches, frequency, beta, float(np.nan_to_num(difference, nan=np.inf).max()))


def _check(frequency: Reals, values: Complexes, most: int) -> None:
    if frequency.ndim != 1 or frequency.shape != values.shape or len(frequency) == 0:
        shapes = f"{frequency.shape} and {values.shape}"
        raise ValueError(f"frequency and admittance must be lists of one length (1 or more), found shapes {shapes}")
    if not (np.isfinite(frequency).all() and frequency[0] > 0.0 and (np.diff(frequency) > 0.0).all()):
        raise ValueError("frequencies must rise from above zero")
    if not np.isfinite(values).all():
        raise ValueError(f"the admittance at {frequency[~np.isfinite(values)][0]:g} Hz is not a finite number")
    if most < 1:
        raise ValueError(f"a fit needs at least one branch, found most = {most}")


def _thinned(frequency: Reals) -> NDArray[np.intp]:
    """Indices of at most MOST_POINTS frequencies, evenly spread over log f, the ends among them."""
    if len(frequency) <= MOST_POINTS:
        return np.arange(len(frequency))
    even = np.geomspace(frequency[0], frequency[-1], MOST_POINTS)
    return np.unique(np.clip(np.searchsorted(frequency, even), 0, len(frequency) - 1))


def _weight(frequency: Reals) -> Reals:
    """Weights (frequency,) that count each octave alike however its frequencies are spaced; mean square 1."""
    if len(frequency) < 3:
        return np.ones(len(frequency))
    width = np.gradient(np.log(frequency))
    return np.asarray(np.sqrt(np.maximum(width / width.mean(), 0.1)))
