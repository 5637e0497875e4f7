"""The two origins of a surface side by side: what each absorbs, and where they disagree."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.library.surfaces import LibrarySurface, fitted
from fdtd.physics import air
from fdtd.physics.admittance import admittance, diffuse_absorption
from fdtd.physics.medium import Medium

AIR = Medium(air.density(20.0, 50.0, 101.325), air.speed_of_sound(20.0, 50.0, 101.325))
"""The air where there is no scene: 20 °C, 50 % humidity, 101.325 kPa."""

FAR_APART = 2.0
"""Ratio of absorption above which two origins are said to disagree."""

_NOTHING = 1e-6
"""Absorption below which a ratio would mean nothing."""


@dataclass(frozen=True, eq=False)
class Apart:
    """far : (frequency,), where two origins disagree; worst : index of the largest ratio; factor : that ratio."""

    far: NDArray[np.bool_]
    worst: int
    factor: float


def apart(one: ArrayLike, other: ArrayLike) -> Apart | None:
    """Where two absorptions (frequency,) differ by more than a factor of `FAR_APART`; None if nowhere."""
    a, b = (np.maximum(np.asarray(x, dtype=float), _NOTHING) for x in (one, other))
    factor = np.exp(np.abs(np.log(a / b)))
    far = factor > FAR_APART
    worst = int(np.argmax(factor))
    return Apart(far, worst, float(factor[worst])) if far.any() else None


def absorption(
    surface: LibrarySurface, origin: str | None, frequency: ArrayLike, medium: Medium = AIR
) -> NDArray[np.float64]:
    """Random-incidence absorption of the branches that stand for `surface` by `origin` (None: the one used).

    frequency : Hz, any shape. Raises ValueError if the surface does not have that origin.
    """
    branches = fitted(surface, medium, origin).branches
    return diffuse_absorption(admittance(branches, np.asarray(frequency, dtype=float)) * medium.impedance)
