"""Simulation and eigenmodes are the same room: a lightly damped simulation peaks at the rigid eigenfrequencies.

Set-up: a room with a sloped ceiling and a block, rho c Y = 0.002 on every surface, h = 0.24 m, 10 s, source and seats
in corners; the
same operator's eigenvalues. Exact: a small real admittance shifts frequencies by second order in it (Kuttruff, Room
Acoustics, ch. 3); a lone resonance peaks at its frequency to (bandwidth)²/f.
Expected error: a few mHz from neighbouring modes and the frequency raster. Tolerance: 0.03 Hz.
"""

from __future__ import annotations

import numpy as np
from rooms import DENSITY, SPEED, box_plan, make_scene, problem_of, simulate_scene

from fdtd.modes.eigen import rigid_modes
from fdtd.physics.admittance import resistive
from fdtd.scene.schema import Block
from fdtd.simulation.transfer import transfer_functions


def test_peaks_are_at_the_eigenfrequencies() -> None:
    scene = make_scene(
        box_plan(4.9, 3.6),
        [(1.7, 0.0, 0.3)],
        surfaces=resistive(0.002, DENSITY, SPEED),
        blocks=[Block("stove", (1.9, 0.0, 0.0), (2.7, 0.7, 1.1), "rigid")],
        sources=[(0.15, 0.1, 0.1)],
        seats=[(4.75, 3.45, 0.2), (4.75, 0.2, 1.5), (0.2, 3.4, 2.4), (0.2, 0.2, 1.5), (4.7, 3.4, 2.6)],
    )
    problem = problem_of(scene, 0.24)
    values, _ = rigid_modes(problem.operator, 9, float(problem.cells.volume.sum()))
    modes = SPEED * np.sqrt(values[1:]) / (2.0 * np.pi)
    done = simulate_scene(scene, 0.24, 10.0, problem=problem)
    apart = np.min(np.abs(modes[:, None] - modes + 1e3 * np.eye(len(modes))), axis=1)
    lone = modes[apart > 2.0]
    assert len(lone) >= 4
    for mode in lone:
        frequency = mode + np.linspace(-0.5, 0.5, 101)
        level = (np.abs(transfer_functions(done, frequency)[0]) ** 2).sum(axis=0)
        assert np.abs(frequency[np.argmax(level)] - mode) < 0.03
