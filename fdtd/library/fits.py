"""Fits that are remembered: a scene with many variants asks for the same ones again and again."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fdtd.physics.active import ActiveUnit
from fdtd.physics.admittance import Branches
from fdtd.physics.control import StateSpace
from fdtd.physics.design import Design, Fit
from fdtd.physics.designs import design_branches
from fdtd.physics.fitting import fit_absorption, fit_admittance, fit_poles
from fdtd.physics.medium import Medium

_KEPT = 512


def design_fit(design: Design, medium: Medium) -> Fit:
    """Branches of a build-up; see `physics.designs.design_branches`."""
    return _design_fit(design, medium)  # type: ignore[arg-type]  # every design is a frozen dataclass, so it has a hash


@lru_cache(maxsize=_KEPT)
def _design_fit(design: Design, medium: Medium) -> Fit:
    return design_branches(design, medium)


@lru_cache(maxsize=_KEPT)
def active_parts(unit: ActiveUnit, medium: Medium) -> tuple[Branches, StateSpace]:
    """What an active unit does switched off, and what its controller adds to that at gain 1."""
    return unit.passive(medium), unit.control(medium)


@lru_cache(maxsize=_KEPT)
def absorption_fit(bands: tuple[tuple[float, float], ...], medium: Medium) -> Fit:
    """Branches of random-incidence absorption, ((band's centre in Hz, absorption), ...); see `fit_absorption`."""
    return fit_absorption(dict(bands), medium)


def admittance_fit(frequency: NDArray[np.float64], admittance: NDArray[np.complex128], medium: Medium) -> Fit:
    """Branches of a specific admittance (frequency,) in m/(Pa·s) at (frequency,) Hz; see `fit_admittance`."""
    return _admittance_fit(_bytes(frequency), _bytes(admittance), medium)


def pole_fit(frequency: NDArray[np.float64], admittance: NDArray[np.complex128]) -> StateSpace:
    """State space of an admittance that is not passive; see `fit_poles`."""
    return _pole_fit(_bytes(frequency), _bytes(admittance))


def _bytes(values: NDArray[np.generic]) -> bytes:
    return np.ascontiguousarray(values).tobytes()


@lru_cache(maxsize=_KEPT)
def _admittance_fit(frequency: bytes, admittance: bytes, medium: Medium) -> Fit:
    return fit_admittance(np.frombuffer(frequency), np.frombuffer(admittance, dtype=complex), medium)


@lru_cache(maxsize=_KEPT)
def _pole_fit(frequency: bytes, admittance: bytes) -> StateSpace:
    return fit_poles(np.frombuffer(frequency), np.frombuffer(admittance, dtype=complex))
