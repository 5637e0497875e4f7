"""The uncertainty of the ranking of a placement study: the verdict first, then what it rests on."""

from __future__ import annotations

from collections.abc import Sequence

from fdtd.results.placement_record import PlaceConfidence, Spread, Sureness
from fdtd.study.sure import alike, safest
from fdtd.wording.letters import listed, number

MOSTLY = 0.9
"""Share of the perturbed rooms in which the first place must come first for a ranking to be robust without reserve."""


def ranking_text(known: Sureness) -> tuple[str, ...]:
    """Sentences: is the ranking robust, does the best place help for sure, what further units add."""
    return (
        _verdict(known.singles, known.perturbed_rooms),
        _worth(safest(known.singles)),
        *(
            f"the best {number(count.count)} units: the last adds {_with_range(count.adds)}, audible in "
            f"{_of(count.audible, known.perturbed_rooms)} rooms"
            for count in known.counts
            if count.count > 1
        ),
    )


def _verdict(singles: Sequence[PlaceConfidence], perturbed_rooms: int) -> str:
    first = singles[0]
    name = _spot(first)
    if len(singles) == 1:
        return f"there is only one place to compare: {name}"
    level = alike(singles)[1:]
    if not level:
        return _holds(name, first.first, perturbed_rooms)
    names = listed([name, *(_spot(spot) for spot in level)])
    count = len(level) + 1
    consecutive = all(spot.behind.low <= 0.0 for spot in singles[1:count])
    what = f"the first {number(count)} places ({names})" if consecutive else names
    best = safest(singles)
    others = "other one is" if count == 2 else "others are"
    return (
        f"the ranking is not robust: {what} differ by less than the uncertainty of the room; the most robust is "
        f"{_spot(best)} (among the first three in {_of(best.on_top, perturbed_rooms)} perturbed rooms), the "
        f"{others} equally good"
    )


def _holds(name: str, share: float, perturbed_rooms: int) -> str:
    """Said where no other place is as good."""
    first = f"{name} comes first of the shortlist in {_of(share, perturbed_rooms)} perturbed rooms"
    if share >= MOSTLY:
        return f"the ranking is robust: {first}"
    return f"the ranking is fairly robust: {first}, and no other is as good in nearly all of them"


def _worth(first: PlaceConfidence) -> str:
    benefit = first.benefit
    text = f"{_spot(first)}: benefit {_with_range(benefit)}"
    if benefit.high <= 0.0:
        return f"{text}: no help in at least 90 % of the rooms"
    return text + (
        ": it may do nothing at all" if benefit.low <= 0.0 else ": an improvement in at least 90 % of the rooms"
    )


def _with_range(value: Spread) -> str:
    return f"{value.nominal:.1f} dB, 10-90 % {value.low:.1f} to {value.high:.1f} dB"


def _of(share: float, perturbed_rooms: int) -> str:
    return f"{round(share * perturbed_rooms)} of {perturbed_rooms}"


def _spot(spot: PlaceConfidence) -> str:
    return f"spot {spot.unit.place}"


def doubt_text(known: Sureness) -> str:
    """What was varied, and by how much, in one line."""
    off = known.doubt
    walls = f"wall admittances by a factor of {1.0 + off['wall']:g} up or down"
    return (
        f"{walls}, temperature ±{off['temperature']:g} °C, units ±"
        f"{100 * off['device']:.0f} %, seats and loudspeakers ±{100 * off['place']:.0f} cm (height ±"
        f"{100 * off['height']:.0f} cm), the plan ±{100 * off['plan']:.0f} cm, a piece of furniture more in "
        f"{100 * off['furniture']:.0f} % of the rooms and an open door in {100 * off['door']:.0f} %"
    )
