"""What a placement study decides, once, for the command's words, its result file and the report alike.

The advice is the largest number of units of which each one is worth while and which has enough gain to spare.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import nan

from fdtd.placement.objectives import Objectives
from fdtd.placement.steps import Gained, gained
from fdtd.placement.study import Design
from fdtd.study.built import Tried, has_active, margin_db
from fdtd.study.confirm import Confirmation
from fdtd.study.design_figures import figures, first_choice, switched_off
from fdtd.study.place import ENOUGH_MARGIN, PlacementStudy
from fdtd.study.robust import Robustness

OFTEN = 0.5
"""Share of the perturbed rooms in which a further unit must be heard to be worth its price."""
UNTRIED, NOTHING, UNHEARD, SELDOM = "untried", "nothing", "unheard", "seldom"
OSCILLATES, MARGIN, BUDGET = "oscillates", "margin", "budget"


@dataclass(frozen=True)
class Decision:
    """What is advised.

    worthwhile : number of units, 0: none
    design : at the gains at which it is to run; the best found for one unit if none is worth while
    figures, change : of it, and against no unit; switched_off : dB of benefit of the same units without power, NaN if
    none is active
    margin : dB of gain that are left before it oscillates, infinite without active units, NaN if not tried
    why_not : why there is not one unit more (UNTRIED, NOTHING, UNHEARD, SELDOM, OSCILLATES or MARGIN)
    margin_of_more : dB that one unit more would leave, if that is why
    lowered : whether that is at a lower gain than was ranked, because at that one they would oscillate, or nearly
    """

    worthwhile: int
    design: Design
    figures: Objectives
    change: Gained
    switched_off: float
    margin: float
    why_not: str
    margin_of_more: float = nan
    lowered: bool = False


@dataclass(frozen=True)
class _Choice:
    """A design for some number of units; margin : NaN if not tried; refused : "", OSCILLATES or MARGIN."""

    design: Design
    figures: Objectives
    margin: float
    refused: str


def decide(study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None) -> Decision:
    """The advice; `study` must have found some design (`study.added`)."""
    often = {c.count: c.audible for c in robust.sure.counts} if robust is not None else {}
    one = _choice(study, robust, confirmed, 1)
    last, before, count = None, study.found.untreated, 0
    why_not: dict[int, tuple[str, float, bool]] = {}
    for step in study.added:
        choice = one if step.count == 1 else _choice(study, robust, confirmed, step.count)
        # What the search knows already of its own best, unless gains were lowered or the place is another.
        earlier = study.added[step.count - 2].scored.design if step.count > 1 else None
        own = choice.design == step.scored.design and earlier == (None if last is None else last.design)
        change = step.gained if own else gained(before, choice.figures)
        worth = NOTHING if change.benefit <= 0.0 else UNHEARD if not change.audible else ""
        worth = worth or (SELDOM if often.get(step.count, 1.0) < OFTEN else "")
        if choice.refused or worth:
            lowered = choice.design.ports == step.scored.design.ports and choice.design != step.scored.design
            why_not[step.count] = (choice.refused or worth, choice.margin, lowered)
        if worth and not choice.refused:
            break
        if not choice.refused:
            last, before, count = choice, choice.figures, step.count
    chosen = last or one
    more = count + 1 < len(study.found.best_of_count)
    beyond = more and count == len(study.added) and not _affordable(study, count + 1)
    why, margin, lowered = why_not.get(count + 1, (BUDGET if beyond else UNTRIED, nan, False))
    against_none, off = gained(study.found.untreated, chosen.figures), switched_off(study, chosen.design)
    return Decision(count, chosen.design, chosen.figures, against_none, off, chosen.margin, why, margin, lowered)


def _affordable(study: PlacementStudy, count: int) -> bool:
    """Whether so many units of the cheapest kind are within the budget."""
    return any(study.given.affordable([kind] * count) for kind in range(len(study.spots.devices)))


def _choice(study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None, count: int) -> _Choice:
    """The design of `count` units to build. One unit stands on the safest place, unless only the best has gain to
    spare."""
    best = study.added[count - 1].scored.design
    asked = [first_choice(study, robust), best] if count == 1 else [best]
    found = [_as_tried(study, design, confirmed) for design in dict.fromkeys(asked)]
    return next((c for c in found if not c.refused), found[0])


def _as_tried(study: PlacementStudy, asked: Design, confirmed: Confirmation | None) -> _Choice:
    built = built_for(asked, confirmed)
    active = has_active(study, asked)
    if built is None:
        return _Choice(asked, figures(study, asked), nan if active else float("inf"), "")
    if not active:
        return _Choice(asked, figures(study, asked), float("inf"), "")
    refused = OSCILLATES if built.simulated is None else MARGIN if margin_db(built) < ENOUGH_MARGIN else ""
    return _Choice(built.design, figures(study, built.design), margin_db(built), refused)


def built_for(asked: Design, confirmed: Confirmation | None) -> Tried | None:
    """`asked` as it would stand, None if it was not tried."""
    return None if confirmed is None else next((b for b in confirmed.built if asked in (b.asked, b.design)), None)
