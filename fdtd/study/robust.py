"""How sure a study is: its shortlist once more in rooms that are a little other than was said.

Every perturbed room has its own excitations, one for each source and each place of the shortlist, in the same
simulation. All errors are drawn at once: what is reported is how sure the advice is, not which error it hangs on.

The perturbed rooms have larger cells than the study. What is taken from them is by how much each figure differs from
that of the unperturbed room on the same larger cells; this is added to the study's own figure, so that a figure and its
range are of one room model.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import GeometryError
from fdtd.model.excitations import Excitation, Place, Port
from fdtd.model.problem import Problem
from fdtd.placement.objectives import Objectives
from fdtd.placement.steps import gained
from fdtd.placement.study import Design, SearchInput
from fdtd.ports.candidates import BATCH, candidate_ports, candidate_problem
from fdtd.ports.response import PortMatrices, PortSet, excitations_of, measure, port_set
from fdtd.results.placement_record import PlaceConfidence, Spread, Sureness, UnitsConfidence
from fdtd.scene.schema import Point3
from fdtd.scene.shape import Shape
from fdtd.simulation.device import SINGLE, Execution
from fdtd.simulation.points import PointWeights
from fdtd.simulation.progress import Progress, part
from fdtd.simulation.stepper import Simulation
from fdtd.simulation.transfer import transfer_functions
from fdtd.study.perturb import Doubt, PerturbedRoom, draw
from fdtd.study.place import PlacementStudy, frequencies, search_input, units_of
from fdtd.study.settling import settling_time
from fdtd.study.shortlist import Scores, Shortlist, shortlist
from fdtd.study.sure import safest

COARSER = 1.5
"""Factor on the study's cells; what is wanted is how much figures move, and that is seen on larger cells too."""
COARSE = 0.15
"""m, cells that are at least taken."""
NOT_NEGATIVE = ("ringing", "uneven", "spread", "ringing_at", "uneven_at", "ringing_share_at")
"""Figures that a shift must not make negative."""
TOP = 3
"""Places that count as 'on top'."""


@dataclass(frozen=True, eq=False)
class Robustness:
    """How sure the advice is, its figures carried over to the study's own cells (`carried_over`).

    sure : as the result file has it; singles : what is known of each single design of the shortlist, best first
    designs, benefit : all designs and (perturbed room, design) dB
    """

    sure: Sureness
    singles: dict[Design, PlaceConfidence]
    designs: tuple[Design, ...]
    benefit: NDArray[np.float64]

    @property
    def safest(self) -> Design:
        """The safest of the places that are alike."""
        best = safest(self.singles.values())
        return next(design for design, known in self.singles.items() if known is best)


def robustness(
    study: PlacementStudy,
    *,
    perturbed_rooms: int = 10,
    seed: int = 1,
    spacing: float | None = None,
    doubt: Doubt | None = None,
    execution: Execution = SINGLE,
    progress: Progress | None = None,
) -> Robustness:
    """Rerun the shortlist of `study` in `perturbed_rooms`; the same seed gives the same rooms.

    spacing : m (default: half as large again as the study's, at least 0.15 m); doubt : how far off things may be.
    Raises ValueError for fewer than 2 rooms.
    """
    if perturbed_rooms < 2:
        raise ValueError(f"draws must be 2 or more, not {perturbed_rooms}: a range needs several rooms")
    chosen, doubt = shortlist(study.found, study.places), doubt or Doubt()
    spacing = spacing or max(COARSER * study.spacing, COARSE)
    room = Rooms(study, chosen, spacing, execution)
    nominal = PerturbedRoom(study.scene, study.variant, study.spots.devices)
    rooms = [nominal] + [
        draw(study.scene, study.variant, study.spots.devices, doubt, (seed, k), room.in_air)
        for k in range(perturbed_rooms)
    ]
    scores, own = [Scores(given) for given in room.measure(rooms, progress)], Scores(study.given)
    designs = tuple(dict.fromkeys((*chosen.counts, *chosen.singles)))
    table = {
        design: carried_over([score.of(chosen.local(design)) for score in scores], own.of(design)) for design in designs
    }
    singles = _singles(study, chosen, table)
    level = sum(place.behind.low <= 0.0 for place in singles.values())
    sure = Sureness(
        perturbed_rooms, spacing, level == 1, asdict(doubt), tuple(singles.values()), _counts(chosen, table)
    )
    benefit = np.array([[found.benefit for found in table[design][1:]] for design in designs]).T
    return Robustness(sure, singles, designs, benefit)


def carried_over(found: Sequence[Objectives], own: Objectives) -> list[Objectives]:
    """`found`, the unperturbed room first, shifted so that the unperturbed room has the figures `own` of the study."""
    return [_shifted(one, found[0], own) for one in found]


def _shifted(one: Objectives, nominal: Objectives, own: Objectives) -> Objectives:
    moved = {f.name: getattr(own, f.name) + (getattr(one, f.name) - getattr(nominal, f.name)) for f in fields(one)}
    for name in NOT_NEGATIVE:
        moved[name] = np.maximum(moved[name], 0.0)
    moved["ringing_share_at"] = np.minimum(moved["ringing_share_at"], 1.0)
    return Objectives(**moved)


