"""How sure each design of a shortlist is, and how that is said: the verdict first, then what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fdtd.placement.study import Design

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")

MOSTLY = 0.9
"""Share of the perturbed rooms in which the first place must come first for a ranking to be robust without reserve."""


@dataclass(frozen=True)
class Spread:
    """nominal : of the study, nothing perturbed; low, middle, high : 10 %, 50 % and 90 % of the draws."""

    nominal: float
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class Figures:
    """Of one design over all draws. benefit, loss : dB; ringing (octaves), uneven, spread (dB) : as they are
    less_ringing, less_uneven, less_spread : what they are below those of the same room without units."""

    benefit: Spread
    ringing: Spread
    uneven: Spread
    spread: Spread
    loss: Spread
    less_ringing: Spread
    less_uneven: Spread
    less_spread: Spread


@dataclass(frozen=True)
class SureSpot:
    """A single spot of the shortlist.

    first, on_top : share of the draws in which it is first, or among the first three, of the shortlist
    behind : dB of benefit that it is behind the first spot of the study
    """

    design: Design
    words: str
    first: float
    on_top: float
    behind: Spread
    figures: Figures


@dataclass(frozen=True)
class SureCount:
    """The best design of `count` units. adds : dB of benefit over the best of one unit less
    heard : share of the draws in which that is for the better and can be heard (`placement.steps`)."""

    count: int
    design: Design
    words: str
    adds: Spread
    heard: float
    figures: Figures


def alike(singles: Sequence[SureSpot]) -> list[SureSpot]:
    """The first spot and those that can't be told from it."""
    return [singles[0], *(spot for spot in singles[1:] if spot.behind.low <= 0.0)]


def safest(singles: Sequence[SureSpot]) -> SureSpot:
    """Of the spots that are alike the one with the highest benefit that nine tenths of the rooms exceed."""
    return max(alike(singles), key=lambda spot: spot.figures.benefit.low)


def ranking_words(singles: Sequence[SureSpot], counts: Sequence[SureCount], draws: int) -> tuple[str, ...]:
    """Sentences: is the ranking robust, does the best place help for sure, what further units add.

    singles : best of the study first; draws : rooms that were tried
    """
    return (
        _verdict(singles, draws),
        _worth(safest(singles)),
        *(_more(count, draws) for count in counts if count.count > 1),
    )


def _verdict(singles: Sequence[SureSpot], draws: int) -> str:
    first = singles[0]
    name = _name(first)
    if len(singles) == 1:
        return f"there is only one place to compare: {name}"
    level = alike(singles)[1:]
    if not level:
        return _holds(name, first.first, draws)
    names = listed([name, *(_name(spot) for spot in level)])
    count = len(level) + 1
    consecutive = all(spot.behind.low <= 0.0 for spot in singles[1:count])
    what = f"the first {number(count)} places ({names})" if consecutive else names
    best = safest(singles)
    others = "other one is" if count == 2 else "others are"
    return (
        f"the ranking is not robust: {what} are within the uncertainty of what is known of the room: the safest is "
        f"{_name(best)} (among the first three in {_of(best.on_top, draws)} perturbed rooms), the {others} as good"
    )


def _holds(name: str, share: float, draws: int) -> str:
    """Said where no other place is as good."""
    first = f"of the places of the shortlist {name} comes first in {_of(share, draws)} perturbed rooms"
    if share >= MOSTLY:
        return f"the ranking is robust: {first}"
    return f"the ranking is fairly robust: {first}, and no other one is as good in nearly all of them"


def _worth(first: SureSpot) -> str:
    benefit = first.figures.benefit
    told = f"{_name(first)}: benefit {_with_range(benefit)}"
    if benefit.high <= 0.0:
        return f"{told}: it does not help in nine tenths of the rooms"
    return told + (
        ": it may do nothing at all" if benefit.low <= 0.0 else ": better in nine tenths of the rooms or more"
    )


def _more(count: SureCount, draws: int) -> str:
    told = f"the best {number(count.count)} units: the last adds {_with_range(count.adds)}"
    return f"{told}, heard in {_of(count.heard, draws)} rooms"


def _with_range(value: Spread) -> str:
    """The figure of the study and its range; said if the perturbed rooms are nearly all on one side of it."""
    told = f"{value.nominal:.1f} dB, 10-90 % {value.low:.1f} to {value.high:.1f} dB"
    if value.nominal > value.high:
        return f"{told} (it is less in nine tenths of the perturbed rooms)"
    if value.nominal < value.low:
        return f"{told} (it is more in nine tenths of the perturbed rooms)"
    return told


def _name(spot: SureSpot) -> str:
    """What stands before the bracket in the words of a single spot, such as spot 7."""
    return spot.words.split(" (", 1)[0]


def _of(share: float, draws: int) -> str:
    return f"{round(share * draws)} of {draws}"


def number(value: int) -> str:
    """In letters as far as that is usual."""
    return NUMBERS[value] if value < len(NUMBERS) else str(value)


def listed(names: Sequence[str]) -> str:
    """'a, b and c'."""
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + f" and {names[-1]}"
