"""How long a room rings, from a quick simulation on larger cells."""

from __future__ import annotations

import math
from collections.abc import Callable

from fdtd.model.problem import build_problem
from fdtd.ports.response import excitations_of, readers_of
from fdtd.scene.schema import Scene, Variant
from fdtd.simulation.compilation import Compilation
from fdtd.simulation.device import DOUBLE, Execution
from fdtd.simulation.stepper import simulate

COARSER = 1.8
"""Factor on the cell size of the quick simulation."""
CELLS_A_WAVE = 8.0
TOP = 160.0
"""Hz, that the quick simulation goes up to, with so many cells a wavelength there."""


def settling_time(
    scene: Scene,
    variant: Variant,
    spacing: float,
    progress: Callable[[float, str], None] | None = None,
    execution: Execution = DOUBLE,
) -> float:
    """Time in s after which all seats of `variant` are 60 dB down, rounded up to a tenth; spacing : m, of the
    simulation to come.

    A simulation of many excitations in single precision cannot find this out itself: rounding hides the end of the
    decay.
    """
    ready = Compilation()
    coarse = max(spacing, min(COARSER * spacing, scene.air.speed_of_sound / TOP / CELLS_A_WAVE))
    problem = build_problem(scene, variant, coarse)
    excitations = excitations_of(scene, variant, problem)
    ready.wait(progress)
    done = simulate(problem, excitations, readers_of(variant), 200.0, execution=execution.double, sparse=True)
    return math.ceil(10.0 * done.duration) / 10.0
