"""What a placement study advises, in sentences: how sure first if it is not, then where, what it changes, how many."""

from __future__ import annotations

import textwrap
from math import dist

import numpy as np

from fdtd.placement.steps import Gained, Step
from fdtd.placement.study import Design
from fdtd.study.built import ENOUGH_MARGIN, Built
from fdtd.study.confirm import Confirmation
from fdtd.study.headline import changes, first_choice, headline
from fdtd.study.loudest import LoudestMap, agreement_with_best, describe
from fdtd.study.place import PlacementStudy
from fdtd.study.robust import Robustness
from fdtd.study.sure import alike, safest

WIDTH = 118
NUMBERS = ("no", "one", "two", "three", "four", "five", "six")
CLOSE_BY = 2.0
"""m between the farthest of several places that are said to lie together."""
LEVEL_TOLD = 0.5
"""dB of mean level from which it is mentioned."""
FEW_DRAWS = 8
"""Perturbed rooms below which ranges are a rough idea."""
OFTEN = 0.5
"""Share of the perturbed rooms in which a further unit must be heard to be worth its price."""
MAINS = (
    "Before you buy or build: let someone who knows fix what hangs on a wall or stands high (a loaded box weighs more "
    "than its fixings look), keep escape routes, heaters and sockets free, and leave work on mains electronics to an "
    "electrician. Try the first place with a borrowed unit, and start active units at a low gain: the study knows the "
    "room only as the scene tells it."
)


def advice(study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None) -> str:
    """The answer, paragraph by paragraph, lines of at most 118 characters."""
    return "\n\n".join(wrapped(text) for _, text in paragraphs(study, robust, confirmed))


def paragraphs(
    study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None
) -> list[tuple[str, str]]:
    """The answer as (topic, text): headline, doubt, count, first, further, sure, tried."""
    parts = [("headline", headline(study, robust, worthwhile(study, robust, confirmed) > 0))]
    parts += [("doubt", verdict_first(study, robust))] if robust is not None and not robust.robust else []
    parts += [
        ("count", how_many(study, robust, confirmed) + _mind_the_gain(study, robust, confirmed)),
        ("first", first_unit(study, robust, confirmed)),
    ]
    parts += [("further", further(study, step, confirmed, robust)) for step in study.added[1:]]
    parts.append(("sure", how_sure(study, robust)))
    if confirmed is not None:
        tried = ["Tried by simulations with the units in:", *(f"  {_capital(w)}." for w in confirmed.words)]
        parts.append(("tried", "\n".join(tried)))
    return [(topic, text) for topic, text in parts if text]


