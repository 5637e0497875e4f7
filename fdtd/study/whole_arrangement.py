"""Loudspeaker places and absorber places together: options, perturbed rooms, what is advised, and a trial of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fdtd.placement.objectives import BAND, Objectives, compared, level_matched, make_axis, objectives
from fdtd.placement.search import Scored, search
from fdtd.placement.steps import gained, steps
from fdtd.placement.study import SearchInput, design_response
from fdtd.ports.candidates import Store
from fdtd.results.placement_record import Spread, WorstNote
from fdtd.scene.schema import Scene
from fdtd.settings import PERTURBED_ROOMS
from fdtd.simulation.device import SINGLE, Execution
from fdtd.simulation.progress import Progress, part
from fdtd.study.arrange import Arrangement, ArrangementStudy, arrangement_study
from fdtd.study.built import Tried, install_winners
from fdtd.study.perturb import NONE, Doubt, PerturbedRoom, draw
from fdtd.study.place import PlacementStudy, search_input
from fdtd.study.robust import COARSE, COARSER, carried_over, range_of, simulate_room
from fdtd.study.settling import settling_time
from fdtd.study.sources import FROM_WALL, SPACING
from fdtd.study.stereo import TOLERANCE
from fdtd.study.worst_note import worst_notes

WORTH_MOVING = 0.5
"""dB of benefit below which nothing is moved; ours."""
SHORTLIST = 4
"""Arrangements of a kind that the perturbed rooms choose from."""
SEED = 1
"""Of the perturbed rooms."""
SHARES = (0.7, 0.2, 0.1)
"""Of the progress: all arrangements, perturbed rooms, the trial."""


@dataclass(frozen=True, eq=False)
class Option:
    """One thing to do: an arrangement of the loudspeakers with the best `count` units for it. benefit : dB against the
    room as it is, in the perturbed rooms; None: not tried"""

    arrangement: Arrangement
    count: int
    benefit: Spread | None = None

    @property
    def scored(self) -> Scored:
        """Its design and figures."""
        found = self.arrangement.best[self.count]
        assert found is not None
        return found

    @property
    def score(self) -> float:
        """dB, what it is ranked by among its like: as `sure.safest`."""
        nominal = self.scored.objectives.benefit
        return nominal if self.benefit is None else 0.5 * (nominal + self.benefit.middle)


@dataclass(frozen=True, eq=False)
class Options:
    """moving : loudspeakers alone; adding : units alone; both : together; each a shortlist, best first, maybe empty
    leaving : the room as it is; advised : which of the four, by its name, of which the first is taken"""

    moving: tuple[Option, ...]
    adding: tuple[Option, ...]
    both: tuple[Option, ...]
    leaving: tuple[Option, ...]
    advised: str

    @property
    def best(self) -> Option:
        """What is advised."""
        shortlist: tuple[Option, ...] = getattr(self, self.advised)
        return shortlist[0]


@dataclass(frozen=True, eq=False)
class FinishedArrangement:
    """options : what can be done and what is advised; worst_notes : of each seat that counts, and what that does to it
    tried : the advice simulated as it would stand, None if left out; simulated : dB of benefit in that simulation, NaN
    without one; perturbed_rooms : 0: left out"""

    study: ArrangementStudy
    options: Options
    worst_notes: tuple[WorstNote, ...]
    tried: Tried | None
    simulated: float
    perturbed_rooms: int


def whole_arrangement(
    scene: Scene,
    *,
    name: str | None = None,
    pairs: bool = False,
    tolerance: float | None = TOLERANCE,
    spacing: float = SPACING,
    from_wall: float = FROM_WALL,
    grid: float | None = None,
    count: int | None = None,
    execution: Execution = SINGLE,
    perturbed_rooms: int | None = PERTURBED_ROOMS,
    confirmed: bool = True,
    store: Store | None = None,
    progress: Progress | None = None,
) -> FinishedArrangement:
    """Every arrangement, what is advised, how sure that is, and the advice simulated as it would stand.

    As of `arrangement_study`; perturbed_rooms : None: left out; confirmed : whether the advice is simulated
    """
    ends = np.cumsum((0.0, *SHARES))
    parts = [part(progress, low, high) for low, high in zip(ends[:-1], ends[1:], strict=True)]
    study = arrangement_study(
        scene,
        name=name,
        pairs=pairs,
        tolerance=tolerance,
        spacing=spacing,
        from_wall=from_wall,
        grid=grid,
        most=count,
        execution=execution,
        store=store,
        progress=parts[0],
    )
    found = options(study)
    if perturbed_rooms is not None:
        found = _with_ranges(study, found, perturbed_rooms, execution, parts[1])
    advised = found.best
    given, design = study.sound.given, advised.scored.design
    notes = worst_notes(given.frequency, given.untreated, study.with_design(advised.arrangement, design))
    counted = tuple(note for note in notes if given.weights[note.seat] > 0.0)
    tried = None
    if confirmed and (advised.count or advised.arrangement is not study.now):
        (tried,) = install_winners(placement_of(study, advised), [design], study.duration, execution, parts[2])
    simulated = _simulated(study, advised, tried)
    return FinishedArrangement(study, found, counted, tried, simulated, perturbed_rooms or 0)


def options(study: ArrangementStudy) -> Options:
    """What can be done, and what is advised by the figures of the room as described.

    Loudspeakers are moved for `WORTH_MOVING` at least, and units are added as long as each is heard and does some good.
    """
    counts = range(len(study.now.best))
    stay = [Option(study.now, n) for n in counts if study.now.best[n] is not None]
    move = [[Option(one, n) for one in study.ranked(n)[:SHORTLIST]] for n in counts]
    better = [
        there[0] if there and _benefit(there[0]) - _benefit(here) >= WORTH_MOVING else here
        for here, there in zip(stay, move, strict=False)
    ]
    advised, alone = _worthwhile(better), _worthwhile(stay)
    if advised.arrangement is study.now:
        name, alone = "adding" if advised.count else "leaving", advised
    else:
        name = "both" if advised.count else "moving"
    adding = stay[max(alone.count, 1) :][:1]
    both = move[max(advised.count, 1)] if len(move) > 1 else []
    return Options(tuple(move[0]), tuple(adding), tuple(both), (stay[0],), name)


def _with_ranges(
    study: ArrangementStudy, found: Options, rooms: int, execution: Execution, progress: Progress
) -> Options:
    """Each shortlist with what is known from `rooms` perturbed rooms, the safest first."""
    chosen = [*found.moving, *found.adding, *found.both]
    ranges = iter(_ranges(study, chosen, rooms, execution, progress))

    def known(shortlist: Sequence[Option]) -> tuple[Option, ...]:
        return tuple(sorted((replace(one, benefit=next(ranges)) for one in shortlist), key=lambda one: -one.score))

    ranked = replace(found, moving=known(found.moving), adding=known(found.adding), both=known(found.both))
    return replace(ranked, advised=_still_advised(ranked))


def _still_advised(found: Options) -> str:
    """What is advised of the safest of each kind: doing both must still be worth it against doing one."""
    if found.advised != "both":
        return found.advised
    moving, adding, both = found.moving[0], found.adding[0], found.both[0]
    change = gained(moving.scored.objectives, both.scored.objectives)
    if change.benefit <= 0.0 or not change.audible:
        return "moving" if _benefit(moving) >= WORTH_MOVING else "leaving"
    return "both" if _benefit(both) - _benefit(adding) >= WORTH_MOVING else "adding"


def _worthwhile(by_count: Sequence[Option]) -> Option:
    """The last of those with 0, 1, 2 ... units whose last unit is heard and does some good."""
    chosen = by_count[0]
    for more in by_count[1:]:
        change = gained(chosen.scored.objectives, more.scored.objectives)
        if change.benefit <= 0.0 or not change.audible:
            break
        chosen = more
    return chosen


def _benefit(option: Option) -> float:
    return option.scored.objectives.benefit


def placement_of(study: ArrangementStudy, option: Option) -> PlacementStudy:
    """The placement study of the room with the loudspeakers moved."""
    given = study.given(option.arrangement)
    found = search(given, max(option.count, 1))
    spots = replace(study.spots, start=study.variant(option.arrangement))
    return PlacementStudy(study.scene, spots, study.places, study.response, given, found, steps(found), study.grid)


def _simulated(study: ArrangementStudy, advised: Option, tried: Tried | None) -> float:
    """dB of benefit against the room as it is."""
    if tried is None or tried.simulated is None:
        return float("nan")
    given = study.given(advised.arrangement).within(BAND)
    alone = objectives(given.untreated, make_axis(given.frequency, given.weights))
    seat = given.weights / given.weights.sum()
    return compared(tried.simulated, level_matched(study.present, alone.level), seat).benefit


def _ranges(
    study: ArrangementStudy, chosen: Sequence[Option], rooms: int, execution: Execution, progress: Progress
) -> list[Spread]:
    """Of the benefit of each option over `rooms` perturbed rooms; as `robust.robustness`, which see."""
    sources = sorted({k for option in chosen for k in option.arrangement.sources} | set(study.now.sources))
    ports = sorted({port for option in chosen for port in option.scored.design.ports})
    places = [study.places[port] for port in ports]
    faces = [place.absorber("") for place in places]
    start = replace(
        study.spots.start,
        sources=tuple(replace(study.sources[k], name=f"{study.sources[k].name} {k}") for k in sources),
    )
    cells = max(COARSER * study.grid, COARSE)
    duration = study.scene.run.duration or settling_time(study.scene, study.spots.start, cells, execution=execution)
    found: list[list[Objectives]] = [[] for _ in chosen]
    for number in range(rooms + 1):
        doubt = Doubt() if number else NONE
        room = draw(study.scene, start, study.spots.devices, faces, doubt, (SEED, max(number - 1, 0)))
        doing = f"perturbed rooms {number + 1}/{rooms + 1}, "
        tell = part(progress, number / (rooms + 1), (number + 1) / (rooms + 1), doing)
        given = _by_option(study, chosen, (sources, ports), room, cells, duration, execution, tell)
        axis = make_axis(given[0].frequency, given[0].weights)
        now = objectives(given[0].untreated, axis)
        for listed, one, option in zip(found, given[1:], chosen, strict=True):
            design = replace(option.scored.design, ports=tuple(ports.index(p) for p in option.scored.design.ports))
            against = level_matched(now, objectives(one.untreated, axis).level)
            listed.append(objectives(design_response(one, design), axis, against))
    shifted = [carried_over(listed, option.scored.objectives) for listed, option in zip(found, chosen, strict=True)]
    return [range_of([one.benefit for one in listed]) for listed in shifted]


def _by_option(
    study: ArrangementStudy,
    chosen: Sequence[Option],
    used: tuple[Sequence[int], Sequence[int]],
    room: PerturbedRoom,
    cells: float,
    duration: float,
    execution: Execution,
    progress: Progress,
) -> list[SearchInput]:
    """What the room does with the loudspeakers where they are, and as in each option; used : the sources and ports that
    it has."""
    sources, ports = used
    places = tuple(study.places[port] for port in ports)
    variant, faces, matrices = simulate_room(room, cells, duration, execution, progress)
    made = []
    for arrangement in (study.now, *(option.arrangement for option in chosen)):
        at = [sources.index(k) for k in arrangement.sources]
        playing = replace(variant, sources=tuple(variant.sources[k] for k in at))
        spots = replace(study.spots, start=playing, devices=room.devices)
        made.append(search_input(room.scene, spots, places, faces, matrices.of_sources(at)))
    return [given.within(BAND) for given in made]
