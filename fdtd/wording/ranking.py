"""How sure the ranking of a placement study is: the verdict first, then what it rests on."""

from __future__ import annotations

from collections.abc import Sequence

from fdtd.results.placement_record import Spread, Sureness, SurePlace, SureUnits
from fdtd.study.sure import alike, safest
from fdtd.wording.letters import listed, number

MOSTLY = 0.9
"""Share of the perturbed rooms in which the first place must come first for a ranking to be robust without reserve."""


def ranking_words(known: Sureness) -> tuple[str, ...]:
    """Sentences: is the ranking robust, does the best place help for sure, what further units add."""
    return (
        _verdict(known.singles, known.draws),
        _worth(safest(known.singles)),
        *(_more(count, known.draws) for count in known.counts if count.count > 1),
    )


def _verdict(singles: Sequence[SurePlace], draws: int) -> str:
    first = singles[0]
    name = _spot(first)
    if len(singles) == 1:
        return f"there is only one place to compare: {name}"
    level = alike(singles)[1:]
    if not level:
        return _holds(name, first.first, draws)
    names = listed([name, *(_spot(spot) for spot in level)])
    count = len(level) + 1
    consecutive = all(spot.behind.low <= 0.0 for spot in singles[1:count])
    what = f"the first {number(count)} places ({names})" if consecutive else names
    best = safest(singles)
    others = "other one is" if count == 2 else "others are"
    return (
        f"the ranking is not robust: {what} are within the uncertainty of what is known of the room: the safest is "
        f"{_spot(best)} (among the first three in {_of(best.on_top, draws)} perturbed rooms), the {others} as good"
    )


def _holds(name: str, share: float, draws: int) -> str:
    """Said where no other place is as good."""
    first = f"of the places of the shortlist {name} comes first in {_of(share, draws)} perturbed rooms"
    if share >= MOSTLY:
        return f"the ranking is robust: {first}"
    return f"the ranking is fairly robust: {first}, and no other one is as good in nearly all of them"


def _worth(first: SurePlace) -> str:
    benefit = first.benefit
    told = f"{_spot(first)}: benefit {_with_range(benefit)}"
    if benefit.high <= 0.0:
        return f"{told}: it does not help in nine tenths of the rooms"
    return told + (
        ": it may do nothing at all" if benefit.low <= 0.0 else ": better in nine tenths of the rooms or more"
    )


def _more(count: SureUnits, draws: int) -> str:
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


def _of(share: float, draws: int) -> str:
    return f"{round(share * draws)} of {draws}"


def _spot(spot: SurePlace) -> str:
    return f"spot {spot.unit.place}"


def doubt_words(known: Sureness) -> str:
    """What was varied, and by how much, in one line."""
    off = known.doubt
    return (
        f"wall admittances ±{100 * off['wall']:.0f} %, temperature ±{off['temperature']:g} °C, units ±"
        f"{100 * off['device']:.0f} %, seats and loudspeakers ±{100 * off['place']:.0f} cm (height ±"
        f"{100 * off['height']:.0f} cm)"
    )
