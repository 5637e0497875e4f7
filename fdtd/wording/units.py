"""What each number of units does, seat by seat, and what is to be heeded with active ones."""

from __future__ import annotations

import numpy as np

from fdtd.placement.steps import Gained, Step
from fdtd.placement.study import Design
from fdtd.study.built import has_active, margin_db
from fdtd.study.confirm import Confirmation
from fdtd.study.decide import built_for
from fdtd.study.design_figures import changes, figures, first_choice
from fdtd.study.finished import FinishedPlacement
from fdtd.study.place import ENOUGH_MARGIN, PlacementStudy
from fdtd.wording.designs import design_text
from fdtd.wording.letters import capital, number
from fdtd.wording.steps import step_text

SLOWEST = 9.0
"""Share by which decays become longer beyond which no figure is given: where hardly anything rang, it means little."""
LEVEL_TEXT = 0.5
"""dB of mean level from which it is mentioned."""


def first_unit(done: FinishedPlacement) -> str:
    """Where to put one unit, and what it changes at each seat; the advised one if one is advised."""
    study, decided = done.study, done.decision
    if not study.added or study.found.untreated.benefit >= study.added[0].scored.objectives.benefit:
        devices = " or ".join(f"'{d.name}'" for d in study.spots.devices)
        return f"No place for {devices} was found that makes this room better by the score."
    one = decided is not None and len(decided.design.ports) == 1
    design = decided.design if decided is not None and one else first_choice(study, done.robustness)
    change = changes(study, design)
    lines = [f"One unit: put it at {design_text(study, design)}."]
    lines += [f"  At '{name}' {text}." for name, text in seat_changes(study, change)]
    between = change.spread
    if len(study.variant.seats) > 1 and abs(between) >= 0.05:
        lines.append(
            f"  The seats are {abs(between):.1f} dB {'closer to' if between > 0 else 'farther from'} each other."
        )
    if not change.audible:
        lines.append("  That is less than can be heard: a unit of this kind does not do enough here.")
    lines += stability(study, design, done.confirmation)
    best = study.added[0].scored.design
    if design.ports != best.ports:
        lines.append(f"  {study.places[best.ports[0]].name.capitalize()} is ahead of it by a hair, but less safe.")
    return "\n".join(lines)


def seat_changes(study: PlacementStudy, change: Gained) -> list[tuple[str, str]]:
    """(seat, what changes there) in words."""
    text = []
    for k, seat in enumerate(study.variant.seats):
        decay, even, level = (float(v[k]) for v in (change.ringing_at, change.uneven_at, change.level_at))
        parts = [_decay(decay), f"the level is {abs(even):.1f} dB {'more' if even >= 0 else 'less'} even"]
        if abs(level) >= LEVEL_TEXT:
            parts.append(f"the bass is {abs(level):.1f} dB {'louder' if level > 0 else 'quieter'} in the mean")
        audible = "" if change.audible_at[k] else " (less than can be heard)"
        text.append((seat.name, ", ".join(parts) + audible))
    return text


def _decay(share: float) -> str:
    if abs(share) < 0.005:
        return "what rings decays as before"
    if share < -SLOWEST:
        return f"what rings takes more than {1.0 + SLOWEST:.0f} times as long to decay"
    return f"what rings decays {100 * abs(share):.0f} % {'faster' if share > 0 else 'slower'}"


def further(done: FinishedPlacement, step: Step) -> str:
    """The best choice of one unit more, and whether the one more is heard."""
    study, design = done.study, step.scored.design
    before = study.added[step.count - 2].scored.design if step.count > 2 else first_choice(study, done.robustness)
    lines = [f"{number(step.count).capitalize()} units:", *unit_lines(study, design)]
    if step.gained.benefit > 0.0 and step.gained.audible:
        lines.append("  What the last one adds:")
        lines += [f"    At '{name}' {text}." for name, text in seat_changes(study, step.gained)]
    else:
        lines.append(f"  {capital(step_text(step.gained, step.count))}.")
    lines += stability(study, design, done.confirmation)
    if not set(before.ports) <= set(design.ports):
        moved = ", ".join(study.places[p].name for p in before.ports if p not in design.ports)
        lines.append(f"  Note that this leaves out {moved}: decide on the number before you fix the first one.")
    return "\n".join(lines)


def stability(study: PlacementStudy, design: Design, confirmed: Confirmation | None) -> list[str]:
    """What is to be heeded with the active units of a design, if anything."""
    built, active = built_for(design, confirmed), has_active(study, design)
    it, they = ("it", "it") if len(design.ports) == 1 else ("them", "they")
    if built is None:
        why = " (--no-confirm)" if confirmed is None else ""
        if not active:
            return []
        limits = study.given.limits
        if limits is None:
            return [f"  Whether active units are stable there was not tried{why}."]
        gain = max(gain for _, device, gain in study.units(design) if device.control is not None)
        left = 20.0 * np.log10(limits.critical(design.ports, design.kinds) / gain)
        spare = f"{left:.1f} dB of gain are left before {they} oscillate" if np.isfinite(left) else "stable at any gain"
        return [f"  Flush with the wall: {spare}; not tried as installed{why}."]
    if built.simulated is None:
        if not active:
            return ["  They could not be simulated as they would stand there: the field grew by itself; see below."]
        if built.units:
            return ["  BUT with them in as they would stand the simulated field grew by itself: not to be built."]
        return [f"  BUT {they} would oscillate there at every gain that was to be tried: not to be built like this."]
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
            f"  BUT only {margin:.1f} dB of gain would be left before {they} would oscillate, at the lowest gain that "
            "was to be tried: too little, not to be built like this."
        )
    return lines


def unit_lines(study: PlacementStudy, design: Design) -> list[str]:
    """The units of a design, one a line."""
    alone = [Design((p,), (k,), (g,)) for p, k, g in zip(design.ports, design.kinds, design.gains, strict=True)]
    return [f"  - {design_text(study, one)}" for one in alone]
