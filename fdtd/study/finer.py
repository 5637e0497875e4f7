"""Does the advice depend on the cells? The designs of the shortlist once more, on cells as they are usual."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fdtd.placement.study import Design, SearchInput
from fdtd.simulation.device import SINGLE, Execution
from fdtd.simulation.progress import Progress
from fdtd.study.perturb import NONE
from fdtd.study.place import PlacementStudy
from fdtd.study.robust import measure_rooms, perturbed
from fdtd.study.shortlist import Scores, shortlist

USUAL = 0.1
"""m; a study on larger cells is looked at again."""


@dataclass(frozen=True, eq=False)
class FinerCells:
    """The room without units and with the ports of the shortlist on cells of `grid` m; given : as of the search."""

    grid: float
    ports: tuple[int, ...]
    given: SearchInput

    def behind(self, study: PlacementStudy, design: Design) -> float:
        """dB by which the best design of as many units is better than `design` on these cells, 0 if none is.

        Of those that the study has listed and whose places were measured: what the study found unstable is none.
        """
        scores, single = Scores(self.given), len(design.ports) == 1
        listed = shortlist(study.found, study.places).singles if single else [s.design for s in study.found.best]
        others = [one for one in listed if len(one.ports) == len(design.ports) and set(one.ports) <= set(self.ports)]
        best, *rest = (scores.of(self._local(one)).benefit for one in dict.fromkeys((design, *others)))
        return max(0.0, max(rest, default=best) - best)

    def _local(self, design: Design) -> Design:
        return replace(design, ports=tuple(self.ports.index(port) for port in design.ports))


def finer_cells(
    study: PlacementStudy, *, execution: Execution = SINGLE, progress: Progress | None = None
) -> FinerCells | None:
    """The shortlist of `study` on cells of `USUAL`; None if the study's own are no larger."""
    if study.spacing <= USUAL + 1e-9:
        return None
    ports = shortlist(study.found, study.places).ports
    room = perturbed(study, ports, NONE, (1, 0))
    (given,) = measure_rooms(study, ports, [room], USUAL, execution, progress)
    return FinerCells(USUAL, ports, given)
