"""Loudspeaker places and absorber places together: every combination from one set of simulations.

    seats, faces driven -> places, faces read -> sources and seats exchanged -> a search for each loudspeaker place

Exchanging source and seat changes nothing (see `sources`), so the simulations that measure the absorber places record
every loudspeaker place as well, driven at the seats instead of at the loudspeakers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import FdtdError
from fdtd.placement.objectives import BAND, Objectives, level_matched, make_axis, objectives
from fdtd.placement.search import AFFORDABLE, Scored, best_of_counts
from fdtd.placement.stable import StableDesigns
from fdtd.placement.study import Design, SearchInput, design_response
from fdtd.ports.candidates import CandidateResponse, Store, candidate_response
from fdtd.scene.schema import Scene, Seat, Source, Spots, Variant
from fdtd.scene.shape import Shape
from fdtd.scene.spots import Candidate, candidates, too_near
from fdtd.simulation.compilation import Compilation
from fdtd.simulation.device import SINGLE, Execution
from fdtd.simulation.progress import Progress, part
from fdtd.study.floor import points_of
from fdtd.study.place import frequencies, played, search_input
from fdtd.study.settling import settling_time
from fdtd.study.sources import FROM_WALL, SPACING, by_wall, moved_sources, source_places
from fdtd.study.stereo import TOLERANCE

HALF_BOX = 0.25
"""m that a unit keeps from a loudspeaker's point, which stands for a box (ours)."""
SEARCH_SHARE = 0.3
"""Share of the progress that the searches are counted as."""


@dataclass(frozen=True, eq=False)
class Arrangement:
    """sources : numbers of the study's sources that play; best : (most + 1,) the best with 0, 1, 2 ... units, None
    where no design has so many."""

    sources: tuple[int, ...]
    best: tuple[Scored | None, ...]

    def with_units(self, count: int) -> Objectives | None:
        """Figures with the best of `count` units."""
        scored = self.best[count]
        return None if scored is None else scored.objectives

    @property
    def benefit(self) -> float:
        """dB, of its best number of units."""
        return max(scored.objectives.benefit for scored in self.best if scored is not None)


@dataclass(frozen=True, eq=False)
class Sound:
    """What the sources, each by itself, do: to_seats : (F, source, seat), to_faces : (F, source, port), as played,
    relative to free field at 1 m; given : what the search needs of the room as it is now."""

    to_seats: NDArray[np.complex128]
    to_faces: NDArray[np.complex128]
    given: SearchInput

    def within(self, band: tuple[float, float]) -> Sound:
        """The same at the frequencies within `band`, Hz."""
        given = self.given.within(band)
        inside = np.isin(self.given.frequency, given.frequency)
        return Sound(self.to_seats[inside], self.to_faces[inside], given)

    def playing(self, sources: Sequence[int], near: NDArray[np.bool_]) -> SearchInput:
        """What the search needs with `sources` playing; near : (source, port) a unit there would be in its way."""
        at, excludes = list(sources), self.given.excludes
        assert excludes is not None
        barred = np.diag(np.any(near[at], axis=0))
        untreated, driven = self.to_seats[:, at].sum(axis=1), self.to_faces[:, at].sum(axis=1)
        return replace(self.given, untreated=untreated, driven=driven, excludes=excludes | barred)


@dataclass(frozen=True, eq=False)
class ArrangementStudy:
    """spots : what was asked; places : for units; moved : names of the loudspeakers that move
    sources : all that were tried, first those of the room as it is, each moved one at `positions` ((position, 3) m)
    after them; near : (source, port) bool, a unit there would be in a loudspeaker's way
    present : figures of the room as it is; now : the loudspeakers where they are; others : all else, best first
    by_wall : (position,) as near a wall as it may be; spacing : m, of the positions; grid : m, of the cells
    duration : s, of the simulations; tolerance : m, of pairs for two channels, None: any pair, or no pairs
    """

    scene: Scene
    spots: Spots
    places: tuple[Candidate, ...]
    moved: tuple[str, ...]
    pairs: bool
    sources: tuple[Source, ...]
    positions: NDArray[np.float64]
    by_wall: NDArray[np.bool_]
    near: NDArray[np.bool_]
    response: CandidateResponse
    sound: Sound
    present: Objectives
    now: Arrangement
    others: tuple[Arrangement, ...]
    spacing: float
    grid: float
    duration: float
    tolerance: float | None

    def given(self, arrangement: Arrangement) -> SearchInput:
        """What the search needs of the room with the loudspeakers as in `arrangement`."""
        return self.sound.playing(arrangement.sources, self.near)

    def with_design(self, arrangement: Arrangement, design: Design) -> NDArray[np.complex128]:
        """(F, seat) response, relative to free field at 1 m, with the loudspeakers so and the units of `design`."""
        return design_response(self.given(arrangement), design)

    def along_walls(self, arrangement: Arrangement) -> bool:
        """Whether all that has moved stands as near a wall as it may be."""
        here = len(self.spots.start.sources)
        return all(self.by_wall[k - here] for k in arrangement.sources if k >= here)

    def moved_to(self, arrangement: Arrangement) -> tuple[Source, ...]:
        """The loudspeakers that are not where they are now."""
        return tuple(self.sources[k] for k in arrangement.sources if k >= len(self.spots.start.sources))

    @property
    def benefit(self) -> NDArray[np.float64]:
        """(position,) dB of the best arrangement with a loudspeaker there, with the number of units that suits it best;
        -inf where none was tried."""
        best, here = np.full(len(self.positions), -np.inf), len(self.spots.start.sources)
        for one in self.others:
            for k in one.sources:
                if k >= here:
                    best[k - here] = max(best[k - here], one.benefit)
        return best

    def variant(self, arrangement: Arrangement) -> Variant:
        """The room without units and with the loudspeakers as in `arrangement`."""
        return replace(self.spots.start, sources=tuple(self.sources[k] for k in arrangement.sources))

    def ranked(self, count: int) -> list[Arrangement]:
        """Of the others those that can have `count` units, the best with so many first."""
        known = [(figures.benefit, one) for one in self.others if (figures := one.with_units(count)) is not None]
        return [one for _, one in sorted(known, key=lambda pair: -pair[0])]


