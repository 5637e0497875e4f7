"""Rooms for the physics tests: short ways to build Scene and Variant objects, and to simulate one variant.

Everything goes through public functions of the program; no test needs a scene file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from fdtd.grid.cells import Cells
from fdtd.grid.edges import EdgeTerms
from fdtd.model.excitations import make_excitation
from fdtd.model.problem import Problem, build_problem
from fdtd.modes.eigen import rigid_modes
from fdtd.physics.admittance import Branch, Branches
from fdtd.scene.schema import (
    Absorber,
    Air,
    Block,
    Device,
    Material,
    Patch,
    Plane,
    Point2,
    Point3,
    PorousVolume,
    Rectangle,
    Room,
    RunSettings,
    Scene,
    Seat,
    Source,
    ThinPartition,
    Variant,
)
from fdtd.simulation.device import Execution
from fdtd.simulation.stepper import Simulation, simulate

SPEED, DENSITY = 343.2, 1.204
"""m/s and kg/m³ of air at 20 degrees C."""
IMPEDANCE = SPEED * DENSITY


def box_plan(length: float, width: float) -> tuple[Point2, ...]:
    """Corners of a rectangle with one corner at the origin, m."""
    return ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))


def make_scene(
    plan: Sequence[Point2],
    ceiling: float | Sequence[Plane],
    *,
    surfaces: Mapping[str, Branches] | Branches = (),
    materials: Mapping[str, Branches] | None = None,
    patches: Sequence[Patch] = (),
    blocks: Sequence[Block] = (),
    thin_partitions: Sequence[ThinPartition] = (),
    porous_volumes: Sequence[PorousVolume] = (),
    absorbers: Sequence[Absorber] = (),
    devices: Sequence[Device] = (),
    sources: Sequence[Point3] = ((0.1, 0.1, 0.1),),
    seats: Sequence[Point3] = (),
    speed: float = SPEED,
    density: float = DENSITY,
    max_frequency: float = 200.0,
) -> Scene:
    """A scene with one variant.

    ceiling : height in m, or planes; surfaces : branches of every surface, or of the named ones (others rigid);
    materials : further materials for patches, blocks and sheets.
    """
    planes = ((float(ceiling), 0.0, 0.0),) if isinstance(ceiling, (int, float)) else tuple(ceiling)
    names = ["floor", "ceiling", *(f"wall {n + 1}" for n in range(len(plan)))]
    given = dict(surfaces) if isinstance(surfaces, Mapping) else dict.fromkeys(names, surfaces)
    stock = {f"of {name}": branches for name, branches in given.items()} | dict(materials or {})
    variant = Variant(
        "only",
        tuple(patches),
        tuple(blocks),
        tuple(thin_partitions),
        tuple(porous_volumes),
        tuple(Source(f"source {n}", at) for n, at in enumerate(sources)),
        tuple(Seat(f"seat {n}", at) for n, at in enumerate(seats)),
        tuple(absorbers),
        tuple(devices),
        tuple((name, f"of {name}" if name in given else "rigid") for name in names),
    )
    return Scene(
        "test room",
        Air(speed, density),
        Room(tuple((float(x), float(y)) for x, y in plan), planes),
        tuple(Material(name, branches) for name, branches in stock.items()),
        (variant,),
        RunSettings(max_frequency=max_frequency),
    )


def problem_of(scene: Scene, spacing: float) -> Problem:
    """The discrete problem of the scene's (first) variant; spacing in m."""
    return build_problem(scene, scene.variants[0], spacing)


def mode_frequencies(scene: Scene, spacing: float, count: int) -> NDArray[np.float64]:
    """The `count` lowest rigid eigenfrequencies without that of constant pressure, Hz."""
    problem = problem_of(scene, spacing)
    values, _ = rigid_modes(problem.operator, count + 1, float(problem.cells.volume.sum()))
    return problem.speed_of_sound * np.sqrt(values[1 : count + 1]) / (2.0 * np.pi)


def simulate_scene(
    scene: Scene, spacing: float, duration: float, *, precision: str = "double", problem: Problem | None = None
) -> Simulation:
    """Simulate the first variant for `duration` s, one excitation a source."""
    variant = scene.variants[0]
    problem = problem or problem_of(scene, spacing)
    excitations = [make_excitation(scene, variant, problem, source.at) for source in variant.sources]
    seats = [seat.at for seat in variant.seats]
    return simulate(problem, excitations, seats, scene.run.max_frequency, duration, execution=Execution(precision))


def closed_thin_partition(
    name: str, axis: int, position: float, lower: Point2, upper: Point2, openings: Sequence[tuple[Point2, Point2]] = ()
) -> ThinPartition:
    """A closed rigid thin partition with openings."""
    return ThinPartition(name, axis, position, Rectangle(lower, upper), tuple(Rectangle(a, b) for a, b in openings))


def resonant(mass: float, frequency: float, quality: float) -> Branch:
    """A branch of mass kg/m² resonant at `frequency` Hz with the given Q on its own."""
    omega = 2.0 * np.pi * frequency
    return Branch(mass, mass * omega / quality, mass * omega**2)


def level_error(found: NDArray[np.complex128], exact: NDArray[np.complex128]) -> NDArray[np.float64]:
    """|difference of levels|, dB."""
    return np.abs(20.0 * np.log10(np.abs(found) / np.abs(exact)))


def observed_order(spacings: Sequence[float], errors: Sequence[float]) -> float:
    """Slope of log(error) over log(spacing), least squares."""
    return float(np.polyfit(np.log(spacings), np.log(np.abs(errors)), 1)[0])


def no_edge_terms(cells: Cells, tightness: NDArray[np.float64]) -> EdgeTerms:
    """In place of `edge_terms`: all links plain, edges or not."""
    count = len(cells.links.area)
    return EdgeTerms(np.ones(count), np.zeros(count, dtype=bool), np.zeros((0, 2), dtype=np.int64), np.zeros(0))
