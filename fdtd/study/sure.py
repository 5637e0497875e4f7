"""How sure each design of a shortlist is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

from fdtd.placement.study import Design
from fdtd.results.placement_record import Spread


@dataclass(frozen=True)
class Figures:
    """Of one design over all draws. benefit, loss : dB; ringing (octaves), uneven, spread (dB) : as they are"""

    benefit: Spread
    ringing: Spread
    uneven: Spread
    spread: Spread
    loss: Spread


@dataclass(frozen=True)
class SpotConfidence:
    """A single spot of the shortlist.

    first, on_top : share of the draws in which it is first, or among the first three, of the shortlist
    behind : dB of benefit that it is behind the first spot of the study
    """

    design: Design
    first: float
    on_top: float
    behind: Spread
    figures: Figures

    @property
    def benefit(self) -> Spread:
        """dB."""
        return self.figures.benefit


@dataclass(frozen=True)
class CountConfidence:
    """The best design of `count` units. adds : dB of benefit over the best of one unit less
    heard : share of the draws in which that is for the better and can be heard (`placement.steps`)."""

    count: int
    design: Design
    adds: Spread
    audible: float
    figures: Figures


class Known(Protocol):
    """Of a place of the shortlist: dB of benefit, and how far it is behind the first one."""

    @property
    def behind(self) -> Spread: ...

    @property
    def benefit(self) -> Spread: ...


Single = TypeVar("Single", bound=Known)


def alike(singles: Sequence[Single]) -> list[Single]:
    """The first spot and those that can't be told from it."""
    return [singles[0], *(spot for spot in singles[1:] if spot.behind.low <= 0.0)]


def safest(singles: Sequence[Single]) -> Single:
    """Of the spots that are alike the one with the highest benefit that nine tenths of the rooms exceed."""
    return max(alike(singles), key=lambda spot: spot.benefit.low)
