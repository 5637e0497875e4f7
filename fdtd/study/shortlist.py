"""Which designs of a study are looked at again: the best single spots and the best of each count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fdtd.placement.objectives import BAND, Axis, Objectives, make_axis, objectives
from fdtd.placement.search import SearchResult
from fdtd.placement.study import Design, SearchInput, design_response
from fdtd.scene.spots import Candidate

SINGLES = 6
"""Single spots on a shortlist, if the ports of the other designs leave room for them."""
FEWEST_SINGLES = 3
MOST_PORTS = 10
"""Ports of a shortlist; each is an excitation of every perturbed room."""


@dataclass(frozen=True)
class Shortlist:
    """singles : single spots, best first; counts : the best of 0, 1, 2 ... units; ports : all that they use, rising."""

    singles: tuple[Design, ...]
    counts: tuple[Design, ...]
    ports: tuple[int, ...]

    def local(self, design: Design) -> Design:
        """The same design with its ports numbered as in `ports`."""
        return replace(design, ports=tuple(self.ports.index(port) for port in design.ports))


def ranked_singles(found: SearchResult) -> tuple[Design, ...]:
    """Every single spot with the kind and gain that suit it best, best spot first."""
    table, seen, ranked = found.singles, set(), []
    for row in np.argsort(-table.benefit, kind="stable"):
        port = int(table.ports[row, 0])
        if port not in seen:
            seen.add(port)
            ranked.append(Design((port,), (int(table.kinds[row, 0]),), (int(table.gains[row, 0]),)))
    return tuple(ranked)


def best_of_counts(found: SearchResult) -> tuple[Design, ...]:
    """The best of 0, 1, 2 ... units, as far as there are any."""
    best = []
    for scored in found.best_of_count:
        if scored is None:
            break
        best.append(scored.design)
    return tuple(best)


def shortlist(found: SearchResult, places: Sequence[Candidate]) -> Shortlist:
    """The designs that a study's advice rests on. Of single spots that overlap only the best is taken: the others are
    nearly the same place."""
    counts = best_of_counts(found)
    ports = {port for design in counts for port in design.ports}
    singles: list[Design] = []
    taken: set[int] = set()
    for design in ranked_singles(found):
        if len(singles) == SINGLES:
            break
        place, new = places[design.ports[0]], ports | set(design.ports)
        if taken & set(place.excludes):
            continue
        if len(new) <= MOST_PORTS or len(singles) < FEWEST_SINGLES:
            singles.append(design)
            taken.add(place.number)
            ports = new
    return Shortlist(tuple(singles), counts, tuple(sorted(ports)))


class Scores:
    """Objectives of designs in one room, over the band that is judged."""

    def __init__(self, given: SearchInput) -> None:
        self.given = given.within(BAND)
        self.axis: Axis = make_axis(self.given.frequency, self.given.weights)
        self.untreated: Objectives = objectives(self.given.untreated, self.axis)

    def of(self, design: Design) -> Objectives:
        """Figures of `design`, its ports numbered as in the matrices."""
        return objectives(design_response(self.given, design), self.axis, self.untreated)
