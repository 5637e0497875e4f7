"""What each number of units does, seat by seat, and what is to be heeded with active ones."""

from __future__ import annotations

import numpy as np

from fdtd.placement.steps import AUDIBLE_DECAY, AUDIBLE_EVENNESS, Gained, Step
from fdtd.placement.study import Design
from fdtd.study.built import has_active, margin_db
from fdtd.study.confirm import Confirmation
from fdtd.study.decide import built_for
from fdtd.study.design_figures import changes, figures, first_choice
from fdtd.study.finished import FinishedPlacement
from fdtd.study.place import ENOUGH_MARGIN, PlacementStudy
from fdtd.wording.designs import design_text
from fdtd.wording.letters import ORDINALS, capital, decay_text, faster, louder, more_even, number, seats_closer
from fdtd.wording.names import named, typed

LEVEL_TEXT = 0.5
"""dB of mean level from which it is mentioned."""


def first_unit(done: FinishedPlacement) -> str:
    """Where to put one unit, and what it changes at each seat; the advised one if one is advised."""
    study, decided = done.study, done.decision
    if not study.added or study.found.untreated.benefit >= study.added[0].scored.objectives.benefit:
        devices = " or ".join(named(d.name) for d in study.spots.devices)
        return f"No place for {devices} was found that improves this room by the score."
    one = decided is not None and len(decided.design.ports) == 1
    design = decided.design if decided is not None and one else first_choice(study, done.robustness)
    change = changes(study, design)
    lines = [f"One unit: put it at {design_text(study, design)}."]
    lines += [f"  At {named(name)} {text}." for name, text in seat_changes(study, change)]
    between = change.spread
    if len(study.variant.seats) > 1 and abs(between) >= 0.05:
        lines.append(f"  {capital(seats_closer(between))}.")
    if not change.audible:
        lines.append("  That is inaudible: a unit of this kind does too little here.")
    lines += stability(study, design, done.confirmation)
    best = study.added[0].scored.design
    if design.ports != best.ports:
        lines.append(f"  {study.places[best.ports[0]].name.capitalize()} scores slightly higher, but is less robust.")
    return "\n".join(lines)


def seat_changes(study: PlacementStudy, change: Gained) -> list[tuple[str, str]]:
    """(seat, what changes there) in words."""
    text = []
    for k, seat in enumerate(study.variant.seats):
        decay, even, level = (float(v[k]) for v in (change.ringing_at, change.uneven_at, change.level_at))
        parts = [decay_text(decay), f"the level is {more_even(even)}"]
        if abs(level) >= LEVEL_TEXT:
            parts.append(f"the bass is {louder(level)} on average")
        audible = "" if change.audible_at[k] else " (inaudible)"
        text.append((seat.name, ", ".join(parts) + audible))
    return text


def further(done: FinishedPlacement, step: Step) -> str:
    """The best choice of one unit more, and whether the one more is heard."""
    study, design = done.study, step.scored.design
    before = study.added[step.count - 2].scored.design if step.count > 2 else first_choice(study, done.robustness)
    lines = [f"{number(step.count).capitalize()} units:", *unit_lines(study, design)]
    if step.gained.benefit > 0.0 and step.gained.audible:
        lines.append("  What the last one adds:")
        lines += [f"    At {named(name)} {text}." for name, text in seat_changes(study, step.gained)]
    else:
        lines.append(f"  {capital(step_text(step.gained, step.count))}.")
    lines += stability(study, design, done.confirmation)
    if not set(before.ports) <= set(design.ports):
        moved = ", ".join(study.places[p].name for p in before.ports if p not in design.ports)
        lines.append(f"  Note that this leaves out {moved}: decide on the number before you install the first one.")
    return "\n".join(lines)


def stability(study: PlacementStudy, design: Design, confirmed: Confirmation | None) -> list[str]:
    """What is to be heeded with the active units of a design, if anything."""
    built, active = built_for(design, confirmed), has_active(study, design)
    it, they = ("it", "it") if len(design.ports) == 1 else ("them", "they")
    if built is None:
        why = f" ({typed('--no-confirm')})" if confirmed is None else ""
        if not active:
            return []
        limits = study.given.limits
        if limits is None:
            return [f"  Whether active units are stable there was not checked{why}."]
        gain = max(gain for _, device, gain in study.units(design) if device.control is not None)
        left = 20.0 * np.log10(limits.critical(design.ports, design.kinds) / gain)
        spare = f"the gain could rise by {left:.1f} dB" if np.isfinite(left) else "stable at any gain"
        return [f"  Flush with the wall: {spare}; not simulated as installed{why}."]
    if built.simulated is None:
        if not active:
            return ["  They could not be simulated as installed there: the field grew by itself; see below."]
        if built.units:
            return ["  BUT with them installed the simulated field grew by itself: do not build this."]
        return [f"  BUT {they} would oscillate there at every gain tried: do not build this."]
    lines, margin = [], margin_db(built)
    if design == built.asked != built.design:
        gains = " and ".join(f"{g:g}" for g in sorted({g for _, _, g in study.units(built.design)}))
        lines.append(
            f"  BUT at that gain {they} would oscillate there, or nearly: set {it} to {gains}, for "
            f"{figures(study, built.design).benefit:.1f} dB of benefit instead of "
            f"{figures(study, built.asked).benefit:.1f} dB."
        )
    if margin < ENOUGH_MARGIN:
        lines.append(
            f"  BUT at the lowest gain tried, {margin:.1f} dB more would make {it} oscillate: too little margin, do "
            "not build this."
        )
    return lines


def unit_lines(study: PlacementStudy, design: Design) -> list[str]:
    """The units of a design, one a line."""
    alone = [Design((p,), (k,), (g,)) for p, k, g in zip(design.ports, design.kinds, design.gains, strict=True)]
    return [f"  - {design_text(study, one)}" for one in alone]


def step_text(difference: Gained, count: int) -> str:
    """The verdict on unit number `count` in words."""
    unit = f"the {ORDINALS[count]}" if count < 6 else f"unit {count} as one more"
    if difference.benefit <= 0.0:
        return f"{unit} unit adds nothing: no place found for it improves the score"
    if not difference.audible:
        return f"{unit} unit adds nothing audible"
    parts = []
    if difference.ringing_at.max() >= AUDIBLE_DECAY:
        parts.append(f"resonances decay up to {faster(difference.ringing_at.max())}")
    if difference.uneven_at.max() >= AUDIBLE_EVENNESS:
        parts.append(f"the level is up to {more_even(difference.uneven_at.max())} at a seat")
    if difference.spread >= AUDIBLE_EVENNESS:
        parts.append(seats_closer(difference.spread))
    seats = f"{int(difference.audible_at.sum())} of {len(difference.audible_at)} seats"
    return f"{unit} unit is audible at {seats}: " + (", ".join(parts) or "for the worse there, though the score rises")