def arrangement_study(
    scene: Scene,
    *,
    name: str | None = None,
    pairs: bool = False,
    tolerance: float | None = TOLERANCE,
    spacing: float = SPACING,
    from_wall: float = FROM_WALL,
    grid: float | None = None,
    most: int | None = None,
    execution: Execution = SINGLE,
    store: Store | None = None,
    progress: Progress | None = None,
) -> ArrangementStudy:
    """Every place on the floor for one source or two, with every choice of units on the places of `scene.spots`.

    name, pairs, tolerance, spacing, from_wall : as of `source_study`; grid, most, execution, store : as of `place`
    Raises FdtdError if the scene has no [spots], there is no such source, no seat, or no place is left for either.
    """
    spots, places = _asked(scene)
    start, report = spots.start, part(progress, 0.0, 1.0)
    moved = moved_sources(start, name, 2 if pairs else 1)
    positions, listed = source_places(scene, start, moved[0], pairs, tolerance, spacing, from_wall)
    sources = (*start.sources, *(replace(moved[0], at=at) for at in points_of(positions)))
    cells = grid or scene.run.grid
    report(0.0, "how long does the room ring?")
    duration = scene.run.duration or settling_time(scene, start, cells, report, execution)
    Compilation(execution.precision).wait(report)
    response = candidate_response(
        scene,
        replace(
            start,
            sources=tuple(Source(f"at {seat.name}", seat.at) for seat in start.seats),
            seats=tuple(Seat(f"{number}", source.at) for number, source in enumerate(sources)),
        ),
        tuple(place.absorber("") for place in places),
        frequencies(scene),
        spacing=cells,
        execution=execution,
        duration=duration,
        active=[device for device in spots.devices if device.control is not None],
        store=store,
        progress=part(progress, 0.0, 1.0 - SEARCH_SHARE),
    )
    sound = _sound(scene, spots, places, sources, response)
    near = np.array(too_near(scene, start, places, [source.at for source in sources], HALF_BOX))
    here = tuple(range(len(start.sources)))
    staying = tuple(k for k in here if start.sources[k] not in moved)
    tried = [here, *((*staying, *(len(here) + k for k in chosen)) for chosen in listed)]
    tell = part(progress, 1.0 - SEARCH_SHARE, 1.0)
    present, found = _search_all(sound, near, tried, most or spots.count, tell)
    now, *others = found
    ranked = tuple(sorted(others, key=lambda one: -one.benefit))
    names, within = tuple(source.name for source in moved), tolerance if pairs else None
    return ArrangementStudy(
        scene,
        spots,
        places,
        names,
        pairs,
        sources,
        positions,
        by_wall(Shape(scene.room), positions, from_wall),
        near,
        response,
        sound,
        present,
        now,
        ranked,
        spacing,
        cells,
        duration,
        within,
    )


def _asked(scene: Scene) -> tuple[Spots, tuple[Candidate, ...]]:
    spots = scene.spots
    if spots is None:
        raise FdtdError("the scene has no [spots]: say there which unit to try, and on which surfaces (docs/scene.md)")
    if not (places := candidates(scene)):
        raise FdtdError("no candidate place is left: widen the height range or the surfaces in [spots]")
    return (replace(spots, gains=(1.0,)) if all(d.control is None for d in spots.devices) else spots), places


def _sound(
    scene: Scene,
    spots: Spots,
    places: tuple[Candidate, ...],
    sources: tuple[Source, ...],
    response: CandidateResponse,
) -> Sound:
    matrices = response.matrices.exchanged()
    present = matrices.of_sources(range(len(spots.start.sources)))
    given = search_input(scene, spots, places, response.faces, present, response.loops)
    playback = played(replace(spots.start, sources=sources), matrices.frequency, scene.air.density).T[:, :, None]
    return Sound(matrices.seats_from_sources * playback, matrices.ports_from_sources * playback, given)


def _search_all(
    sound: Sound, near: NDArray[np.bool_], tried: Sequence[tuple[int, ...]], most: int, report: Callable
) -> tuple[Objectives, list[Arrangement]]:
    """Figures of the room as it is, and the best of each number of units for every choice of sources."""
    sound = sound.within(BAND)
    axis = make_axis(sound.given.frequency, sound.given.weights)
    now, affordable = objectives(sound.given.untreated, axis), AFFORDABLE / len(tried)
    found, stable = [], StableDesigns(sound.given)
    for number, sources in enumerate(tried):
        given = sound.playing(sources, near)
        against = level_matched(now, objectives(given.untreated, axis).level)
        found.append(Arrangement(sources, best_of_counts(given, most, against, stable, affordable=affordable)))
        report((number + 1) / len(tried), f"{len(tried):,} places for the loudspeakers with units on every place")
    return now, found
