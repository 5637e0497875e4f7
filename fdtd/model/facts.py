"""Facts about a room that a person checks before running it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from fdtd.model.excitations import make_excitation
from fdtd.model.problem import Problem
from fdtd.physics.admittance import admittance, diffuse_absorption
from fdtd.scene.schema import Scene, Variant

ABSORPTION_BAND = (50.0, 63.0, 80.0, 100.0, 125.0, 160.0)
"""Hz; the mean absorption is the average of the random-incidence values at these frequencies."""


@dataclass(frozen=True)
class RoomFacts:
    """volume : m³; floor_area, surface_area : m²; mean_absorption : share, 50-160 Hz; decay_time : s, by Sabine
    schroeder_frequency : Hz; shortest_wavelength, largest_cell, smallest_cell : m; box_modes : Hz
    cells, steps : counts; time_step : s; memory : bytes; seconds : estimate of the simulation."""

    volume: float
    floor_area: float
    surface_area: float
    mean_absorption: float
    decay_time: float
    schroeder_frequency: float
    shortest_wavelength: float
    largest_cell: float
    smallest_cell: float
    box_modes: tuple[float, ...]
    cells: int
    time_step: float
    steps: int = 0
    memory: int = 0
    seconds: float = 0.0
    warnings: tuple[str, ...] = ()


def room_facts(scene: Scene, variant: Variant, problem: Problem) -> RoomFacts:
    """Facts of one variant on its cells.

    Mean absorption is area-weighted random-incidence absorption of all wall elements. Decay time: Sabine's
    T = 24 ln(10) V/(c A). Schroeder frequency: 2000 sqrt(T/V) (Schroeder 1996). In small rooms both are guides only.
    """
    c, cells = problem.speed_of_sound, problem.cells
    excitation = make_excitation(scene, variant, problem, variant.sources[0].at)
    branches = list(excitation.local)
    for diaphragm in excitation.diaphragms:
        for region in diaphragm.port.regions:
            branches[region] = diaphragm.branches
    ratio = [problem.density * c * admittance(b, ABSORPTION_BAND) for b in branches]
    alpha = np.array([diffuse_absorption(r).mean() for r in ratio])
    area = problem.elements.area
    surface = float(area.sum())
    absorbing = float((area * alpha[problem.elements.region]).sum())
    volume = float(cells.volume.sum())
    decay = 24.0 * np.log(10.0) * volume / (c * absorbing) if absorbing > 0.0 else np.inf
    floor = sum(
        float(a) for a, s in zip(cells.faces.area, cells.faces.surface, strict=True) if cells.surfaces[s] == "floor"
    )
    sizes = [np.diff(e) for e in cells.edges]
    return RoomFacts(
        volume=volume,
        floor_area=floor,
        surface_area=surface,
        mean_absorption=absorbing / surface,
        decay_time=float(decay),
        schroeder_frequency=float(2000.0 * np.sqrt(decay / volume)),
        shortest_wavelength=c / scene.run.max_frequency,
        largest_cell=float(max(s.max() for s in sizes)),
        smallest_cell=float(min(s.min() for s in sizes)),
        box_modes=_box_modes(problem, c),
        cells=len(cells.volume),
        time_step=problem.time_step,
    )


def _box_modes(problem: Problem, c: float, count: int = 8) -> tuple[float, ...]:
    """First modes of the bounding box, (c/2) sqrt((l/Lx)² + (m/Ly)² + (n/Lz)²) (Rayleigh)."""
    length = [float(e[-1] - e[0]) for e in problem.cells.edges]
    found = sorted(
        0.5 * c * float(np.sqrt(sum((n / side) ** 2 for n, side in zip(order, length, strict=True))))
        for order in product(range(count + 1), repeat=3)
    )
    return tuple(found[1 : count + 1])
