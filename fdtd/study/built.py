"""The winner of each count built as it would stand in the room, cabinet and all; are its active units stable there?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import StabilityError
from fdtd.model.excitations import Excitation, Place, geometry_key, make_excitation
from fdtd.model.problem import Problem, build_problem
from fdtd.placement.objectives import Objectives, objectives
from fdtd.placement.study import Design
from fdtd.ports.response import PortResponse
from fdtd.ports.units import UnitFigures, active_absorbers, check_units
from fdtd.scene.schema import Scene, Variant
from fdtd.simulation.stepper import simulate
from fdtd.simulation.transfer import transfer_functions
from fdtd.study.place import ENOUGH_MARGIN, PlacementStudy, Progress, played, with_units
from fdtd.study.shortlist import Scores

CHECKS = 0.4
"""Share of the progress that the checks of active units are counted as."""

Complex = NDArray[np.complex128]
T = TypeVar("T")


@dataclass(frozen=True)
class AsInstalled:
    """The winner of `count` units as it would stand in the room.

    asked : what the study found; design : what was simulated, its gains lowered if need be
    predicted, simulated : figures of `design`, each against the room without units on the same cells; simulated is None
    if it was not stable at any of the study's gains, or (`grew`) if the field grew in the simulation
    units : figures of its active units; refused : why the gains that were asked are not stable, None if they are
    """

    count: int
    asked: Design
    design: Design
    predicted: Objectives
    simulated: Objectives | None
    units: tuple[UnitFigures, ...]
    grew: bool
    refused: StabilityError | None


def untreated_excitations(scene: Scene, variant: Variant, problem: Problem) -> list[Excitation]:
    """An excitation for each source of `variant`."""
    return [make_excitation(scene, variant, problem, source.at) for source in variant.sources]


def seats_of(
    scene: Scene,
    variant: Variant,
    problem: Problem,
    excitations: list[Excitation],
    study: PlacementStudy,
    duration: float,
    precision: str,
    progress: Progress,
) -> list[Complex]:
    """(frequency, seat) of each run of excitations that are the sources of `variant`, these combined as they are
    played."""
    seats: list[Place] = [seat.at for seat in variant.seats]
    record = simulate(
        problem,
        excitations,
        seats,
        scene.run.max_frequency,
        duration,
        precision=precision,
        progress=progress,
        sparse=True,
    )
    frequency = study.given.frequency
    playback = played(variant, frequency, scene.air.density)
    every = transfer_functions(record, frequency).reshape(-1, len(variant.sources), len(seats), len(frequency))
    return list(np.einsum("nsrf,sf->nfr", every, playback))


def each_or_none(seats: Callable[[Sequence[T]], list[Complex]], every: Sequence[T]) -> list[Complex | None]:
    """`seats` of all in one simulation; if a field grows in it, of one at a time, None for those in which it does."""
    try:
        return [*seats(every)]
    except StabilityError:
        return [_or_none(seats, one) for one in every]


def _or_none(seats: Callable[[Sequence[T]], list[Complex]], one: T) -> Complex | None:
    try:
        return seats([one])[0]
    except StabilityError:
        return None


def install_winners(
    study: PlacementStudy, winners: Sequence[Design], duration: float, precision: str, progress: Progress
) -> tuple[AsInstalled, ...]:
    """The winners with cabinets, on cells that suit the untreated room and all of them."""
    start = study.variant
    variants = [with_units(study, design, _name(study, design)) for design in winners]
    scene = replace(study.scene, variants=(start, *variants))
    groups: dict[tuple, list[Variant]] = {}
    for variant in scene.variants:
        groups.setdefault(geometry_key(variant), []).append(variant)
    problems = {key: build_problem(scene, v[0], study.spacing, tuple(v)) for key, v in groups.items()}
    settled = []
    for k, (design, variant) in enumerate(zip(winners, variants, strict=True)):
        tell = lambda done, message: progress(  # noqa: E731
            CHECKS * (k + done) / len(winners),  # noqa: B023
            f"are active units stable? {message}",
        )
        settled.append(_stable(study, scene, problems[geometry_key(variant)], design, variant.name, tell))
    simulated = _installed_seats(study, scene, problems, [s[1] for s in settled], duration, precision, progress)
    scores = Scores(study.given)
    inside = np.isin(study.given.frequency, scores.given.frequency)
    untreated = scores.untreated if simulated[0] is None else objectives(simulated[0][inside], scores.axis)
    made, rest = [], iter(simulated[1:])
    for asked, (design, stable, units, refused) in zip(winners, settled, strict=True):
        response = None if stable is None else next(rest)
        found = None if response is None else objectives(response[inside], scores.axis, untreated)
        grew = stable is not None and response is None
        made.append(AsInstalled(len(asked.ports), asked, design, scores.of(design), found, units, grew, refused))
    return tuple(made)


def _installed_seats(
    study: PlacementStudy,
    scene: Scene,
    problems: dict[tuple, Problem],
    settled: Sequence[Variant | None],
    duration: float,
    precision: str,
    progress: Progress,
) -> list[Complex | None]:
    """(frequency, seat) of the untreated room and of each variant that is stable, None where the field grew; those with
    the same cells in one simulation, one by one if some field grows."""
    wanted = [study.variant, *(v for v in settled if v is not None)]
    found: dict[int, Complex | None] = {}
    for number, (key, problem) in enumerate(problems.items()):
        mine = [k for k, variant in enumerate(wanted) if geometry_key(variant) == key]
        if not mine:
            continue
        tell = lambda done, message: progress(  # noqa: E731
            CHECKS + (1.0 - CHECKS) * (number + done) / len(problems),  # noqa: B023
            f"winners as installed, {message}",
        )

        def seats(some: Sequence[int]) -> list[Complex]:
            excitations = [excitation for k in some for excitation in untreated_excitations(scene, wanted[k], problem)]  # noqa: B023
            return seats_of(scene, study.variant, problem, excitations, study, duration, precision, tell)  # noqa: B023

        found.update(zip(mine, each_or_none(seats, mine), strict=True))
    return [found[k] for k in range(len(wanted))]


def _stable(
    study: PlacementStudy, scene: Scene, problem: Problem, asked: Design, name: str, progress: Progress
) -> tuple[Design, Variant | None, tuple[UnitFigures, ...], StabilityError | None]:
    """`asked` with the gains of its active units lowered until enough gain is left, or as low as they go: the design,
    its variant (None if it is stable at no gain), figures of its units and why the gains asked are not stable."""
    refused: StabilityError | None = None
    design, known = asked, dict[Variant, PortResponse]()
    while True:
        variant = with_units(study, design, name)
        if not active_absorbers(variant):
            return design, variant, (), None
        lower = _lowered(study, design)
        try:
            units = check_units(scene, problem, [variant], progress, known)[name]
        except StabilityError as error:
            refused = refused or error
            if lower == design:
                return asked, None, (), refused
            design = lower
            continue
        if units[0].stability.margin_db < ENOUGH_MARGIN and lower != design:
            design = lower
            continue
        return design, variant, units, refused


def _lowered(study: PlacementStudy, design: Design) -> Design:
    """Every active unit at the next lower gain of [spots], as far as there is one."""
    active = [study.spots.devices[kind].control is not None for kind in design.kinds]
    gains = (max(g - 1, 0) if on else g for g, on in zip(design.gains, active, strict=True))
    return replace(design, gains=tuple(gains))


def _name(study: PlacementStudy, design: Design) -> str:
    """Of its variant, as an error may tell it."""
    units = "1 unit" if len(design.ports) == 1 else f"{len(design.ports)} units"
    return f"{units} at {', '.join(study.places[port].name for port in design.ports)}"


def has_active(study: PlacementStudy, design: Design) -> bool:
    """Whether any unit of a design has electronics."""
    return any(study.spots.devices[kind].control is not None for kind in design.kinds)


def margin_db(built: AsInstalled) -> float:
    """dB of gain that are left before the active units of a design oscillate; infinite without any."""
    return float(built.units[0].stability.margin_db) if built.units else float("inf")
