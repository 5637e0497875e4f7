"""Plane waves in a duct with rigid sides: what the tests of tubes, fills and partitions share."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from rooms import IMPEDANCE, SPEED, box_plan, make_scene, simulate_scene

from fdtd.physics.admittance import Branch
from fdtd.scene.schema import Scene
from fdtd.simulation.transfer import transfer_functions

FREQUENCY = np.arange(20.0, 200.1, 2.0)
WAVENUMBER = 2.0 * np.pi * FREQUENCY / SPEED
SOURCE_AT = 1.03
ABSORBING_END = (Branch(resistance=IMPEDANCE),)


def duct(length: float, width: float, listeners: tuple[float, ...], **things: object) -> Scene:
    """A duct along x with a nearly reflection-free end at x = 0 (wall 4); the far end is wall 2.

    The cross-section is four cells wide, so the time step is that of a room. Seats lie on the axis at x = `listeners`.
    """
    surfaces = {"wall 4": ABSORBING_END, **things.pop("surfaces", {})}  # type: ignore[dict-item]
    half = 0.5 * width
    return make_scene(
        box_plan(length, width),
        width,
        surfaces=surfaces,
        sources=[(SOURCE_AT, half, half)],
        seats=[(x, half, half) for x in listeners],
        **things,
    )  # type: ignore[arg-type]


def pressures(scene: Scene, spacing: float, duration: float = 2.0) -> NDArray[np.complex128]:
    """(seat, frequency) transfer functions at FREQUENCY, double precision."""
    return transfer_functions(simulate_scene(scene, spacing, duration), FREQUENCY)[0]


def waves(
    first: NDArray, second: NDArray, at: tuple[float, float], plane: float
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Pressure amplitudes at x = `plane` of the waves towards +x and -x, from the pressures at two places
    (two-microphone
    method, ISO 10534-2)."""
    a, b = at[0] - plane, at[1] - plane
    down = [np.exp(-1j * WAVENUMBER * x) for x in (a, b)]
    up = [np.exp(1j * WAVENUMBER * x) for x in (a, b)]
    determinant = down[0] * up[1] - down[1] * up[0]
    return (first * up[1] - second * up[0]) / determinant, (second * down[0] - first * down[1]) / determinant
