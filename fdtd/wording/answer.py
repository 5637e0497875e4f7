"""The answer of a placement study in a sentence each: how many, why not one more, what is not sure, what is left."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import isfinite, isnan

from fdtd.results.placement_record import Answer, Sureness
from fdtd.scene.schema import Spots
from fdtd.study.decide import BUDGET, MARGIN, NOTHING, OSCILLATES, SELDOM, UNHEARD, UNTRIED
from fdtd.study.sure import alike
from fdtd.wording.letters import ORDINALS, decibels, listed, money, number
from fdtd.wording.names import named, typed

COARSE = 0.15
"""m, cells above which a study that was not tried on finer ones is a first look."""
AS_GOOD = 0.1
"""dB of benefit by which another design may be better on finer cells before it is told."""
LEAST_BENEFIT = 0.05
"""dB below which no price of a dB is told."""
WITHIN = "within the uncertainty of the room"


def how_many(found: Answer, seats: Sequence[str], last_audible: Sequence[bool]) -> str:
    """The number of units to buy, and why not one more; last_audible : (seat,) whether the last unit tried is heard"""
    count, why = found.worthwhile, one_more(found)
    if count == 0:
        return f"In short: buy none. {why}"
    if found.why_not == UNTRIED:
        if count == 1:
            return "In short: one unit is worthwhile; more were not tried."
        audible = f"and each is audible{_where_last(seats, last_audible)}"
        return f"In short: {number(count)} units are worthwhile, {audible}; more were not tried."
    return f"In short: buy {number(count)}. {why}"


def _where_last(seats: Sequence[str], audible: Sequence[bool]) -> str:
    if all(audible) or not any(audible):
        return ""
    there = [named(seat) for seat, yes in zip(seats, audible, strict=True) if yes]
    return f", the last only at {listed(there)}"


def not_confident(known: Sureness | None, found: Answer) -> str:
    """Said where the order of the places is not sure, "" where it is."""
    if known is None or known.robust:
        return ""
    same = sorted(spot.unit.place for spot in alike(known.singles))
    mine = [unit.place for unit in found.units]
    if len(mine) > 1:
        spots = f"spots {listed([str(one) for one in same])}"
        return f"Not sure which places are best: for a single unit, {spots} are equally good {WITHIN}."
    others = [str(one) for one in same if one not in mine]
    if not others:
        return ""
    spots = f"spot{'s' * (len(others) > 1)} {listed(others)} {'are' if len(others) > 1 else 'is'}"
    return f"Not sure which place is best: {spots} equally good {WITHIN}."


def gain_left(found: Answer, amount: Callable[[float], str] = decibels) -> str:
    """How much gain the advised units have to spare; "" without active ones; amount : how a number of dB is written"""
    it = "it oscillates" if len(found.units) == 1 else "they oscillate"
    if isnan(found.margin):
        return f"Whether {it} there was not checked."
    return f"The gain could rise by {amount(found.margin)} before {it}." if isfinite(found.margin) else ""


def with_and_without_power(found: Answer, amount: Callable[[float], str] = decibels) -> str:
    """What the switch does, and what the empty spot would be; "" where no unit needs power; amount : as above"""
    if isnan(found.switched_off):
        return ""
    whole, off = amount(found.benefit), amount(found.switched_off)
    unit, spot = ("unit", "an empty spot") if len(found.units) == 1 else ("units", "empty spots")
    return (
        f"Of the {whole} of benefit against {spot}, {amount(found.benefit - found.switched_off)} come with the switch: "
        f"switched off, the {unit} give{'s' * (len(found.units) == 1)} {off}."
    )


def cost_text(spots: Spots, found: Answer) -> str:
    """What the advised units cost, and a dB of benefit; "" where no price is known."""
    return cost_of(spots, [unit.device for unit in found.units], found.benefit)


def cost_of(spots: Spots, devices: Sequence[str], benefit: float) -> str:
    """The same of units of these devices; benefit : dB, NaN where they are not alone in what it comes from"""
    cost = spots.cost(devices)
    if isnan(cost):
        return ""
    budget = "" if spots.budget is None else f" of a budget of {money(spots.budget)}"
    a_decibel = ""
    if cost > 0.0 and benefit >= LEAST_BENEFIT:
        a_decibel = f", about {money(float(f'{cost / benefit:.2g}'))} for each dB of benefit"
    return f"{'It costs' if len(devices) == 1 else 'They cost'} {money(cost)}{budget}{a_decibel}."


def on_cells(found: Answer, grid: float) -> str:
    """What the cells of the study mean for its advice; "" where they are as fine as is usual; grid : m"""
    if isnan(found.behind):
        if grid <= COARSE + 1e-9:
            return ""
        return (
            f"Cells of {grid:.3g} m: a first look. Try {typed('--grid 0.1')} before you decide: places that "
            "differ little may change order."
        )
    if found.behind <= AS_GOOD:
        return f"Tried again on cells of {found.finer_grid:.3g} m, no other design of the shortlist is better."
    return (
        f"BUT on cells of {found.finer_grid:.3g} m another design of the shortlist is {decibels(found.behind)} better: "
        f"try {typed(f'--grid {found.finer_grid:.3g}')} before you decide."
    )


def one_more(found: Answer) -> str:
    """What one unit more than advised would do."""
    count, why = found.worthwhile, found.why_not
    if count == 0:
        if why in (OSCILLATES, MARGIN):
            return f"It {'would oscillate' if why == OSCILLATES else _too_little(found)}."
        return "Even the first unit may not be audible."
    if why == UNTRIED:
        return "More units were not tried."
    if why == BUDGET:
        return "More units would cost more than the budget."
    one = f"A {ORDINALS[count + 1] if count + 1 < len(ORDINALS) else 'further'} unit"
    text = {
        OSCILLATES: "would oscillate",
        MARGIN: _too_little(found),
        UNHEARD: "adds nothing audible",
        SELDOM: "is audible in too few of the perturbed rooms",
    }
    # As installed, with their cabinets, units may have to be turned down until they do little.
    lower = found.lowered and why in (UNHEARD, NOTHING)
    gain = f", at the lower gain that {'both' if count == 1 else 'all of them'} would need," if lower else ""
    return f"{one}{gain} {text.get(why, 'adds nothing')}."


def _too_little(found: Answer) -> str:
    return f"would oscillate with only {decibels(found.margin_of_more)} more gain, which is too little margin"
