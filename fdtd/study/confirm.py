"""The check of a study: its best and worst single spots, and the winners, simulated with the units built in.

On the study's own cells nothing but rounding may differ. The winner of each count is then built as it would stand in
the room, cabinet and all, on cells of its own; its active units are tried for stability first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.stats import spearmanr

from fdtd.model.excitations import Diaphragm, diaphragm_of
from fdtd.placement.study import Design, design_response
from fdtd.ports.candidates import candidate_problem
from fdtd.ports.response import excitations_of
from fdtd.simulation.device import SINGLE, Execution
from fdtd.simulation.progress import Progress, part
from fdtd.study.built import Tried, each_or_none, install_winners, seats_of, simulated_figures
from fdtd.study.place import PlacementStudy
from fdtd.study.settling import settling_time
from fdtd.study.shortlist import Scores, best_of_counts, ranked_singles

SAME = 0.02
"""dB of benefit; a pair of places closer than this is in order either way (rounding of single execution)."""
NULL = 25.0
"""dB below a seat's highest level, from where on levels are not compared: a null is deep by chance."""
ON_WALL = 0.4
"""Share of the progress that the simulations on the study's cells are counted as; the rest are the winners as built."""

Complex = NDArray[np.complex128]


@dataclass(frozen=True)
class Confirmation:
    """singles : best places first, then the worst; winners : of each count, on the wall; built : as they would stand"""

    singles: tuple[Tried, ...]
    winners: tuple[Tried, ...]
    built: tuple[Tried, ...]


def confirm(
    study: PlacementStudy,
    best: int = 5,
    worst: int = 5,
    *,
    also: Sequence[Design] = (),
    execution: Execution = SINGLE,
    progress: Progress | None = None,
) -> Confirmation:
    """Simulate the `best` best and `worst` worst single spots and the winners of `study`; see the module.

    also : designs that are built as they would stand besides the winners, such as the safest single spot
    """
    ranked = ranked_singles(study.found)
    chosen = ranked if best + worst >= len(ranked) else (*ranked[:best], *ranked[len(ranked) - worst :])
    winners = best_of_counts(study.found)[1:]
    duration = study.scene.run.duration or settling_time(study.scene, study.variant, study.spacing, execution=execution)
    wall = part(progress, 0.0, ON_WALL, "best and worst places, ")
    every = tuple(dict.fromkeys((*chosen, *winners)))
    found = dict(zip(every, _on_wall(study, every, duration, execution, wall), strict=True))
    installed = tuple(dict.fromkeys((*winners, *also)))
    built = install_winners(study, installed, duration, execution, part(progress, ON_WALL, 1.0))
    return Confirmation(tuple(found[d] for d in chosen), tuple(found[d] for d in winners), built)


def simulated_benefit(one: Tried) -> float:
    """dB, NaN without a simulation to its end."""
    return float("nan") if one.simulated is None else one.simulated.benefit


def _on_wall(
    study: PlacementStudy, designs: Sequence[Design], duration: float, execution: Execution, progress: Progress
) -> list[Tried]:
    """All `designs` and the untreated room in one simulation on the study's cells; one by one if some field grows."""
    absorbers = tuple(place.absorber("") for place in study.places)
    problem = candidate_problem(study.scene, study.variant, absorbers, study.spacing)
    units = [()] + [_diaphragms(study, design) for design in designs]

    def seats(share: Sequence[tuple[Diaphragm, ...]]) -> list[Complex]:
        excitations = [
            replace(excitation, diaphragms=(*excitation.diaphragms, *mine))
            for mine in share
            for excitation in excitations_of(study.scene, study.variant, problem)
        ]
        return seats_of(study, problem, excitations, duration, execution, progress)

    scores, responses = Scores(study.given), each_or_none(seats, units)
    inside = np.isin(study.given.frequency, scores.given.frequency)
    found = zip(designs, responses[1:], simulated_figures(study, responses), strict=True)
    made = []
    for design, response, figures in found:
        error = np.nan if response is None else _level_error(design_response(scores.given, design), response[inside])
        made.append(Tried(design, design, scores.of(design), figures, error, grew=figures is None))
    return made


def _diaphragms(study: PlacementStudy, design: Design) -> tuple[Diaphragm, ...]:
    ports = (study.response.faces.ports[port] for port in design.ports)
    return tuple(
        diaphragm_of(place.absorber(device.name, gain), device, port)
        for (place, device, gain), port in zip(study.units(design), ports, strict=True)
    )


def _level_error(predicted: Complex, found: Complex) -> float:
    loud = np.abs(found) > np.abs(found).max(axis=0) * 10.0 ** (-NULL / 20.0)
    return float(np.abs(20.0 * np.log10(np.abs(predicted[loud]) / np.abs(found[loud]))).max())


def order(pairs: Sequence[tuple[float, float]]) -> tuple[float, bool]:
    """Rank correlation and whether the order is the same; pairs : predicted and simulated, NaN if the field grew."""
    known = [pair for pair in pairs if not np.isnan(pair[1])]
    if len(known) < 2:
        return float("nan"), len(known) == len(pairs)
    predicted, found = np.array(known).T
    swapped = (predicted[:, None] - predicted > SAME) & (found[:, None] - found < -SAME)
    return float(spearmanr(predicted, found).statistic), bool(len(known) == len(pairs) and not swapped.any())
