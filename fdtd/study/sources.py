"""Where a loudspeaker does best, alone or as one of two, and where a chair does: every place from a few excitations.

Exchanging source and seat changes nothing (Rayleigh, Theory of Sound, sec. 109 and 294), so an excitation driven at a
seat and read at every possible place tells what a loudspeaker at each of them does at that seat. As many excitations as
there are seats are enough for all places; two loudspeakers are sums. Chairs take the plain way: driven at the
loudspeakers, read at every place.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Point

from fdtd.analysis.response import free_field_reference
from fdtd.errors import FdtdError
from fdtd.model.excitations import make_excitation
from fdtd.model.problem import build_problem
from fdtd.placement.objectives import BAND, LOUDNESS_SHARE, Axis, Objectives, make_axis, objectives
from fdtd.ports.response import measure
from fdtd.scene.schema import Point3, Scene, Source, Variant
from fdtd.scene.shape import NEAR, Shape
from fdtd.simulation.compilation import Compilation
from fdtd.simulation.progress import Progress, part
from fdtd.simulation.transfer import transfer_functions
from fdtd.study.floor import floor_places, points_of
from fdtd.study.stereo import ANGLE, DISTANCE, TOLERANCE, main_seat, stereo_pairs

SPACING, FROM_WALL = 0.4, 0.3
"""m, of the places; of each from walls, partitions and what stands in the room."""
FROM_PEOPLE = 0.5
"""m between a loudspeaker and a seat, seen from above."""
SITTING = (0.3, 0.2)
"""m below and above the ear that must be free: what is lower is sat on or stood beside."""
MOST_PAIRS = 60_000
"""More pairs than this take minutes; the message asks for a wider spacing."""
SIMULATION_SHARE = 0.8
"""Share of the progress that the simulation is counted as."""


@dataclass(frozen=True)
class Choice:
    """places : numbers, from 0, of one place or two; objectives : against the present state."""

    places: tuple[int, ...]
    objectives: Objectives


@dataclass(frozen=True, eq=False)
class MoveStudy:
    """What moving one thing, or two, would do.

    what : "source", "pair" or "seat"; moved : names; places : (place, 3) m
    frequency : (F,) Hz; parts : (F, place, seat) what a loudspeaker at each place adds at the seats, 1 is the free
    field at 1 m of a source of level 0; staying : (F, seat) of the loudspeakers that stay
    now : (F, seat); present : its figures; at_present : where each moved thing is
    choices : all, best first; seats : names; spacing : m; by_wall : (place,) as near a wall as it may be
    seats_now : of a seat study, the figures of every present seat by itself
    tolerance : m, of pairs for two channels; None: any pair, or no pairs
    """

    scene: Scene
    variant: Variant
    what: str
    moved: tuple[str, ...]
    places: NDArray[np.float64]
    frequency: NDArray[np.float64]
    parts: NDArray[np.complex128]
    staying: NDArray[np.complex128]
    now: NDArray[np.complex128]
    present: Objectives
    at_present: tuple[Point3, ...]
    choices: tuple[Choice, ...]
    seats: tuple[str, ...]
    spacing: float
    by_wall: NDArray[np.bool_]
    seats_now: tuple[tuple[str, Objectives], ...] = ()
    tolerance: float | None = None

    def response(self, choice: Choice) -> NDArray[np.complex128]:
        """(F, seat) with a choice instead of the present state, in the unit of `parts`."""
        return np.asarray(self.staying + self.parts[:, list(choice.places)].sum(axis=1))

    @property
    def benefit(self) -> NDArray[np.float64]:
        """(place,) dB; of pairs that of the best one with that place."""
        best = np.full(len(self.places), -np.inf)
        for choice in self.choices:
            for place in choice.places:
                best[place] = max(best[place], choice.objectives.benefit)
        return best


def source_study(
    scene: Scene,
    variant: Variant | None = None,
    *,
    name: str | None = None,
    pairs: bool = False,
    tolerance: float | None = TOLERANCE,
    spacing: float = SPACING,
    from_wall: float = FROM_WALL,
    grid: float | None = None,
    progress: Progress | None = None,
) -> MoveStudy:
    """Every place on the floor for one source (default: the first), or for two with the same signal.

    Of a pair the first has the name, the second is the next one of the scene if there is another; both then play what
    the first plays. All other sources stay. tolerance : m, of pairs for two channels (`stereo_pairs`), None: any pair,
    as for two subwoofers; spacing, from_wall, grid : m.
    Raises FdtdError if there is no such source, no seat, or no place is left.
    """
    variant = variant or scene.variants[0]
    moved, seats = moved_sources(variant, name, 2 if pairs else 1), variant.seats
    places, listed = source_places(scene, variant, moved[0], pairs, tolerance, spacing, from_wall)
    report = progress or (lambda done, message: None)
    readers = [*points_of(places), *(s.at for s in variant.sources)]
    points = tuple(seat.at for seat in seats)
    frequency, found = _transfer(scene, variant, points, readers, grid, report)
    parts = found[:, : len(places)] * moved[0].playback(frequency)[:, None, None]
    each = found[:, len(places) :] * np.stack([s.playback(frequency) for s in variant.sources], axis=1)[:, :, None]
    stay = [k for k, s in enumerate(variant.sources) if s not in moved]
    axis = make_axis(frequency, scene.seat_weights(seats))
    staying, now = each[:, stay].sum(axis=1), each.sum(axis=1)
    present, choices = _score(parts, staying, now, axis, listed, report)
    shape = Shape(scene.room)
    return MoveStudy(
        scene,
        variant,
        "pair" if pairs else "source",
        tuple(s.name for s in moved),
        places,
        frequency,
        parts,
        staying,
        now,
        present,
        tuple(s.at for s in moved),
        choices,
        tuple(seat.name for seat in seats),
        spacing,
        by_wall(shape, places, from_wall),
        tolerance=tolerance if pairs else None,
    )


def seat_study(
    scene: Scene,
    variant: Variant | None = None,
    *,
    name: str | None = None,
    spacing: float = SPACING,
    from_wall: float = FROM_WALL,
    grid: float | None = None,
    progress: Progress | None = None,
) -> MoveStudy:
    """Every place on the floor for one seat (default: the first), with the loudspeakers where they are.

    Raises FdtdError if there is no such seat or no place is left.
    """
    variant = variant or scene.variants[0]
    names = [seat.name for seat in variant.seats]
    if not names or (name is not None and name not in names):
        raise FdtdError(f"there is no seat '{name or ''}' in variant '{variant.name}'; it has: {', '.join(names)}")
    own = names.index(name) if name is not None else 0
    seat = variant.seats[own]
    places = floor_places(
        scene,
        variant,
        seat.at[2],
        spacing=spacing,
        from_wall=from_wall,
        apart=tuple(s.at[:2] for s in variant.sources),
        distance=FROM_PEOPLE,
        body=SITTING,
    )
    _check_places(places, f"seat '{seat.name}'", from_wall, 1)
    report = progress or (lambda done, message: None)
    readers = [*points_of(places), *(s.at for s in variant.seats)]
    frequency, found = _transfer(scene, variant, tuple(s.at for s in variant.sources), readers, grid, report)
    together = np.einsum("frs,sf->fr", found, np.stack([s.playback(frequency) for s in variant.sources]))
    parts, now = together[:, : len(places), None], together[:, len(places) :]
    axis = make_axis(frequency, [1.0])
    staying = np.zeros((len(frequency), 1), dtype=complex)
    mine = now[:, own : own + 1]
    present, choices = _score(parts, staying, mine, axis, [(k,) for k in range(len(places))], report)
    shape = Shape(scene.room)
    return MoveStudy(
        scene,
        variant,
        "seat",
        (seat.name,),
        places,
        frequency,
        parts,
        staying,
        mine,
        present,
        (seat.at,),
        choices,
        (seat.name,),
        spacing,
        by_wall(shape, places, from_wall),
        tuple((n, objectives(now[:, k : k + 1], axis, present)) for k, n in enumerate(names)),
    )


def _pairs(
    scene: Scene, variant: Variant, places: NDArray[np.float64], tolerance: float | None
) -> list[tuple[int, ...]]:
    """Pairs of places that are tried. Raises FdtdError if there is none, or too many."""
    count = len(places) * (len(places) - 1) // 2
    if count > MOST_PAIRS:
        raise FdtdError(f"{len(places)} places make {count:,} pairs, more than {MOST_PAIRS:,}: choose a wider spacing")
    if tolerance is None:
        return list(combinations(range(len(places)), 2))
    if not (found := stereo_pairs(scene, variant, places, tolerance)):
        seat = variant.seats[main_seat(scene, variant)].name
        raise FdtdError(
            f"none of {count:,} pairs of places suits two channels at '{seat}': in front of it, in sight, "
            f"{DISTANCE[0]:g} to {DISTANCE[1]:g} m away, {ANGLE[0]:g} to {ANGLE[1]:g} degrees apart, distances within "
            f"{tolerance:g} m; allow a larger tolerance or a smaller spacing, or any pair"
        )
    return list(found)


def source_places(
    scene: Scene,
    variant: Variant,
    source: Source,
    pairs: bool,
    tolerance: float | None,
    spacing: float,
    from_wall: float,
) -> tuple[NDArray[np.float64], list[tuple[int, ...]]]:
    """(place, 3) m where `source` may stand, and what is tried: single places, or pairs; as of `source_study`.

    Raises FdtdError if nothing is left, or there are too many pairs.
    """
    places = floor_places(
        scene,
        variant,
        source.at[2],
        spacing=spacing,
        from_wall=from_wall,
        apart=tuple(seat.at[:2] for seat in variant.seats),
        distance=FROM_PEOPLE,
    )
    _check_places(places, f"loudspeaker '{source.name}'", from_wall, 2 if pairs else 1)
    return places, _pairs(scene, variant, places, tolerance) if pairs else [(k,) for k in range(len(places))]


def moved_sources(variant: Variant, name: str | None, count: int) -> tuple[Source, ...]:
    """The named source, and the next one round the list if two are asked for and there is another.

    Raises FdtdError if there is no such source, or no seat.
    """
    if not variant.seats:
        raise FdtdError(f"variant '{variant.name}' has no seat, so there is nothing that a place can be good for")
    names = [s.name for s in variant.sources]
    if name is not None and name not in names:
        raise FdtdError(f"there is no source '{name}' in variant '{variant.name}'; it has: {', '.join(names)}")
    first = names.index(name) if name is not None else 0
    numbers = dict.fromkeys((first + k) % len(names) for k in range(count))
    return tuple(variant.sources[k] for k in numbers)


def by_wall(shape: Shape, places: NDArray[np.float64], from_wall: float) -> NDArray[np.bool_]:
    """(place,) whether each is as near a wall as it may be, `from_wall` m."""
    edge = shape.plan.exterior
    return np.array([edge.distance(Point(x, y)) <= from_wall + NEAR for x, y, _ in places], dtype=bool)


def _check_places(places: NDArray[np.float64], what: str, from_wall: float, least: int) -> None:
    if len(places) < least:
        raise FdtdError(
            f"{len(places)} places on the floor are left for {what}: they lie at least {from_wall:g} m from walls, "
            "partitions and what stands in the room; allow a smaller distance, or a smaller spacing"
        )


def _transfer(
    scene: Scene, variant: Variant, driven: tuple[Point3, ...], readers: list, grid: float | None, report: Progress
) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    """Frequencies, and (F, reader, driven) pressure relative to the free field at 1 m of the same source."""
    report(0.0, "cutting the room into cells")
    ready = Compilation()
    problem = build_problem(scene, variant, grid or scene.run.grid)
    excitations = [make_excitation(scene, variant, problem, at) for at in driven]
    ready.wait(report)
    tell = part(report, 0.0, SIMULATION_SHARE)
    record = measure(scene, problem, excitations, readers, scene.run.duration, progress=tell)
    high = min(BAND[1], scene.run.max_frequency)
    step = next((s for s in (0.25, 0.125) if s <= 1.0 / record.duration), 0.0625)
    frequency = np.asarray(BAND[0] + step * np.arange(int(round((high - BAND[0]) / step)) + 1), dtype=float)
    found = np.transpose(transfer_functions(record, frequency), (2, 1, 0))
    # Volume velocity that falls as 1/omega: a source that would be even in free field.
    return frequency, np.asarray(found / (1j * free_field_reference(frequency, scene.air.density))[:, None, None])


def _score(
    parts: NDArray, staying: NDArray, now: NDArray, axis: Axis, listed: list, report: Progress
) -> tuple[Objectives, tuple[Choice, ...]]:
    """Figures of the present state, and every choice, best first."""
    present = objectives(now, axis)
    by_place = np.ascontiguousarray(np.swapaxes(parts, 0, 1))
    found = []
    for number, places in enumerate(listed):
        response = staying + sum(by_place[k] for k in places)
        figures = objectives(response, axis, present)
        # Levels are matched before comparing: what was lost is turned up again.
        loud = LOUDNESS_SHARE * max(figures.loss, 0.0)
        found.append(Choice(tuple(places), replace(figures, benefit=figures.benefit + loud)))
        if number % 100 == 0:
            report(
                SIMULATION_SHARE + (1.0 - SIMULATION_SHARE) * number / len(listed), f"{len(listed):,} choices compared"
            )
    found.sort(key=lambda choice: -choice.objectives.benefit)
    return objectives(now, axis, present), tuple(found)
