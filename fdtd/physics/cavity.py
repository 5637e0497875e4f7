"""The closed cavity behind a panel, empty or with porous material in it, and the resonance with what is in front."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.physics import layers
from fdtd.physics.layers import ComplexArray
from fdtd.physics.medium import Medium
from fdtd.physics.porous import johnson_champoux_allard

LOWEST, HIGHEST = 1e-3, 1e5
"""Range in which a resonance is looked for, Hz."""


def cavity_impedance(
    frequency: ArrayLike, medium: Medium, depth: float, fill_depth: float = 0.0, fill_resistivity: float = 0.0
) -> ComplexArray:
    """Specific impedance at the front of a closed cavity, Pa·s/m; empty: -j rho c cot(k depth).

    frequency : Hz; depth, fill_depth : m; fill_resistivity : Pa·s/m². The fill lies against the back wall, with
    porosity and tortuosity as `porous.johnson_champoux_allard` takes them; the rest, in front, is air.
    """
    behind: ArrayLike = 0.0
    if fill_depth > 0.0:
        fill = johnson_champoux_allard(frequency, medium, fill_resistivity)
        behind = layers.admittance_in_front(fill, fill_depth)
    front = layers.admittance_in_front(layers.air(frequency, medium), depth - fill_depth, behind)
    return np.asarray(1.0 / front, dtype=complex)


def first_resonance(reactance: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> float:
    """Lowest frequency, Hz, at which the reactance rises through zero.

    reactance : frequencies, (frequency,) Hz, to Im Z, (frequency,). Raises ValueError where there is none.
    """
    from scipy.optimize import brentq  # slow to load, and most scenes do without it

    grid = np.geomspace(LOWEST, HIGHEST, 4000)
    value = reactance(grid)
    rising = np.flatnonzero((value[:-1] < 0.0) & (value[1:] >= 0.0))
    if not rising.size:
        raise ValueError(f"no resonance between {LOWEST:g} and {HIGHEST:g} Hz: check mass, depth and stiffness")
    low, high = grid[rising[0]], grid[rising[0] + 1]
    return float(brentq(lambda f: float(reactance(np.array([f]))[0]), low, high, xtol=1e-12, rtol=1e-12))
