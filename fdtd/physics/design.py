"""What a surface or a unit is built of, and how well a few branches stand for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.physics.admittance import Branches
from fdtd.physics.medium import Medium


class Design(Protocol):
    """A build-up: a frozen dataclass of SI numbers that knows its own admittance."""

    kind: ClassVar[str]

    def admittance(self, frequency: ArrayLike, medium: Medium) -> NDArray[np.complex128]:
        """Specific admittance of the face by theory, m/(Pa·s), at `frequency` in Hz (> 0); the shape of `frequency`."""
        ...


@dataclass(frozen=True)
class Band:
    """Random-incidence absorption at one band's centre: wanted (of the table), found (of the branches)."""

    frequency: float
    wanted: float
    found: float


@dataclass(frozen=True, eq=False)
class Fit:
    """Branches that stand for an admittance, and how well.

    frequency : (frequency,) Hz; wanted : (frequency,) complex rho c Y at them; error : largest difference of
    absorption between wanted and found (normal incidence over `frequency`; random incidence over `bands` for a table of
    absorption); of poles the largest difference of admittance as a share of the largest wanted (fitting.poles_compared)
    """

    branches: Branches
    frequency: NDArray[np.float64]
    wanted: NDArray[np.complex128]
    error: float
    bands: tuple[Band, ...] = ()
