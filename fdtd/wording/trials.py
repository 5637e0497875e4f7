"""What came out of the simulations with the units built in."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fdtd.results.placement_record import Trial
from fdtd.scene.schema import Spots
from fdtd.scene.spots import Candidate
from fdtd.study.confirm import order
from fdtd.study.place import ENOUGH_MARGIN, Units
from fdtd.study.place_answer import placed
from fdtd.wording.designs import units_text
from fdtd.wording.letters import listed, plural

ROUNDING = 0.3
"""dB of level; simulations that differ by more from the prediction did not die away."""
DIFFERS = 0.5
"""dB of benefit between a unit in the plane of the wall and the same in its cabinet that is pointed out."""
GREW = "the room could not be simulated with cabinets: the field grew by itself"


def trial_text(trials: Sequence[Trial], spots: Spots, places: Sequence[Candidate]) -> tuple[str, ...]:
    """The verdict on the predictions, then each design as it would stand; places : of the scene"""
    built = [(one, placed(spots, places, one.units)) for one in trials if one.kind == "built"]
    return (on_wall_text(trials), *(installed_text(one, spots, units) for one, units in built))


def on_wall_text(trials: Sequence[Trial]) -> str:
    """Whether the best and worst places came out as they were predicted."""
    every = [one for one in trials if one.kind == "face"]
    singles = [one for one in every if len(one.units) == 1]
    text = f"{len(singles)} places simulated with the unit built in: "
    if grew := [f"spot {one.units[0].place}" for one in singles if one.outcome == "grew"]:
        return text + f"the field grew by itself with the unit at {', '.join(grew)}: unstable at that gain"
    correlation, same = order([(one.predicted, one.simulated) for one in singles])
    error = max((one.error for one in every if one.outcome == "simulated"), default=math.nan)
    text += "the order is as predicted" if same else f"not in the predicted order (rank correlation {correlation:.2f})"
    text += f"; levels at the seats differ from the prediction by {error:.2f} dB at most"
    if error > ROUNDING:
        text += (
            ", more than rounding: the simulation was too short, or an active unit is close to oscillating at that gain"
        )
    return text


def installed_text(one: Trial, spots: Spots, units: Units) -> str:
    """What came out of a design as installed, with its cabinets."""
    text = f"{plural(len(units), 'unit')}, {units_text(spots, units)}"
    note = _stability(one) if any(device.control is not None for _, device, _ in units) else ""
    if one.outcome == "unstable":
        return f"{text}: unstable at every gain tried" + (f"; {one.why}" if one.why else "")
    if one.outcome == "grew":
        return f"{text}: {GREW}{note}"
    text += f": predicted benefit {one.predicted:.1f} dB, simulated as installed {one.simulated:.1f} dB"
    if abs(one.simulated - one.predicted) > DIFFERS:
        text += " (the cabinet takes up space and moves the face forward: the second figure is the better one)"
    return text + note


def _stability(one: Trial) -> str:
    """The gains that active units had to be turned down to, and what is left."""
    used, lowered = tuple(unit.gain for unit in one.units), ""
    if used != one.asked:
        why = "it would oscillate" if one.refused else f"less than {ENOUGH_MARGIN:g} dB of gain would be left"
        lowered = f"; with gain {_gains(used)}, because {why} with gain {_gains(one.asked)}"
    spare = f"stable, with {one.margin:.1f} dB of gain to spare" if math.isfinite(one.margin) else "stable at any gain"
    if one.margin < ENOUGH_MARGIN:
        spare += f" (less than the usual {ENOUGH_MARGIN:g} dB, and no lower gain was tried)"
    return f"{lowered}; {spare}"


def _gains(values: Sequence[float]) -> str:
    return listed([f"{g:g}" for g in sorted(set(values))])
