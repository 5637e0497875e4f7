"""Fits that are remembered: a scene with many variants asks for the same ones again and again."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from fdtd.physics.absorption import fit_absorption, fit_normal_absorption
from fdtd.physics.active import ActiveUnit
from fdtd.physics.admittance import Branches
from fdtd.physics.control import StateSpace
from fdtd.physics.design import Design, Fit
from fdtd.physics.designs import design_branches
from fdtd.physics.fitting import fit_admittance
from fdtd.physics.medium import Medium
from fdtd.physics.poles import fit_poles

_KEPT = 512


# Every design is a frozen dataclass, so it has a hash.
design_fit: Callable[[Design, Medium], Fit] = lru_cache(maxsize=_KEPT)(design_branches)  # type: ignore[assignment]
"""Branches of a build-up; see `physics.designs.design_branches`."""


@lru_cache(maxsize=_KEPT)
def active_parts(unit: ActiveUnit, medium: Medium) -> tuple[Branches, StateSpace]:
    """What an active unit does switched off, and what its controller adds to that at gain 1."""
    return unit.passive(medium), unit.control(medium)


@lru_cache(maxsize=_KEPT)
def absorption_fit(bands: tuple[tuple[float, float], ...], medium: Medium) -> Fit:
    """Branches of random-incidence absorption, ((band's centre in Hz, absorption), ...); see `fit_absorption`."""
    return fit_absorption(dict(bands), medium)


T = TypeVar("T")


def _remembered(fit: Callable[..., T]) -> Callable[..., T]:
    """`fit`, a function of (frequency, values, ...) with two arrays, such that it is remembered by what they hold."""

    @lru_cache(maxsize=_KEPT)
    def by_bytes(frequency: bytes, values: bytes, kind: str, *more: Medium) -> T:
        return fit(np.frombuffer(frequency), np.frombuffer(values, dtype=kind), *more)

    def of_arrays(frequency: NDArray[np.float64], values: NDArray[Any], *more: Medium) -> T:
        return by_bytes(frequency.tobytes(), values.tobytes(), values.dtype.str, *more)

    return of_arrays


admittance_fit: Callable[[NDArray[np.float64], NDArray[np.complex128], Medium], Fit] = _remembered(fit_admittance)
"""Branches of a specific admittance; see `physics.fitting.fit_admittance`."""

normal_fit: Callable[[NDArray[np.float64], NDArray[np.float64], Medium], Fit] = _remembered(fit_normal_absorption)
"""Branches of absorption at normal incidence; see `physics.fitting.fit_normal_absorption`."""

pole_fit: Callable[[NDArray[np.float64], NDArray[np.complex128]], StateSpace] = _remembered(fit_poles)
"""State space of an admittance that is not passive; see `physics.fitting.fit_poles`."""
