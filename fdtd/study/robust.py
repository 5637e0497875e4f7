"""How sure a study is: its shortlist once more in rooms that are a little other than was said.

Every perturbed room is a simulation of its own, with an excitation for each source and each place of the shortlist. All
errors are drawn at once: what is reported is how sure the advice is, not which error it hangs on.

The perturbed rooms have larger cells than the study. What is taken from them is by how much each figure differs from
that of the unperturbed room on the same larger cells; this is added to the study's own figure, so that a figure and its
range are of one room model.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import GeometryError
from fdtd.placement.objectives import Objectives
from fdtd.placement.steps import gained
from fdtd.placement.study import Design, SearchInput
from fdtd.ports.candidates import candidate_ports, candidate_problem
from fdtd.ports.response import PortMatrices, PortSet, excitations_of, measure, port_set, readers_of
from fdtd.results.placement_record import PlaceConfidence, Spread, Sureness, UnitsConfidence
from fdtd.scene.schema import Point3, Seat, Source, Variant
from fdtd.simulation.device import SINGLE, Execution
from fdtd.simulation.points import PointWeights
from fdtd.simulation.progress import Progress, part
from fdtd.simulation.transfer import transfer_functions
from fdtd.study.perturb import NONE, Doubt, PerturbedRoom, draw
from fdtd.study.place import PlacementStudy, frequencies, search_input, units_of
from fdtd.study.settling import settling_time
from fdtd.study.shortlist import Scores, Shortlist, shortlist
from fdtd.study.sure import safest

Moved = TypeVar("Moved", Seat, Source)

COARSER = 1.5
"""Factor on the study's cells; what is wanted is how much figures move, and that is seen on larger cells too."""
COARSE = 0.15
"""m, cells that are at least taken."""
WIDER = 1.2
"""Factor on the range from its median: larger cells and the few rooms hide a part of the truth. With it, 80 % of true
rooms lie in the range (measured: benchmarks/confidence.py)."""
NOT_NEGATIVE = ("ringing", "uneven", "spread", "harm", "ringing_at", "uneven_at", "ringing_share_at")
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
        raise ValueError(f"perturbed_rooms must be 2 or more, not {perturbed_rooms}: a range needs several rooms")
    chosen, doubt = shortlist(study.found, study.places), doubt or Doubt()
    spacing = spacing or max(COARSER * study.spacing, COARSE)
    rooms = [perturbed(study, chosen.ports, NONE, (seed, 0))]
    rooms += [perturbed(study, chosen.ports, doubt, (seed, k)) for k in range(perturbed_rooms)]
    measured = measure_rooms(study, chosen.ports, rooms, spacing, execution, progress)
    scores, own = [Scores(given) for given in measured], Scores(study.given)
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
            range_of(benefit[0] - benefit[k]),
            range_of(benefit[k]),
        )
        for k, design in enumerate(chosen.singles)
    }


def _counts(chosen: Shortlist, table: dict[Design, list[Objectives]]) -> tuple[UnitsConfidence, ...]:
    made = []
    for count, design in enumerate(chosen.counts[1:], start=1):
        steps = [gained(a, b) for a, b in zip(table[chosen.counts[count - 1]], table[design], strict=True)]
        audible = float(np.mean([step.audible and step.benefit > 0.0 for step in steps[1:]]))
        benefit, adds = ([one.benefit for one in listed] for listed in (table[design], steps))
        made.append(UnitsConfidence(count, audible, range_of(benefit), range_of(adds)))
    return tuple(made)


def range_of(values: Sequence[float] | NDArray[np.float64]) -> Spread:
    """values : the unperturbed room first, then all others.

    The k-th of n rooms stands for k/(n + 1), so that a further room lies between the ends in 8 of 10 cases however few
    rooms there are (Hyndman and Fan, Am. Stat. 50 (1996) 361-365, definition 6). Then `WIDER`, and as far as the
    unperturbed room, which is as likely as any other.
    """
    low, middle, high = (float(v) for v in np.quantile(values[1:], (0.1, 0.5, 0.9), method="weibull"))
    nominal = float(values[0])
    low, high = middle - WIDER * (middle - low), middle + WIDER * (high - middle)
    return Spread(nominal, min(low, nominal), middle, max(high, nominal))


def perturbed(study: PlacementStudy, ports: Sequence[int], doubt: Doubt, seed: tuple[int, int]) -> PerturbedRoom:
    """A room that the study's may be; ports : places whose faces it has."""
    faces = [study.places[port].absorber("") for port in ports]
    return draw(study.scene, study.variant, study.spots.devices, faces, doubt, seed)


def measure_rooms(
    study: PlacementStudy,
    ports: Sequence[int],
    rooms: Sequence[PerturbedRoom],
    spacing: float,
    execution: Execution = SINGLE,
    progress: Progress | None = None,
) -> list[SearchInput]:
    """Matrices and units of every room; ports : the places that its faces are of; spacing : m.

    Raises GeometryError if a place, seat or source is not in the room.
    """
    duration = study.scene.run.duration or settling_time(study.scene, study.variant, spacing, execution=execution)
    places, found = tuple(study.places[port] for port in ports), []
    for number, room in enumerate(rooms):
        doing = f"perturbed rooms {number + 1}/{len(rooms)}, "
        report = part(progress, number / len(rooms), (number + 1) / len(rooms), doing)
        variant, faces, matrices = simulate_room(room, spacing, duration, execution, report)
        spots = replace(study.spots, start=variant, devices=room.devices)
        found.append(search_input(room.scene, spots, places, faces, matrices))
    return found


def simulate_room(
    room: PerturbedRoom, spacing: float, duration: float, execution: Execution, progress: Progress
) -> tuple[Variant, PortSet, PortMatrices]:
    """One room: what is in it (a seat that would be in a wall back at home), its faces, and what follows for them.

    Warmer air: p(omega) = omega rho G(omega/c), so the spectrum is that of the simulation at f c_0/c_1, times
    rho_1 c_1/(rho_0 c_0) = c_0/c_1 since rho goes as 1/c². That shifts the walls' resonances by half a per cent too,
    which is nothing beside what is not known of them.
    """
    problem = candidate_problem(room.scene, room.variant, room.faces, spacing)
    variant = _at_home(room, PointWeights(problem.cells))
    ports = candidate_ports(problem, room.faces)
    faces = port_set(problem, ports, room.scene.run.max_frequency)
    excitations, readers = excitations_of(room.scene, variant, problem, ports), readers_of(variant, ports)
    record = measure(room.scene, problem, excitations, readers, duration, execution, progress)
    frequency = frequencies(room.scene)
    transfer = transfer_functions(record, frequency / room.speed) / room.speed
    return variant, faces, PortMatrices.of(transfer, frequency, variant)


def _at_home(room: PerturbedRoom, points: PointWeights) -> Variant:
    """The room's variant; a seat or source that was moved into a cell without air goes back to where it was."""

    def kept(moved: Sequence[Moved], homes: Sequence[Moved]) -> tuple[Moved, ...]:
        return tuple(one if _in_air(one.at, points) else home for one, home in zip(moved, homes, strict=True))

    variant, homes = room.variant, room.homes
    return replace(variant, sources=kept(variant.sources, homes.sources), seats=kept(variant.seats, homes.seats))


def _in_air(point: Point3, points: PointWeights) -> bool:
    try:
        points.home(point)
    except GeometryError:
        return False
    return True
