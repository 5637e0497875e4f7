"""A finished placement study: what was found, how sure it is, what was tried, and the decision, made once."""

from __future__ import annotations

from dataclasses import dataclass
from math import nan

from fdtd.results.placement_record import WorstNote
from fdtd.study.confirm import Confirmation
from fdtd.study.decide import Decision, decide
from fdtd.study.finer import FinerCells
from fdtd.study.loudest import LoudestMap
from fdtd.study.place import PlacementStudy
from fdtd.study.robust import Robustness
from fdtd.study.worst_note import worst_notes_with


@dataclass(frozen=True, eq=False)
class FinishedPlacement:
    """study : every place and every design scored; precision : of its sound field, "single" or "double"
    robustness : of its ranking, None if left out; confirmation : its winners simulated with the units in, None if left
    out; loudest : what a level meter would find, None if left out; decision : the advice, None if there is no design
    finer : its shortlist on finer cells, None if left out, or its own are as fine
    worst_notes : of each seat that counts, and what the advised units do to it
    """

    study: PlacementStudy
    precision: str
    robustness: Robustness | None = None
    confirmation: Confirmation | None = None
    loudest: LoudestMap | None = None
    decision: Decision | None = None
    worst_notes: tuple[WorstNote, ...] = ()
    finer: FinerCells | None = None

    @property
    def behind(self) -> float:
        """dB by which the advice is behind the best of as many units on finer cells; NaN if that is not known."""
        if self.finer is None or self.decision is None:
            return nan
        return self.finer.behind(self.study, self.decision.design)


def finished(
    study: PlacementStudy,
    precision: str = "single",
    robustness: Robustness | None = None,
    confirmation: Confirmation | None = None,
    loudest: LoudestMap | None = None,
    finer: FinerCells | None = None,
) -> FinishedPlacement:
    """`study` with what is known besides, and what follows from all of it."""
    decision = decide(study, robustness, confirmation) if study.added else None
    notes = worst_notes_with(study.given, decision.design) if decision is not None else ()
    return FinishedPlacement(study, precision, robustness, confirmation, loudest, decision, notes, finer)
