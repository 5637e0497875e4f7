"""What a design of a placement study changes, in figures and in words, and which place to take for one unit."""

from __future__ import annotations

from numpy.typing import NDArray

from fdtd.placement.objectives import Objectives
from fdtd.placement.steps import HEARD_DECAY, HEARD_EVENNESS, LONGEST, Gained, gained
from fdtd.placement.study import Design
from fdtd.study.place import PlacementStudy
from fdtd.study.robust import Robustness
from fdtd.study.shortlist import Scores
from fdtd.study.sure import safest


def first_choice(study: PlacementStudy, robust: Robustness | None) -> Design:
    """The place to advise for one unit: the safest where the order is not sure, else the best."""
    if robust is not None and not robust.robust:
        return safest(robust.singles).design
    return study.added[0].scored.design


def figures(study: PlacementStudy, design: Design) -> Objectives:
    """The figures of a design, as the search has them."""
    own = (step.scored for step in study.added if step.scored.design == design)
    found = next(own, None)
    return Scores(study.given).of(design) if found is None else found.objectives


def changes(study: PlacementStudy, design: Design) -> Gained:
    """What a design changes against no unit."""
    if study.added and design == study.added[0].scored.design:
        return study.added[0].gained
    return gained(study.found.bare, figures(study, design))


def effect(study: PlacementStudy, design: Design) -> str:
    """Decay and evenness, mean over the seats as in the tables, and whether each is heard."""
    change, after = changes(study, design), figures(study, design)
    decay, even = shorter(study, after.ringing), study.found.bare.uneven - after.uneven
    rings = f"dies away {round(100 * abs(decay))} % {'sooner' if decay >= 0.0 else 'later'}"
    heard = _heard(study, change.ringing_at, HEARD_DECAY)
    smooth = f"level {abs(even):.1f} dB {'more' if even >= 0.0 else 'less'} even"
    mean = " in the mean of the seats" if len(study.variant.seats) > 1 else ""
    smooth += f" ({_heard(study, change.uneven_at, HEARD_EVENNESS)})"
    return f"what rings in the room {rings}{mean} ({heard}), {smooth}"


def shorter(study: PlacementStudy, ringing: float) -> float:
    """Mean share by which what rings dies away sooner; ringing : octaves, with units"""
    bare = study.found.bare
    share = float(bare.ringing_share_at @ study.given.weights / study.given.weights.sum())
    return float(1.0 - 2.0 ** min((ringing - bare.ringing) / max(share, 1e-12), LONGEST))


def _heard(study: PlacementStudy, change: NDArray, least: float) -> str:
    seats = [f"'{s.name}'" for s, c in zip(study.variant.seats, change, strict=True) if abs(float(c)) >= least]
    if not seats:
        return "not heard"
    return "heard" if len(seats) == len(study.variant.seats) else f"heard at {' and '.join(seats)}"
