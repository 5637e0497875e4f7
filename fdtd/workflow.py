"""The verbs of the program, for Python users and the command line alike: check, run, modes. No printing, no files."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from threading import Lock

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components

import fdtd
from fdtd.analysis.response import level_db, strongest_resonances
from fdtd.errors import FdtdError
from fdtd.model.excitations import Excitation, by_geometry, make_excitation
from fdtd.model.facts import RoomFacts, room_facts
from fdtd.model.operator import with_links
from fdtd.model.problem import Problem, build_problem
from fdtd.modes.eigen import rigid_modes
from fdtd.modes.lossy import LossyModes, lossy_modes
from fdtd.ports.units import UnitFigures, active_absorbers, check_units
from fdtd.results.result import CellGrid, RunResult, UnitResult, VariantResult
from fdtd.scene.schema import Scene, Variant
from fdtd.settings import LOWEST_FREQUENCY
from fdtd.simulation.compilation import Compilation
from fdtd.simulation.device import DOUBLE, Execution
from fdtd.simulation.stepper import LONGEST, Simulation, estimate_seconds, memory_bytes, simulate
from fdtd.simulation.transfer import impulse_responses, map_transfer, transfer_functions

Progress = Callable[[float, str], None]

ZERO_MODE = 1e-3
"""Share of the highest frequency found below which a mode is the constant pressure of a closed part of the room."""
MAP_COUNT = 4
"""Number of pressure maps when no frequencies are asked for."""
SLOWEST = 8.0
"""Times Sabine's decay time that the last resonances need to fall by 60 dB (the shipped rooms took 7 and 8)."""
CHECK_SHARE = 0.4
"""Share of the progress that the check of active units is counted as."""
LOWEST_DAMPED = 15.0
"""Hz, from which damped modes are looked for."""
DAMPED_GRID = 0.15
"""m, the cells that damped modes are worked out on unless others are asked for."""
FIRST_LOOK = 1.8
"""Factor on the cell size of the quick simulation that finds the strongest resonances."""


@dataclass(frozen=True)
class ModesResult:
    """frequency : (mode,) Hz, without the constant pressure at 0 Hz; shape : (mode, cell); cells : their grid."""

    frequency: NDArray[np.float64]
    shape: NDArray[np.float64]
    cells: CellGrid


def check(scene: Scene, grid: float | None = None) -> RoomFacts:
    """Facts about the room and the cost of running it; nothing is simulated."""
    spacing = grid or scene.run.grid
    groups = by_geometry(scene.variants)
    problems = [build_problem(scene, variants[0], spacing, tuple(variants)) for variants in groups]
    facts = room_facts(scene, scene.variants[0], problems[0])
    duration = scene.run.duration or min(LONGEST, max(1.0, SLOWEST * facts.decay_time))
    excitations = [sum(_excitation_count(v) for v in variants) for variants in groups]
    steps = int(np.ceil(duration / problems[0].time_step))
    seconds = sum(estimate_seconds(p, n, duration) for p, n in zip(problems, excitations, strict=True))
    memory = max(memory_bytes(p, n, MAP_COUNT) for p, n in zip(problems, excitations, strict=True))
    return replace(facts, steps=steps, seconds=seconds, memory=memory)


def _excitation_count(variant: Variant) -> int:
    """Excitations that a run of the variant simulations, those of the check of its active units included."""
    units = len(active_absorbers(variant))
    return len(variant.sources) + (units + len(variant.sources) if units else 0)


def modes(scene: Scene, *, count: int = 30, grid: float | None = None, variant: int = 0) -> ModesResult:
    """The lowest `count` eigenmodes of one variant without losses: all surfaces hard, panels by their mass alone."""
    problem = build_problem(scene, scene.variants[variant], grid or scene.run.grid)
    impedance_links = problem.impedance_links
    # Without losses an impedance link is its mass alone: the air in a porous fill, a panel that gives way.
    operator = with_links(
        problem.operator, impedance_links.cells, problem.density * impedance_links.area / impedance_links.mass
    )
    parts = connected_components(operator.stiffness, directed=False)[0]
    values, shapes = rigid_modes(operator, count + parts, float(problem.cells.volume.sum()))
    frequency = problem.speed_of_sound * np.sqrt(values) / (2.0 * np.pi)
    keep = frequency > ZERO_MODE * frequency[-1]
    return ModesResult(frequency[keep][:count], shapes[keep][:count], _cell_grid(problem))


def damped_modes(
    scene: Scene, *, high: float = 120.0, grid: float | None = None, variant: int = 0
) -> tuple[LossyModes, CellGrid]:
    """Modes of one variant between 15 Hz and `high` (Hz) with everything that absorbs, and their cells."""
    chosen = scene.variants[variant]
    problem = build_problem(scene, chosen, grid or max(scene.run.grid, DAMPED_GRID))
    excitation = make_excitation(scene, chosen, problem, chosen.sources[0].at)
    return lossy_modes(problem, excitation, LOWEST_DAMPED, high), _cell_grid(problem)