def wrapped(text: str) -> str:
    """`text` in lines that fit a screen; what goes on is indented by two more."""
    lines = []
    for line in text.splitlines():
        depth = len(line) - len(line.lstrip())
        indent = " " * (depth + 2 if depth else 0)
        # A number stays with its sign: textwrap breaks lines at plain spaces only.
        line = line.replace(" %", "\xa0%")
        lines.append(
            textwrap.fill(line, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
        )
    return "\n".join(lines).replace("\xa0%", " %")


def verdict_first(study: PlacementStudy, robust: Robustness) -> str:
    """Said at once when the order of the places is not sure: which are alike, and the safest of them."""
    same, best = alike(robust.singles), safest(robust.singles)
    others = [study.places[s.design.ports[0]].name for s in same if s is not best]
    lines = [f"How sure: {robust.words[0]}."]
    at = [study.places[s.design.ports[0]].at for s in same]
    apart = max(dist(a, b) for a in at for b in at)
    if others and apart <= CLOSE_BY:
        lines.append(f"  They all lie within {apart:.1f} m of each other: that part of the room is what matters.")
    low = best.figures.benefit.low
    lines.append(
        f"  The safest of them is {study.words(best.design)}: {low:.1f} dB of benefit or more in nine tenths "
        f"of the perturbed rooms, among the first three in {round(best.on_top * robust.draws)} of {robust.draws}."
    )
    if others:
        lines.append(f"  If it does not fit there: {', '.join(others)} will do as well, as far as is known.")
    return "\n".join(lines)


def first_unit(study: PlacementStudy, robust: Robustness | None = None, confirmed: Confirmation | None = None) -> str:
    """Where to put one unit, and what it changes at each seat."""
    if not study.added or study.found.bare.benefit >= study.added[0].scored.objectives.benefit:
        return f"No place for {_devices(study)} was found that makes this room better by the score."
    step, design = study.added[0], first_choice(study, robust)
    change = changes(study, design)
    lines = [f"One unit: put it at {study.words(design)}."]
    lines += [f"  At '{name}' {told}." for name, told in seat_changes(study, change)]
    between = change.spread
    if len(study.variant.seats) > 1 and abs(between) >= 0.05:
        lines.append(
            f"  The seats are {abs(between):.1f} dB {'closer to' if between > 0 else 'farther from'} each other."
        )
    if not change.heard:
        lines.append("  That is less than can be heard: a unit of this kind does not do enough here.")
    if design == step.scored.design:
        return "\n".join(lines + stability(study, step, confirmed))
    tried = study.places[step.scored.design.ports[0]].name
    lines.append(f"  Tables, figures and simulations below take {tried} for one unit: ahead by a hair, but less safe.")
    if any(device.control is not None for _, device, _ in study.units(design)):
        lines.append(f"  Whether an active unit is stable there was not tried, only at {tried}.")
    return "\n".join(lines)


def seat_changes(study: PlacementStudy, change: Gained) -> list[tuple[str, str]]:
    """(seat, what changes there) in words."""
    told = []
    for k, seat in enumerate(study.variant.seats):
        decay, even, level = (float(v[k]) for v in (change.ringing_at, change.uneven_at, change.level_at))
        parts = [_decay(decay), f"the level is {abs(even):.1f} dB {'more' if even >= 0 else 'less'} even"]
        if abs(level) >= LEVEL_TOLD:
            parts.append(f"the bass is {abs(level):.1f} dB {'louder' if level > 0 else 'quieter'} in the mean")
        heard = "" if change.heard_at[k] else " (less than can be heard)"
        told.append((seat.name, ", ".join(parts) + heard))
    return told


def _decay(share: float) -> str:
    if abs(share) < 0.005:
        return "what rings decays as before"
    return f"what rings decays {100 * abs(share):.0f} % {'faster' if share > 0 else 'slower'}"


def further(
    study: PlacementStudy, step: Step, confirmed: Confirmation | None = None, robust: Robustness | None = None
) -> str:
    """The best choice of one unit more, and whether the one more is heard."""
    ports = set(step.scored.design.ports)
    before = study.added[step.count - 2].scored.design if step.count > 2 else first_choice(study, robust)
    lines = [f"{_number(step.count)} units:", *unit_lines(study, step.scored.design)]
    if step.gained.benefit > 0.0 and step.gained.heard:
        lines.append("  What the last one adds:")
        lines += [f"    At '{name}' {told}." for name, told in seat_changes(study, step.gained)]
    else:
        lines.append(f"  {_capital(step.words)}.")
    lines += stability(study, step, confirmed)
    if not set(before.ports) <= ports:
        moved = ", ".join(study.places[p].name for p in before.ports if p not in ports)
        lines.append(f"  Note that this leaves out {moved}: decide on the number before you fix the first one.")
    return "\n".join(lines)


def stability(study: PlacementStudy, step: Step, confirmed: Confirmation | None) -> list[str]:
    """What is to be heeded with active units, if anything: the ranking takes them as stable at every gain."""
    built = _built(step.count, confirmed)
    if built is None:
        devices = (device for _, device, _ in study.units(step.scored.design))
        active = any(device.control is not None for device in devices)
        return ["  Whether active units are stable there was not tried (--no-confirm)."] if active else []
    if built.marched is None:
        return ["  BUT they would oscillate there at every gain that was to be tried: not to be built like this."]
    lines = []
    if built.design != built.asked:
        gains = " and ".join(f"{g:g}" for g in sorted({g for _, _, g in study.units(built.design)}))
        lines.append(
            f"  BUT they would oscillate there at that gain: set it to {gains}, for {built.marched.benefit:.1f} dB of "
            f"benefit instead of {step.scored.objectives.benefit:.1f} dB."
        )
    margin = margin_db(built)
    if margin < ENOUGH_MARGIN:
        lines.append(
            f"  Only {margin:.1f} dB of gain would be left before they oscillate: too little, set it lower still."
        )
    return lines


def _mind_the_gain(study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None) -> str:
    """Said beside the number of units if that many cannot run at the gain that was ranked."""
    counts = range(1, worthwhile(study, robust, confirmed) + 1)
    every = [b for count in counts if (b := _built(count, confirmed)) is not None]
    low = [b.count for b in every if b.design != b.asked or margin_db(b) < ENOUGH_MARGIN]
    if not low:
        return ""
    units = " or ".join(NUMBERS[count] if count < len(NUMBERS) else str(count) for count in low)
    return f" But mind the gain: {units} of them would oscillate, or nearly, at the gain that was ranked; see below."


def margin_db(built: Built) -> float:
    """dB of gain that are left before the active units of a design oscillate; infinite without any."""
    return float(built.units[0].stability.margin_db) if built.units else float("inf")


def _built(count: int, confirmed: Confirmation | None) -> Built | None:
    return None if confirmed is None else next((b for b in confirmed.built if b.count == count), None)


def unit_lines(study: PlacementStudy, design: Design) -> list[str]:
    """The units of a design, one a line."""
    alone = [Design((p,), (k,), (g,)) for p, k, g in zip(design.ports, design.kinds, design.gains, strict=True)]
    return [f"  - {study.words(one)}" for one in alone]


def worthwhile(study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None = None) -> int:
    """Number of units of which each one is heard, for the better.

    As far as it is known also in most of the perturbed rooms, and stable.
    """
    often = {c.count: c.heard for c in robust.counts} if robust is not None else {}
    count = 0
    for step in study.added:
        if step.gained.benefit <= 0.0 or not step.gained.heard or often.get(step.count, 1.0) < OFTEN:
            break
        built = _built(step.count, confirmed)
        if built is not None and built.marched is None:
            break
        count = step.count
    return count


def how_many(study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None = None) -> str:
    """The number of units to buy."""
    if not study.added:
        return ""
    count, tried = worthwhile(study, robust, confirmed), len(study.added)
    refused = _built(count + 1, confirmed)
    unstable = refused is not None and refused.marched is None
    if count == 0:
        if unstable:
            return "In short: buy none. The unit would oscillate on the best place; see below."
        return "In short: buy none. Not even the first unit can be relied on to be heard."
    units = NUMBERS[count] if count < len(NUMBERS) else str(count)
    if count == tried:
        if count == 1:
            return "In short: one unit is worth while; more were not tried."
        return f"In short: {units} units are worth while, each one is heard{_where_last(study)}; more were not tried."
    step = study.added[count]
    if unstable:
        return f"In short: buy {units}. One more would oscillate."
    if step.gained.benefit > 0.0 and step.gained.heard:
        return f"In short: buy {units}. One more is heard in too few of the perturbed rooms to be relied on."
    why = "adds nothing" if step.gained.benefit <= 0.0 else "adds less than can be heard"
    return f"In short: buy {units}. One more {why}."


def _where_last(study: PlacementStudy) -> str:
    heard = study.added[-1].gained.heard_at
    if heard.all() or not heard.any():
        return ""
    seats = [f"'{s.name}'" for s, yes in zip(study.variant.seats, heard, strict=True) if yes]
    return f", the last only at {' and '.join(seats)}"


def how_sure(study: PlacementStudy, robust: Robustness | None) -> str:
    """What the study is sure of, and from what."""
    if robust is None:
        return "How sure this is was not looked at (--no-robust)."
    words = robust.words if robust.robust else robust.words[1:]
    lines = [
        f"How sure, from {robust.draws} rooms with walls, air, units, seats and loudspeakers a little other than said:"
    ]
    if robust.draws < FEW_DRAWS:
        lines.append(f"  Only {robust.draws} rooms tried: a rough idea. --draws 10 tells more.")
    if robust.spacing > 1.001 * study.spacing:
        lines.append(
            f"  These ranges are from cells of {robust.spacing:.3g} m, the study's are {study.spacing:.3g} m: a range "
            "may lie a little beside the benefit in the tables."
        )
    return "\n".join([*lines, *(f"  {_capital(w)}." for w in words)])


def reused(study: PlacementStudy, folder: str) -> str:
    """What had been measured before."""
    lanes = len(study.places) + len(study.variant.sources)
    old = round(study.response.reused * lanes)
    if old == lanes:
        return (
            f"{old} of {lanes} lanes reused from {folder}: what was changed, if anything, is only devices, gains, the "
            "number of units, seat weights or how loudspeakers are played."
        )
    if old:
        return f"{old} of {lanes} lanes were there from a study that was stopped, in {folder}; the others were marched."
    return f"{lanes} lanes marched, one for each place and loudspeaker, and kept in {folder}."


def with_a_meter(study: PlacementStudy, meter: LoudestMap) -> str:
    """Where a level meter would find it loudest, and whether that is where a unit does most."""
    table = study.found.singles
    best = np.full(len(study.places), -np.inf)
    np.maximum.at(best, table.ports[:, 0], table.benefit)
    said = agreement_with_best(meter.level_at([p.at for p in study.places]), best).words
    first, *rest = describe(meter)
    return "\n".join(
        [f"Is the loudest place the best? {_capital(said)}.", f"  {first}", *(f"  {line}" for line in rest)]
    )


def _devices(study: PlacementStudy) -> str:
    return " or ".join(f"'{d.name}'" for d in study.spots.devices)


def _number(count: int) -> str:
    return _capital(NUMBERS[count]) if count < len(NUMBERS) else str(count)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
