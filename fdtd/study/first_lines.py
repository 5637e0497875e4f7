"""The first lines of a placement study's advice: how many units, where, what they do, what gain is left, how sure."""

from __future__ import annotations

from math import isfinite, isnan

import numpy as np

from fdtd.placement.study import Design
from fdtd.study.decide import MARGIN, NOTHING, OSCILLATES, SELDOM, UNHEARD, UNTRIED, Decision
from fdtd.study.finished import FinishedPlacement
from fdtd.study.headline import effect
from fdtd.study.place import PlacementStudy
from fdtd.study.robust import Robustness
from fdtd.study.sure import alike, listed, number

COARSE = 0.15
"""m, cells above which a study is a first look."""
ORDINALS = ("", "first", "second", "third", "fourth", "fifth", "sixth")


def first_lines(done: FinishedPlacement) -> str:
    """The advice, which is that of the result file and the report."""
    study, robust, decided = done.study, done.robustness, done.decision
    if decided is None or decided.figures.benefit <= study.found.bare.benefit:
        devices = " or ".join(f"'{d.name}'" for d in study.spots.devices)
        lines = [f"Put none: no place for {devices} was found that makes this room better by the score."]
    else:
        lines = [_advised(study, robust, decided)]
        several = decided.worthwhile > 1  # of one unit it is in the same sentence
        lines += [doubt] if several and (doubt := not_sure(study, robust, decided)) else []
        lines += _each_device(study) if len(study.spots.devices) > 1 else []
    if study.spacing > COARSE + 1e-9:
        lines.append(
            f"Cells of {study.spacing:.3g} m: a first look. Try --grid 0.1 before you decide; what differs little may "
            "change places."
        )
    return "\n".join(lines)


def _advised(study: PlacementStudy, robust: Robustness | None, decided: Decision) -> str:
    design, put = decided.design, "Put "
    if len(design.ports) == 1:
        what = f"one {_unit(study, design)} {_where(study, design)}"
        put = "NOT SURE which place is best; the safest: put " if robust is not None and not robust.robust else put
    else:
        what = f"{number(len(design.ports))} {_units(study, design)}"
    put = put if decided.worthwhile else "Put none. The most that was found: "
    left = gain_left(decided) if decided.worthwhile else ""
    return f"{put}{what}: {effect(study, design)}." + (f" {left}" if left else "")


def not_sure(study: PlacementStudy, robust: Robustness | None, decided: Decision) -> str:
    """Said where the order of the places is not sure, "" where it is."""
    if robust is None or robust.robust:
        return ""
    same = [study.places[spot.design.ports[0]].number for spot in alike(robust.singles)]
    mine = [study.places[port].number for port in decided.design.ports]
    if len(mine) > 1:
        spots = f"spots {listed([str(one) for one in sorted(same)])}"
        return f"Not sure which places are best: for one unit alone {spots} are as good as each other, as far as the " \
               "room is known."  # fmt: skip
    others = [str(one) for one in sorted(same) if one not in mine]
    if not others:
        return ""
    spots = f"spot{'s' * (len(others) > 1)} {listed(others)} {'are' if len(others) > 1 else 'is'}"
    return f"Not sure which place is best: {spots} as good, as far as the room is known."


def gain_left(decided: Decision) -> str:
    """How much gain the advised units have to spare; "" without active ones."""
    it = "it oscillates" if len(decided.design.ports) == 1 else "they oscillate"
    if isnan(decided.margin):
        return f"Not tried: whether {it} there."
    return f"{decided.margin:.1f} dB of gain are left before {it}." if isfinite(decided.margin) else ""


def one_more(decided: Decision) -> str:
    """What one unit more than advised would do."""
    count, why = decided.worthwhile, decided.why_not
    if count == 0:
        if why in (OSCILLATES, MARGIN):
            return f"It {'would oscillate' if why == OSCILLATES else _too_little(decided)}."
        return "Not even the first unit can be relied on to be heard."
    if why == UNTRIED:
        return "More units were not tried."
    one = f"A {ORDINALS[count + 1] if count + 1 < len(ORDINALS) else 'further'} unit"
    told = {
        OSCILLATES: "would oscillate", MARGIN: _too_little(decided), UNHEARD: "adds less than can be heard",
        SELDOM: "is heard in too few of the perturbed rooms to be relied on",
    }  # fmt: skip
    # The search takes every gain as stable: its best may have to be turned down until it does little.
    lower = decided.lowered and why in (UNHEARD, NOTHING)
    gain = f", at the lower gain that {'both' if count == 1 else 'all of them'} would need," if lower else ""
    return f"{one}{gain} {told.get(why, 'adds nothing')}."


def _too_little(decided: Decision) -> str:
    units = "it oscillates" if decided.worthwhile == 0 else "they oscillate"
    return f"would leave only {decided.margin_of_more:.1f} dB of gain before {units}, which is too little"


def _each_device(study: PlacementStudy) -> list[str]:
    """A line for each device: the best that one of it reaches."""
    table, lines = study.found.singles, ["The best that one of each reaches:"]
    for kind in range(len(study.spots.devices)):
        rows = np.flatnonzero(table.kinds[:, 0] == kind)
        row = int(rows[np.argmax(table.benefit[rows])])
        design = Design((int(table.ports[row, 0]),), (kind,), (int(table.gains[row, 0]),))
        told = f"  {_unit(study, design)} at {study.places[design.ports[0]].name}: benefit {table.benefit[row]:.1f} dB"
        lines.append(f"{told}, {effect(study, design)}.")
    return lines


def _unit(study: PlacementStudy, design: Design) -> str:
    ((_, device, gain),) = study.units(design)
    turned = device.control is not None and len(study.spots.gains) > 1
    return f"'{device.name}'" + (f" at gain {gain:g}" if turned else "")


def _units(study: PlacementStudy, design: Design) -> str:
    """'units 'NAME' at gain 0.5 at spots 3 and 7', each with its own name and gain where they differ."""
    alone = [Design((p,), (k,), (g,)) for p, k, g in zip(design.ports, design.kinds, design.gains, strict=True)]
    names = [_unit(study, one) for one in alone]
    if len(set(names)) == 1:
        return f"units {names[0]} at spots {listed([str(study.places[port].number) for port in design.ports])}"
    each = [f"{name} at {study.places[one.ports[0]].name}" for name, one in zip(names, alone, strict=True)]
    return f"units, {listed(each)}"


def _where(study: PlacementStudy, design: Design) -> str:
    place = study.places[design.ports[0]]
    return f"at {place.name} ({place.words.partition('; ')[0]})"