def run(
    scene: Scene,
    *,
    grid: float | None = None,
    frequencies: tuple[float, ...] | None = None,
    duration: float | None = None,
    execution: Execution = DOUBLE,
    progress: Progress | None = None,
) -> RunResult:
    """Simulate every variant of the scene; variants that share their cells share a simulation as excitations.

    grid : m; frequencies : Hz, of the pressure maps (default: the strongest resonances at the seats, found by a quick
    simulation on larger cells); duration : s (default: the scene's, else until the decay is 60 dB down).
    Raises FdtdError for frequencies outside 10 Hz to max_frequency, StabilityError if a field grows.
    """
    spacing = grid or scene.run.grid
    top = scene.run.max_frequency
    duration = duration if duration is not None else scene.run.duration
    report = progress or (lambda fraction, message: None)
    ready = Compilation(execution.precision)
    if frequencies is None:
        frequencies = _first_look(scene, spacing, ready, execution.double, report)
    outside = [f for f in frequencies if not LOWEST_FREQUENCY <= f <= top]
    if outside:
        raise FdtdError(f"map frequency {outside[0]:g} Hz is outside {LOWEST_FREQUENCY:g} to {top:g} Hz")
    map_frequency = np.array(sorted(set(frequencies)), dtype=float)
    groups = by_geometry(scene.variants)
    shares = _Shares(report, len(groups))

    def one(number: int) -> tuple[Problem, dict[str, tuple[UnitFigures, ...]], list[Simulation]]:
        shares(number, 0.0, "cutting the room into cells")
        problem = build_problem(scene, groups[number][0], spacing, tuple(groups[number]))
        ready.wait(lambda done, message: shares(number, done, message))
        first = CHECK_SHARE if any(active_absorbers(v) for v in groups[number]) else 0.0
        wait = lambda done, message: shares(number, first * done, "are the active units stable? " + message)  # noqa: E731
        units = check_units(scene, problem, groups[number], wait, execution=execution.double)

        def tell(done: float, message: str) -> None:
            problem.release()  # sound is under way, so the tables are made
            shares(number, first + (1.0 - first) * done, message)

        return problem, units, _simulate_group(scene, problem, groups[number], map_frequency, duration, execution, tell)

    # Groups don't depend on each other: one thread each, as far as there are cores.
    with ThreadPoolExecutor(max_workers=min(len(groups), execution.workers)) as pool:
        finished = list(pool.map(one, range(len(groups))))
    simulated = {
        variant.name: (problem, done, units[variant.name])
        for variants, (problem, units, all_done) in zip(groups, finished, strict=True)
        for variant, done in zip(variants, all_done, strict=True)
    }
    report(1.0, "working out the responses")
    return _assemble(scene, simulated, map_frequency, spacing, execution.precision)


class _Shares:
    """Progress of several simulations at once as one fraction."""

    def __init__(self, report: Progress, count: int) -> None:
        self.report, self.fraction, self.lock = report, [0.0] * count, Lock()

    def __call__(self, number: int, fraction: float, message: str) -> None:
        with self.lock:
            self.fraction[number] = fraction
            self.report(sum(self.fraction) / len(self.fraction), message)


def _simulate_group(
    scene: Scene,
    problem: Problem,
    variants: list[Variant],
    map_frequency: NDArray,
    duration: float | None,
    execution: Execution,
    progress: Progress,
) -> list[Simulation]:
    """One simulation for all variants and sources of a group; for each variant its own excitations and seats of it."""
    # Variants that differ only in how the sources are played, or in what is not there, share their excitations.
    numbers: dict[Excitation, int] = {}
    shares = [
        [numbers.setdefault(make_excitation(scene, variant, problem, s.at), len(numbers)) for s in variant.sources]
        for variant in variants
    ]
    excitations = list(numbers)
    seats = [[seat.at for seat in variant.seats] for variant in variants]
    places = list(dict.fromkeys(at for listed in seats for at in listed))
    done = simulate(problem, excitations, places, scene.run.max_frequency, duration, map_frequency, execution, progress)
    found = []
    for listed, share in zip(seats, shares, strict=True):
        rows = [places.index(at) for at in listed]
        found.append(replace(done, seats=done.seats[share][:, rows], maps=done.maps[share]))
    return found


