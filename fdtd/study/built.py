"""The winner of each count built as it would stand in the room, cabinet and all; are its active units stable there?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import StabilityError
from fdtd.model.excitations import Excitation, by_geometry, geometry_key
from fdtd.model.problem import Problem, build_problem
from fdtd.placement.objectives import Objectives, objectives
from fdtd.placement.study import Design
from fdtd.ports.response import PortResponse, excitations_of, measure, readers_of
from fdtd.ports.units import UnitFigures, active_absorbers, check_units
from fdtd.scene.schema import Scene, Variant
from fdtd.simulation.device import Execution
from fdtd.simulation.progress import Progress, part
from fdtd.simulation.transfer import transfer_functions
from fdtd.study.place import ENOUGH_MARGIN, PlacementStudy, played, with_units
from fdtd.study.shortlist import Scores

CHECKS = 0.4
"""Share of the progress that the checks of active units are counted as."""

Complex = NDArray[np.complex128]
T = TypeVar("T")


@dataclass(frozen=True)
class Tried:
    """A design simulated with its units in: in the plane of the wall, or as it would stand in the room.

    asked : what the study found; design : what was simulated, its gains lowered if need be
    predicted, simulated : figures of `design`, each against the room without units on the same cells; simulated is None
    if it was not stable at any of the study's gains, or (`grew`) if the field grew in the simulation
    error : dB, on the wall: largest difference of level at the seats between prediction and simulation, away from nulls
    units : figures of its active units; refused : why the gains that were asked are not stable, None if they are
    """

    asked: Design
    design: Design
    predicted: Objectives
    simulated: Objectives | None
    error: float = float("nan")
    units: tuple[UnitFigures, ...] = ()
    grew: bool = False
    refused: StabilityError | None = None


def seats_of(
    study: PlacementStudy,
    problem: Problem,
    excitations: list[Excitation],
    duration: float,
    execution: Execution,
    progress: Progress,
) -> list[Complex]:
    """(frequency, seat) of each run of excitations that are the sources of the study, combined as they are played."""
    scene, variant, frequency = study.scene, study.variant, study.given.frequency
    record = measure(scene, problem, excitations, readers_of(variant), duration, execution, progress)
    every = transfer_functions(record, frequency).reshape(-1, len(variant.sources), len(variant.seats), len(frequency))
    return list(np.einsum("nsrf,sf->nfr", every, played(variant, frequency, scene.air.density)))


def each_or_none(seats: Callable[[Sequence[T]], list[Complex]], every: Sequence[T]) -> list[Complex | None]:
    """`seats` of all in one simulation; if a field grows in it, of one at a time, None for those in which it does."""
    try:
        return [*seats(every)]
    except StabilityError:
        return [None] if len(every) == 1 else [each_or_none(seats, [one])[0] for one in every]


def simulated_figures(study: PlacementStudy, responses: Sequence[Complex | None]) -> list[Objectives | None]:
    """Figures of each response against the first, of the room without units; None where the field grew."""
    scores = Scores(study.given)
    inside = np.isin(study.given.frequency, scores.given.frequency)
    untreated = scores.untreated if responses[0] is None else objectives(responses[0][inside], scores.axis)
    return [None if r is None else objectives(r[inside], scores.axis, untreated) for r in responses[1:]]


def install_winners(
    study: PlacementStudy, winners: Sequence[Design], duration: float, execution: Execution, progress: Progress
) -> tuple[Tried, ...]:
    """The winners with cabinets, on cells that suit the untreated room and all of them."""
    start = study.variant
    variants = [with_units(study, design, _name(study, design)) for design in winners]
    scene = replace(study.scene, variants=(start, *variants))
    problems = [
        (group, build_problem(scene, group[0], study.spacing, tuple(group))) for group in by_geometry(scene.variants)
    ]
    problem_of = {variant: problem for group, problem in problems for variant in group}
    settled, each = [], CHECKS / len(winners) if winners else 0.0
    for k, (design, variant) in enumerate(zip(winners, variants, strict=True)):
        tell = part(progress, k * each, (k + 1) * each, "are active units stable? ")
        settled.append(_stable(study, scene, problem_of[variant], design, variant.name, execution, tell))
    wanted = [start, *(variant for _, variant, _, _ in settled if variant is not None)]
    responses: dict[int, Complex | None] = {}
    share = (1.0 - CHECKS) / len(problems)
    for number, (group, problem) in enumerate(problems):
        key = geometry_key(group[0])
        mine = [k for k, variant in enumerate(wanted) if geometry_key(variant) == key]
        tell = part(progress, CHECKS + number * share, CHECKS + (number + 1) * share, "winners as installed, ")

        def seats(some: Sequence[int], problem: Problem = problem, tell: Progress = tell) -> list[Complex]:
            excitations = [excitation for k in some for excitation in excitations_of(scene, wanted[k], problem)]
            return seats_of(study, problem, excitations, duration, execution, tell)

        if mine:
            responses.update(zip(mine, each_or_none(seats, mine), strict=True))
    scores, simulated = Scores(study.given), iter(simulated_figures(study, [responses[k] for k in range(len(wanted))]))
    made = []
    for asked, (design, stable, units, refused) in zip(winners, settled, strict=True):
        found = None if stable is None else next(simulated)
        grew = stable is not None and found is None
        made.append(Tried(asked, design, scores.of(design), found, units=units, grew=grew, refused=refused))
    return tuple(made)


def _stable(
    study: PlacementStudy,
    scene: Scene,
    problem: Problem,
    asked: Design,
    name: str,
    execution: Execution,
    progress: Progress,
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
            units = check_units(scene, problem, [variant], progress, known, execution.double)[name]
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


def margin_db(built: Tried) -> float:
    """dB of gain that are left before the active units of a design oscillate; infinite without any."""
    return float(built.units[0].stability.margin_db) if built.units else float("inf")