def _singles(
    study: PlacementStudy, chosen: Shortlist, table: dict[Design, list[Objectives]]
) -> dict[Design, PlaceConfidence]:
    benefit = np.array([[found.benefit for found in table[design]] for design in chosen.singles])
    place = np.argsort(np.argsort(-benefit[:, 1:], axis=0, kind="stable"), axis=0)
    return {
        design: PlaceConfidence(
            units_of(study, design)[0],
            float(np.mean(place[k] == 0)),
            float(np.mean(place[k] < TOP)),
            _range(benefit[0] - benefit[k]),
            _range(benefit[k]),
        )
        for k, design in enumerate(chosen.singles)
    }


def _counts(chosen: Shortlist, table: dict[Design, list[Objectives]]) -> tuple[UnitsConfidence, ...]:
    made = []
    for count, design in enumerate(chosen.counts[1:], start=1):
        steps = [gained(a, b) for a, b in zip(table[chosen.counts[count - 1]], table[design], strict=True)]
        audible = float(np.mean([step.audible and step.benefit > 0.0 for step in steps[1:]]))
        benefit, adds = ([one.benefit for one in listed] for listed in (table[design], steps))
        made.append(UnitsConfidence(count, audible, _range(benefit), _range(adds)))
    return tuple(made)


def _range(values: Sequence[float] | NDArray[np.float64]) -> Spread:
    """values : the unperturbed room first, then all others.

    The k-th of n rooms stands for k/(n + 1), so that a further room lies between the ends in 8 of 10 cases however few
    rooms there are (Hyndman and Fan, Am. Stat. 50 (1996) 361-365, definition 6).
    """
    ends = np.quantile(values[1:], (0.1, 0.5, 0.9), method="weibull")
    return Spread(float(values[0]), *(float(v) for v in ends))


class Rooms:
    """The cells that all perturbed rooms of a study share, and the simulation over them."""

    def __init__(self, study: PlacementStudy, chosen: Shortlist, spacing: float, execution: Execution) -> None:
        self.study, self.places = study, tuple(study.places[port] for port in chosen.ports)
        absorbers = tuple(place.absorber("") for place in self.places)
        self.execution = execution
        self.problem: Problem = candidate_problem(study.scene, study.variant, absorbers, spacing)
        self.ports: tuple[Port, ...] = candidate_ports(self.problem, absorbers)
        self.faces: PortSet = port_set(self.problem, self.ports, study.scene.run.max_frequency)
        self.duration = study.scene.run.duration or settling_time(
            study.scene, study.variant, spacing, execution=execution
        )
        self.shape, self.points = Shape(study.scene.room), PointWeights(self.problem.cells)

    def in_air(self, point: Point3) -> bool:
        """Whether a seat or source can be there."""
        if not self.shape.in_air(point, self.study.variant.blocks):
            return False
        try:
            self.points.home(point)
        except GeometryError:
            return False
        return True

    def measure(self, rooms: Sequence[PerturbedRoom], progress: Progress | None) -> list[SearchInput]:
        """Matrices and units of every room, as many rooms in one simulation as make a good batch."""
        each = max(1, round(BATCH / (len(self.study.variant.sources) + len(self.ports))))
        batches = [rooms[k : k + each] for k in range(0, len(rooms), each)]
        found: list[SearchInput] = []
        for number, batch in enumerate(batches):
            doing = f"perturbed rooms {number + 1}/{len(batches)}, "
            found += self._batch(batch, part(progress, number / len(batches), (number + 1) / len(batches), doing))
        return found

    def _batch(self, rooms: Sequence[PerturbedRoom], progress: Progress) -> list[SearchInput]:
        excitations: list[Excitation] = []
        for room in rooms:
            excitations += excitations_of(room.scene, room.variant, self.problem, self.ports)
        readers: list[Place] = list(dict.fromkeys(seat.at for room in rooms for seat in room.variant.seats))
        readers += self.ports
        scene = self.study.scene
        record = measure(scene, self.problem, excitations, readers, self.duration, self.execution, progress)
        count = len(excitations) // len(rooms)
        return [self._input(room, record, k * count, count, readers) for k, room in enumerate(rooms)]

    def _input(
        self, room: PerturbedRoom, record: Simulation, first: int, count: int, readers: list[Place]
    ) -> SearchInput:
        """What the search needs of one room of a simulation.

        Warmer air: p(omega) = omega rho G(omega/c), so the spectrum is that of the simulation at f c_0/c_1, times
        rho_1 c_1/(rho_0 c_0) = c_0/c_1 since rho goes as 1/c². That shifts the walls' resonances by half a per cent
        too, which is nothing beside what is not known of them.
        """
        frequency = frequencies(room.scene)
        rows = [readers.index(seat.at) for seat in room.variant.seats] + list(range(-len(self.ports), 0))
        mine = replace(record, seats=record.seats[first : first + count][:, rows])
        transfer = transfer_functions(mine, frequency / room.speed) / room.speed
        matrices = PortMatrices.of(transfer, frequency, room.variant)
        spots = replace(self.study.spots, start=room.variant, devices=room.devices)
        return search_input(room.scene, spots, self.places, self.faces, matrices)
