"""Transmission through a panel that gives way.

Set-up: duct 6 m long, four cells wide, a closed thin partition with a panel across it at x = 3 m, both ends nearly
reflection-free; two seats on either side; transmission and reflection of the panel from the four waves (four-microphone
method, symmetric specimen, ASTM E2611).
Exact: TL = 20 lg |1 + Z/(2 rho c)|, Z = R + j (omega m - K/omega); without R and K the mass law
10 lg(1 + (omega m/(2 rho c))²) (Kuttruff, Room Acoustics; Vigran, Building Acoustics, ch. 6).
Expected error: second order in h, 0.1 dB at 200 Hz and h = 0.1 m. Tolerance: 0.2 dB.
"""

from __future__ import annotations

import numpy as np
import pytest
from duct import ABSORBING_END, FREQUENCY, duct, pressures, waves
from rooms import IMPEDANCE

from fdtd.physics.admittance import Branch
from fdtd.scene.schema import Rectangle, ThinPartition

LENGTH, PLACE, SPACING, WIDTH = 6.0, 3.0, 0.1, 0.4
AT = (2.13, 2.48, 3.61, 4.04)
OMEGA = 2.0 * np.pi * FREQUENCY


def transmission_loss(**thin_partition: object) -> np.ndarray:
    """Transmission loss of a thin partition across the duct, dB."""
    across = ThinPartition("panel", 0, PLACE, Rectangle((0.0, 0.0), (WIDTH, WIDTH)), **thin_partition)  # type: ignore[arg-type]
    found = pressures(duct(LENGTH, WIDTH, AT, surfaces={"wall 2": ABSORBING_END}, thin_partitions=[across]), SPACING)
    there, back = waves(found[0], found[1], AT[:2], PLACE)
    onward, returning = waves(found[2], found[3], AT[2:], PLACE)
    # back = R there + T returning, onward = T there + R returning.
    through = (onward * there - back * returning) / (there**2 - returning**2)
    return -20.0 * np.log10(np.abs(through))


@pytest.mark.parametrize("mass", [2.0, 10.0, 25.0])
def test_mass_law(mass: float) -> None:
    exact = 10.0 * np.log10(1.0 + (OMEGA * mass / (2.0 * IMPEDANCE)) ** 2)
    np.testing.assert_allclose(transmission_loss(panel=Branch(mass=mass)), exact, atol=0.2)


def test_panel_on_a_spring() -> None:
    mass, resistance, stiffness = 5.0, 300.0, 5.0 * (2.0 * np.pi * 60.0) ** 2
    impedance = resistance + 1j * (OMEGA * mass - stiffness / OMEGA)
    exact = 20.0 * np.log10(np.abs(1.0 + impedance / (2.0 * IMPEDANCE)))
    np.testing.assert_allclose(transmission_loss(panel=Branch(mass, resistance, stiffness)), exact, atol=0.2)


@pytest.mark.parametrize("depth", [0.05, 0.3])
def test_resistive_screen_with_depth(depth: float) -> None:
    # Open share s of depth t and resistance r: Z = (r + j omega rho t)/s, less the air that would be there without it.
    share, resistance = 0.25, 150.0
    mass = IMPEDANCE / 343.2 * depth * (1.0 / share - 1.0)
    impedance = resistance / share + 1j * OMEGA * mass
    exact = 20.0 * np.log10(np.abs(1.0 + impedance / (2.0 * IMPEDANCE)))
    found = transmission_loss(open_fraction=share, depth=depth, resistance=resistance)
    np.testing.assert_allclose(found, exact, atol=0.2)
