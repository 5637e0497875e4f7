"""From a complex admittance to a few passive branches that absorb and reflect alike.

What counts in a room is the reflected sound, so the error that is made small is that of the reflection coefficient
R = (1 - beta)/(1 + beta), beta = rho c Y, not that of Y itself. Tables of absorption are fitted in absorption.py, what
is not passive with poles in poles.py.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fdtd.physics import fit_branches
from fdtd.physics.admittance import RIGID, Branches, admittance, normal_absorption
from fdtd.physics.control import StateSpace
from fdtd.physics.design import Fit
from fdtd.physics.fit_terms import MOST_POINTS, Complexes, Reals, Scale, dense, held, sharpest, spread
from fdtd.physics.medium import Medium

HELD_WEIGHT = 0.02
"""Weight of reflection where a table does not reach: its end value is no more than a guess there."""


def fit_admittance(frequency: ArrayLike, admittance: ArrayLike, medium: Medium, most: int = 4) -> Fit:
    """At most `most` branches (fewer where they are enough) for a complex specific admittance.

    frequency : (frequency,) Hz, > 0, rising; admittance : (frequency,) m/(Pa·s), Re >= 0 for a passive surface. Where
    Re is negative it is taken as zero for the search, so the branches are never active; the error that is reported
    is against the values as given. A table with gaps (steps of more than 3 % in frequency) is interpolated over log f,
    searched and compared in between as well, and no resonance is sharper than its rows can show. Where it does not
    reach from 15 to 250 Hz, the fit is drawn towards its end values there, which the error does not count.

    Raises ValueError for shapes that differ, frequencies that do not rise from above zero, values that are not finite.
    """
    f, values = np.asarray(frequency, dtype=float), np.asarray(admittance, dtype=complex)
    _check(f, values, most)
    rows, known = f, dense(f, values)
    f, values = dense(*held(f, values))
    wanted = values * medium.impedance
    used = spread(f, MOST_POINTS)
    scale = Scale(medium.impedance, float(np.sqrt(f[0] * f[-1])))
    passive = np.maximum(wanted.real, 0.0) + 1j * wanted.imag
    counts = np.where((f[used] < rows[0]) | (f[used] > rows[-1]), HELD_WEIGHT, 1.0)
    weight, bound = _weight(f[used]) * counts, sharpest(rows, f[used])
    search = fit_branches.Search(f[used] / scale.frequency, passive[used], weight, counts, bound)
    found = fit_branches.find(search, most)
    return compared(scale.branches(found), *known, medium)


def compared(branches: Branches, frequency: Reals, wanted: Complexes, medium: Medium) -> Fit:
    """`branches` beside the specific admittance `wanted` (frequency,), m/(Pa·s), that they stand for."""
    found = admittance(branches, frequency) if branches else np.zeros(len(frequency), dtype=complex)
    beta, found = wanted * medium.impedance, found * medium.impedance
    with np.errstate(divide="ignore", invalid="ignore"):  # beta = -1, an active surface: infinite absorption
        difference = np.abs(normal_absorption(found) - normal_absorption(beta))
    return Fit(branches or RIGID, frequency, beta, float(np.nan_to_num(difference, nan=np.inf).max()))


def poles_compared(control: StateSpace, frequency: Reals, wanted: Complexes, medium: Medium) -> Fit:
    """`control` beside the specific admittance `wanted` (frequency,), m/(Pa·s), that it stands for; no branches.

    The Fit's error is the largest |difference| of the admittances over the largest |wanted|: what gives out energy has
    no absorption that could be compared, as that grows beyond all bounds towards rho c Y = -1.
    """
    f, values = dense(frequency, wanted)
    largest = max(float(np.abs(values).max()), 1e-300)
    error = float(np.abs(control.admittance(f) - values).max()) / largest
    return Fit(RIGID, f, values * medium.impedance, error)


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


def _weight(frequency: Reals) -> Reals:
    """Weights (frequency,) that count each octave alike however its frequencies are spaced; mean square 1."""
    if len(frequency) < 3:
        return np.ones(len(frequency))
    width = np.gradient(np.log(frequency))
    return np.asarray(np.sqrt(np.maximum(width / width.mean(), 0.1)))
