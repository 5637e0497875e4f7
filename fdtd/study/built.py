"""The winner of each count built as it would stand in the room, cabinet and all; are its active units stable there?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import StabilityError
from fdtd.march.stepper import march
from fdtd.march.transfer import transfer_functions
from fdtd.model.lanes import Lane, Place, geometry_key, make_lane
from fdtd.model.problem import Problem, build_problem
from fdtd.placement.objectives import Objectives, objectives
from fdtd.placement.study import Design
from fdtd.ports.response import PortResponse
from fdtd.ports.units import UnitFigures, active_absorbers, check_units
from fdtd.scene.schema import Scene, Variant
from fdtd.study.place import PlacementStudy, Progress, played, with_units
from fdtd.study.shortlist import Scores

DIFFERS = 0.5
"""dB of benefit between a unit in the plane of the wall and the same in its cabinet that is pointed out."""
ENOUGH_MARGIN = 3.0
"""dB of gain that should be left before a unit oscillates (common practice)."""
CHECKS = 0.4
"""Share of the progress that the checks of active units are counted as."""

Complex = NDArray[np.complex128]


@dataclass(frozen=True)
class Built:
    """The winner of `count` units as it would stand in the room.

    asked : what the study found; design : what was marched, its gains lowered if need be
    predicted, marched : figures of `design`, each against the room without units on the same cells; marched is None if
    it was not stable at any of the study's gains
    units : figures of its active units; words : what came out
    """

    count: int
    asked: Design
    design: Design
    predicted: Objectives
    marched: Objectives | None
    units: tuple[UnitFigures, ...]
    words: str


def bare_lanes(scene: Scene, variant: Variant, problem: Problem) -> list[Lane]:
    """A lane for each source of `variant`."""
    return [make_lane(scene, variant, problem, source.at) for source in variant.sources]


def seats_of(
    scene: Scene, variant: Variant, problem: Problem, lanes: list[Lane], study: PlacementStudy, duration: float,
    precision: str, progress: Progress,
) -> list[Complex]:  # fmt: skip
    """(frequency, seat) of each run of lanes that are the sources of `variant`, these combined as they are played."""
    seats: list[Place] = [seat.at for seat in variant.seats]
    record = march(
        problem, lanes, seats, scene.run.max_frequency, duration, precision=precision, progress=progress, sparse=True
    )
    frequency = study.given.frequency
    playback = played(variant, frequency, scene.air.density)
    every = transfer_functions(record, frequency).reshape(-1, len(variant.sources), len(seats), len(frequency))
    return list(np.einsum("nsrf,sf->nfr", every, playback))


def build_winners(
    study: PlacementStudy, winners: Sequence[Design], duration: float, precision: str, progress: Progress
) -> tuple[Built, ...]:
    """The winners with cabinets, on cells that suit the bare room and all of them."""
    start = study.variant
    variants = [with_units(study, design, f"best of {len(design.ports)}") for design in winners]
    scene = replace(study.scene, variants=(start, *variants))
    groups: dict[tuple, list[Variant]] = {}
    for variant in scene.variants:
        groups.setdefault(geometry_key(variant), []).append(variant)
    problems = {key: build_problem(scene, v[0], study.spacing, tuple(v)) for key, v in groups.items()}
    settled = []
    for k, (design, variant) in enumerate(zip(winners, variants, strict=True)):
        tell = lambda done, message: progress(  # noqa: E731
            CHECKS * (k + done) / len(winners), f"are active units stable? {message}"  # noqa: B023
        )  # fmt: skip
        settled.append(_stable(study, scene, problems[geometry_key(variant)], design, variant.name, tell))
    marched = _built_seats(study, scene, problems, [s[1] for s in settled], duration, precision, progress)
    scores = Scores(study.given)
    inside = np.isin(study.given.frequency, scores.given.frequency)
    bare = objectives(marched[0][inside], scores.axis)
    made, rest = [], iter(marched[1:])
    for asked, (design, stable, units, note) in zip(winners, settled, strict=True):
        found = None if stable is None else objectives(next(rest)[inside], scores.axis, bare)
        predicted = scores.of(design)
        words = _built_words(study, design, predicted, found, note)
        made.append(Built(len(asked.ports), asked, design, predicted, found, units, words))
    return tuple(made)


def _built_seats(
    study: PlacementStudy, scene: Scene, problems: dict[tuple, Problem], settled: Sequence[Variant | None],
    duration: float, precision: str, progress: Progress,
) -> list[Complex]:  # fmt: skip
    """(frequency, seat) of the bare room and of each variant that is stable; those with the same cells in one march."""
    wanted = [study.variant, *(v for v in settled if v is not None)]
    found: dict[int, Complex] = {}
    for number, (key, problem) in enumerate(problems.items()):
        mine = [k for k, variant in enumerate(wanted) if geometry_key(variant) == key]
        lanes = [lane for k in mine for lane in bare_lanes(scene, wanted[k], problem)]
        if not lanes:
            continue
        tell = lambda done, message: progress(  # noqa: E731
            CHECKS + (1.0 - CHECKS) * (number + done) / len(problems), f"winners as built, {message}"  # noqa: B023
        )  # fmt: skip
        found.update(
            zip(mine, seats_of(scene, study.variant, problem, lanes, study, duration, precision, tell), strict=True)
        )
    return [found[k] for k in range(len(wanted))]


def _stable(
    study: PlacementStudy, scene: Scene, problem: Problem, asked: Design, name: str, progress: Progress
) -> tuple[Design, Variant | None, tuple[UnitFigures, ...], str]:
    """`asked` with the gains of its active units lowered until it is stable: the design, its variant (None if it is at
    no gain), figures of its units and what is to be said."""
    design, refused, known = asked, "", dict[Variant, PortResponse]()
    while True:
        variant = with_units(study, design, name)
        if not active_absorbers(variant):
            return design, variant, (), ""
        try:
            units = check_units(scene, problem, [variant], progress, known)[name]
        except StabilityError as error:
            refused = refused or str(error)
            lower = _lowered(study, design)
            if lower == design:
                return asked, None, (), refused
            design = lower
            continue
        margin = units[0].stability.margin_db
        spare = f"stable, with {margin:.1f} dB of gain to spare" if np.isfinite(margin) else "stable at any gain"
        if margin < ENOUGH_MARGIN:
            spare += f" (less than the {ENOUGH_MARGIN:g} dB that are usual: a lower gain is safer)"
        return design, variant, units, "; ".join(w for w in (_gain_words(study, design, asked), spare) if w)


def _lowered(study: PlacementStudy, design: Design) -> Design:
    """Every active unit at the next lower gain of [spots], as far as there is one."""
    active = [study.spots.devices[kind].control is not None for kind in design.kinds]
    gains = (max(g - 1, 0) if on else g for g, on in zip(design.gains, active, strict=True))
    return replace(design, gains=tuple(gains))


def _gain_words(study: PlacementStudy, design: Design, asked: Design) -> str:
    if design == asked:
        return ""
    gains = [sorted({g for _, _, g in study.units(d)}) for d in (design, asked)]
    new, old = (" and ".join(f"{g:g}" for g in values) for values in gains)
    return f"with gain {new}, because it would oscillate with gain {old}"


def _built_words(
    study: PlacementStudy, design: Design, predicted: Objectives, found: Objectives | None, note: str
) -> str:
    units = "1 unit" if len(design.ports) == 1 else f"{len(design.ports)} units"
    told = f"{units}, {study.words(design)}"
    if found is None:
        return f"{told}: not stable at any gain that was to be tried; {note}"
    told += f": predicted benefit {predicted.benefit:.1f} dB, built in as it would stand {found.benefit:.1f} dB"
    if abs(found.benefit - predicted.benefit) > DIFFERS:
        told += " (its cabinet takes up room and brings its face forward; the second figure is the better one)"
    return told + (f"; {note}" if note else "")
