"""Reflection of a plane wave from a surface made of branches.

Set-up: duct 4 m long, four cells wide, nearly reflection-free at the source's end, the surface at the other; two seats
0.62 and 0.27 m before it (two-microphone method, ISO 10534-2), 20 to 200 Hz.
Exact: R = (1 - beta)/(1 + beta), beta = rho c Y, Y the sum of the branches (Kuttruff, Room Acoustics, ch. 2).
Expected error: second order in h, from the wall cell, whose pressure and air column are right to first order only, and
from the trapezoidal rule; it grows with (k h)² and with |beta|, and |R| is never above 1.
Tolerance: 0.5 % (of the incident wave) to 200 Hz at h = 0.05 m, 0.9 % for the one surface that is light and nearly a
hole
(|rho c Y| up to 1.5, mass-like); at h = 0.1 m four times that.
"""

from __future__ import annotations

import numpy as np
import pytest
from duct import FREQUENCY, duct, pressures, waves
from numpy.typing import NDArray
from rooms import IMPEDANCE, observed_order, resonant

from fdtd.physics.admittance import Branch, Branches, admittance

LENGTH = 4.0
SURFACES: dict[str, tuple[Branches, float]] = {
    "matched": ((Branch(resistance=IMPEDANCE),), 0.005),
    "softer than air": ((Branch(resistance=IMPEDANCE / 5),), 0.005),
    "harder than air": ((Branch(resistance=5 * IMPEDANCE),), 0.005),
    "resonant": ((resonant(8.0, 60.0, 3.0),), 0.005),
    "sharply resonant": ((resonant(8.0, 80.0, 15.0),), 0.005),
    "mass": ((Branch(mass=2.0),), 0.005),
    "light mass with resistance": ((Branch(mass=0.3, resistance=100.0),), 0.009),
    "spring": ((Branch(stiffness=1e5, resistance=50.0),), 0.005),
    "two branches": ((resonant(10.0, 45.0, 4.0), resonant(4.0, 110.0, 6.0)), 0.005),
    "three branches": ((resonant(10.0, 45.0, 4.0), resonant(4.0, 110.0, 6.0), Branch(resistance=4000.0)), 0.005),
}


def reflection(branches: Branches, spacing: float) -> NDArray[np.complex128]:
    """Reflection coefficient found, (frequency,)."""
    at = (LENGTH - 0.62, LENGTH - 0.27)
    found = pressures(duct(LENGTH, 4 * spacing, at, surfaces={"wall 2": branches}), spacing)
    there, back = waves(found[0], found[1], at, LENGTH)
    return back / there


def exact(branches: Branches) -> NDArray[np.complex128]:
    """(1 - beta)/(1 + beta)."""
    beta = IMPEDANCE * admittance(branches, FREQUENCY)
    return (1.0 - beta) / (1.0 + beta)


@pytest.mark.parametrize("name", SURFACES)
def test_reflection_coefficient(name: str) -> None:
    branches, tolerance = SURFACES[name]
    fine = np.abs(reflection(branches, 0.05) - exact(branches))
    coarse = np.abs(reflection(branches, 0.1) - exact(branches))
    assert fine.max() < tolerance
    assert coarse.max() < 4.5 * tolerance
    assert observed_order((0.1, 0.05), (coarse.max(), fine.max())) > 1.6


def test_rigid_end_reflects_everything() -> None:
    assert np.abs(reflection((), 0.1) - 1.0).max() < 5e-4
