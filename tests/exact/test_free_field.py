"""A monopole before its first reflection.

Set-up: rigid cube of 5.5 m, h = 0.125 m, source near the middle and seat 1 m away, both off the grid.
Exact: p(t) = rho Q'(t - r/c)/(4 pi r) until the first reflection arrives (Pierce, Acoustics, sec. 4-3).
Expected error: cubic interpolation at both ends and the leapfrog's time error (not removed here, since spectra of a cut
record mean little): under 1 % of the peak.
Tolerance: 1 % of the peak and 1 % in energy norm.
"""

from __future__ import annotations

import numpy as np
from rooms import DENSITY, SPEED, box_plan, make_scene, simulate_scene

SIDE, SPACING = 5.5, 0.125


def test_pressure_at_one_metre() -> None:
    source = np.array([0.5 * SIDE + 0.013, 0.5 * SIDE - 0.021, 0.5 * SIDE + 0.034])
    seat = source + [0.48, 0.64, 0.6]
    scene = make_scene(box_plan(SIDE, SIDE), SIDE, sources=[tuple(source)], seats=[tuple(seat)], max_frequency=300.0)
    done = simulate_scene(scene, SPACING, 0.018, precision="single")
    distance = float(np.linalg.norm(seat - source))
    images = []
    for axis in range(3):
        for wall in (0.0, SIDE):
            image = source.copy()
            image[axis] = 2.0 * wall - image[axis]
            images.append(np.linalg.norm(seat - image))
    time = np.arange(done.seats.shape[-1]) * done.time_step
    before = time < min(images) / SPEED
    drive = np.interp(time - distance / SPEED, np.arange(len(done.signal)) * done.time_step, done.signal, left=0.0)
    exact = DENSITY / (4.0 * np.pi * distance) * drive[before]
    error = done.seats[0, 0][before] - exact
    assert np.abs(exact).max() > 0.9 * DENSITY / (4.0 * np.pi * distance) * np.abs(done.signal).max()
    assert np.abs(error).max() < 0.01 * np.abs(exact).max()
    assert np.linalg.norm(error) < 0.01 * np.linalg.norm(exact)
