"""Absorption of a porous layer before a rigid wall.

Set-up: duct 4 m long, four cells wide, the last part filled; absorption from two seats before it.
Exact: Z = -j Zc cot(k d) with Zc = sqrt(rho_e K), k = omega sqrt(rho_e/K), rho_e = rho/phi + sigma/(j omega), K = rho
c²/phi
(Rayleigh's model of a rigid porous medium; Kuttruff, Room Acoustics, ch. 2), alpha = 1 - |R|².
Expected error: second order in h; inside the fill the links are second order and the layer's own wavelength is shorter.
Tolerance: 0.02 in alpha at h = 0.05 m; 0.05 at h = 0.1 m, where a 0.2 m layer is two cells deep.
"""

from __future__ import annotations

import numpy as np
import pytest
from duct import FREQUENCY, duct, pressures, waves
from rooms import DENSITY, IMPEDANCE, SPEED, observed_order

from fdtd.scene.schema import PorousVolume

LENGTH = 4.0
OMEGA = 2.0 * np.pi * FREQUENCY


def exact_absorption(depth: float, resistivity: float, porosity: float) -> np.ndarray:
    """Closed form for the layer before a rigid wall."""
    inertia = DENSITY / porosity + resistivity / (1j * OMEGA)
    modulus = DENSITY * SPEED**2 / porosity
    impedance = -1j * np.sqrt(inertia * modulus) / np.tan(OMEGA * np.sqrt(inertia / modulus) * depth)
    return 1.0 - np.abs((impedance - IMPEDANCE) / (impedance + IMPEDANCE)) ** 2


def found_absorption(depth: float, resistivity: float, porosity: float, spacing: float) -> np.ndarray:
    """The same from a simulation."""
    front, width = LENGTH - depth, 4 * spacing
    at = (front - 0.82, front - 0.47)
    fill = PorousVolume("wool", (front, 0.0, 0.0), (LENGTH, width, width), resistivity, porosity)
    found = pressures(duct(LENGTH, width, at, porous_volumes=[fill]), spacing)
    there, back = waves(found[0], found[1], at, front)
    return 1.0 - np.abs(back / there) ** 2


@pytest.mark.parametrize(
    ("depth", "resistivity", "porosity"),
    [(0.2, 8000.0, 0.95), (0.23, 8000.0, 0.95), (0.4, 5000.0, 0.9), (0.5, 10000.0, 0.95), (0.3, 20000.0, 0.95)],
)
def test_layer_before_a_rigid_wall(depth: float, resistivity: float, porosity: float) -> None:
    exact = exact_absorption(depth, resistivity, porosity)
    fine = np.abs(found_absorption(depth, resistivity, porosity, 0.05) - exact).max()
    coarse = np.abs(found_absorption(depth, resistivity, porosity, 0.1) - exact).max()
    assert fine < 0.02
    assert coarse < 0.05
    assert observed_order((0.1, 0.05), (coarse, fine)) > 1.2