def _first_look(
    scene: Scene, spacing: float, ready: Compilation, execution: Execution, report: Progress
) -> tuple[float, ...]:
    """Frequencies of the strongest resonances at the seats of the first variant, from a quick simulation."""
    doing = "a first look for the strongest resonances"
    report(0.0, doing)
    variant = scene.variants[0]
    coarse = max(spacing, min(FIRST_LOOK * spacing, scene.air.speed_of_sound / 160.0 / 8.0))
    problem = build_problem(scene, variant, coarse)
    excitations = [make_excitation(scene, variant, problem, source.at) for source in variant.sources]
    ready.wait(report)
    tell = lambda done, message: report(0.0, f"{doing}, {message}")  # noqa: E731
    done = simulate(
        problem, excitations, [seat.at for seat in variant.seats], 200.0, execution=execution, progress=tell
    )
    frequency = np.arange(LOWEST_FREQUENCY, min(160.0, scene.run.max_frequency) + 0.1, 0.25)
    level = level_db(transfer_functions(done, frequency), frequency, scene.air.density)
    high = min(160.0, scene.run.max_frequency)
    found = strongest_resonances(frequency, level.reshape(-1, len(frequency)), MAP_COUNT, high=high)
    return tuple(float(f) for f in found)


def _frequency_grid(top: float, longest: float) -> NDArray[np.float64]:
    """Even grid from 10 Hz to the top whose step resolves a response of `longest` seconds."""
    step = next((s for s in (0.25, 0.125, 0.05, 0.025) if s <= 1.0 / longest), 0.0125)
    return np.asarray(LOWEST_FREQUENCY + step * np.arange(int(round((top - LOWEST_FREQUENCY) / step)) + 1), dtype=float)


def _assemble(
    scene: Scene,
    simulated: dict[str, tuple[Problem, Simulation, tuple[UnitFigures, ...]]],
    map_frequency: NDArray,
    spacing: float,
    precision: str,
) -> RunResult:
    top = scene.run.max_frequency
    longest = max(m.duration for _, m, _ in simulated.values())
    frequency = _frequency_grid(top, longest)
    sources = tuple(dict.fromkeys(s.name for v in scene.variants for s in v.sources))
    grids = {id(p): _cell_grid(p) for p, _, _ in simulated.values()}
    variants, time = [], np.zeros(0)
    for variant in scene.variants:
        problem, done, units = simulated[variant.name]
        rows = [sources.index(s.name) for s in variant.sources]
        transfer = _spread(transfer_functions(done, frequency), rows, len(sources))
        impulse, time = impulse_responses(transfer, frequency, top)
        settings = [(s.level, s.delay, s.polarity) for s in variant.sources]
        level, delay, polarity = _spread(np.array(settings, dtype=float), rows, len(sources)).T
        maps = _spread(map_transfer(done, map_frequency), rows, len(sources))
        variants.append(
            VariantResult(
                variant.name,
                transfer,
                impulse,
                maps,
                grids[id(problem)],
                level,
                delay,
                polarity,
                playback=_spread(_playback(variant, frequency), rows, len(sources)),
                map_playback=_spread(_playback(variant, map_frequency), rows, len(sources)),
                outcome=done.outcome,
                duration=done.duration,
                steps=done.steps,
                units=tuple(_unit_result(unit) for unit in units),
                fallen=float(done.fallen),
            )
        )
    return RunResult(
        title=scene.title,
        scene_text=scene.text,
        program_version=fdtd.__version__,
        created=datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
        computed_from=_fingerprint(scene, spacing, precision, map_frequency),
        speed_of_sound=scene.air.speed_of_sound,
        density=scene.air.density,
        time_step=simulated[scene.variants[0].name][0].time_step,
        grid=spacing,
        max_frequency=top,
        precision=precision,
        sources=sources,
        seats=tuple(seat.name for seat in scene.variants[0].seats),
        frequency=frequency,
        time=time,
        map_frequency=map_frequency,
        variants=tuple(variants),
        output=float("nan") if scene.run.output is None else scene.run.output,
    )


def _playback(variant: Variant, frequency: NDArray) -> NDArray[np.complex128]:
    """(source of the variant, frequency) factor of each source when all play together."""
    return np.array([source.playback(frequency) for source in variant.sources], dtype=complex)


def _unit_result(unit: UnitFigures) -> UnitResult:
    s = unit.stability
    return UnitResult(
        unit.name,
        unit.gain,
        s.critical * unit.gain,
        s.frequency,
        s.distance,
        float(s.settled),
        unit.band,
        unit.stroke_level,
        unit.drive_level,
    )


def _spread(values: NDArray, rows: list[int], count: int) -> NDArray:
    """`values` (source of the variant, ...) placed on the run's full source axis, NaN where the variant has none."""
    full = np.full((count, *values.shape[1:]), np.nan, dtype=values.dtype)
    full[rows] = values
    return full


def _cell_grid(problem: Problem) -> CellGrid:
    cells = problem.cells
    return CellGrid(cells.edges, cells.index, cells.volume)


def _fingerprint(scene: Scene, spacing: float, precision: str, map_frequency: NDArray) -> str:
    settings = (repr(scene.run), spacing, precision, map_frequency.tolist())
    materials = [(m.name, m.branches) for m in scene.materials]  # a table in a file of its own is not in the text
    parts = (fdtd.__version__, scene.text, repr(scene.variants), repr(materials), *settings)
    return hashlib.sha256(repr(parts).encode()).hexdigest()
