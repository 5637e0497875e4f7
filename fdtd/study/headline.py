"""The first lines of a placement study's advice: which unit, where, how much that does, and whether it is heard."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.placement.objectives import Objectives
from fdtd.placement.steps import HEARD_DECAY, HEARD_EVENNESS, Gained, gained
from fdtd.placement.study import Design
from fdtd.study.place import PlacementStudy
from fdtd.study.robust import Robustness
from fdtd.study.shortlist import Scores
from fdtd.study.sure import safest

COARSE = 0.15
"""m, cells above which a study is a first look."""


def first_choice(study: PlacementStudy, robust: Robustness | None) -> Design:
    """The place to advise for one unit: the safest where the order is not sure, else the best."""
    if robust is not None and not robust.robust:
        return safest(robust.singles).design
    return study.added[0].scored.design


def changes(study: PlacementStudy, design: Design) -> Gained:
    """What a design changes against no unit."""
    if study.added and design == study.added[0].scored.design:
        return study.added[0].gained
    return gained(study.found.bare, figures(study, design))


def figures(study: PlacementStudy, design: Design) -> Objectives:
    """The figures of a design, as the search has them."""
    if study.added and design == study.added[0].scored.design:
        return study.added[0].scored.objectives
    return Scores(study.given).of(design)


def headline(study: PlacementStudy, robust: Robustness | None, buy: bool) -> str:
    """Which unit, where, how much, and whether that is heard; `buy` : whether a unit is worth while."""
    helps = study.added and study.added[0].scored.objectives.benefit > study.found.bare.benefit
    if not helps:
        devices = " or ".join(f"'{d.name}'" for d in study.spots.devices)
        lines = [f"Put none: no place for {devices} was found that makes this room better by the score."]
    else:
        design = first_choice(study, robust)
        unsure = robust is not None and not robust.robust
        where = f"one {_unit(study, design)} {_where(study, design)}: {effect(study, design)}."
        sure = "NOT SURE which place is best; the safest: put " if unsure else "Put "
        lines = [(sure if buy else "Put none. The most that was found: ") + where]
        lines += _each_device(study) if len(study.spots.devices) > 1 else []
    if study.spacing > COARSE + 1e-9:
        lines.append(
            f"Cells of {study.spacing:.3g} m: a first look. Try --grid 0.1 before you decide; what differs little may "
            "change places."
        )
    return "\n".join(lines)


def effect(study: PlacementStudy, design: Design) -> str:
    """Decay and evenness, mean over the seats as in the tables, and whether each is heard."""
    change, after = changes(study, design), figures(study, design)
    decay, even = shorter(study, after.ringing), study.found.bare.uneven - after.uneven
    rings = f"dies away {round(100 * abs(decay))} % {'sooner' if decay >= 0.0 else 'later'}"
    heard = _heard(study, change.ringing_at, HEARD_DECAY)
    smooth = f"level {abs(even):.1f} dB {'more' if even >= 0.0 else 'less'} even"
    mean = " in the mean of the seats" if len(study.variant.seats) > 1 else ""
    return f"what rings there {rings}{mean} ({heard}), {smooth} ({_heard(study, change.uneven_at, HEARD_EVENNESS)})"


def shorter(study: PlacementStudy, ringing: float) -> float:
    """Mean share by which what rings dies away sooner; ringing : octaves, with units"""
    bare = study.found.bare
    share = float(bare.ringing_share_at @ study.given.weights / study.given.weights.sum())
    return float(1.0 - 2.0 ** ((ringing - bare.ringing) / max(share, 1e-12)))


def _heard(study: PlacementStudy, change: NDArray, least: float) -> str:
    seats = [f"'{s.name}'" for s, c in zip(study.variant.seats, change, strict=True) if abs(float(c)) >= least]
    if not seats:
        return "not heard"
    return "heard" if len(seats) == len(study.variant.seats) else f"heard at {' and '.join(seats)}"


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


def _where(study: PlacementStudy, design: Design) -> str:
    place = study.places[design.ports[0]]
    return f"at {place.name} ({place.words.partition('; ')[0]})"
