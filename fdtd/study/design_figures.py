"""What a design of a placement study changes, in figures, and which place to take for one unit."""

from __future__ import annotations

from dataclasses import replace
from math import nan

import numpy as np

from fdtd.placement.objectives import Objectives
from fdtd.placement.steps import MOST_OCTAVES_LONGER, Gained, gained
from fdtd.placement.study import Design
from fdtd.ports.predict import port_admittance
from fdtd.study.place import PlacementStudy, diaphragms, gain_of
from fdtd.study.robust import Robustness
from fdtd.study.shortlist import Scores


def first_choice(study: PlacementStudy, robust: Robustness | None) -> Design:
    """The place to advise for one unit: the safest where the order is not sure, else the best."""
    if robust is not None and not robust.sure.robust:
        return robust.safest
    return study.added[0].scored.design


def figures(study: PlacementStudy, design: Design) -> Objectives:
    """The figures of a design, as the search has them."""
    own = (step.scored for step in study.added if step.scored.design == design)
    found = next(own, None)
    return Scores(study.given).of(design) if found is None else found.objectives


def switched_off(study: PlacementStudy, design: Design) -> float:
    """dB of benefit of a design whose active units are without power, NaN if none is active."""
    devices, given, faces = study.spots.devices, study.given, study.response.faces
    if all(devices[kind].control is None for kind in design.kinds):
        return nan
    unpowered = [
        [port_admittance(faces, given.frequency, diaphragms(faces, device, gain_of(device, 0.0), study.places))]
        for device in devices
    ]
    alone = replace(design, gains=(0,) * len(design.gains))
    return Scores(replace(given, admittance=np.array(unpowered), limits=None)).of(alone).benefit


def changes(study: PlacementStudy, design: Design) -> Gained:
    """What a design changes against no unit."""
    if study.added and design == study.added[0].scored.design:
        return study.added[0].gained
    return gained(study.found.untreated, figures(study, design))


def shorter(study: PlacementStudy, ringing: float) -> float:
    """Mean share by which what rings dies away sooner; ringing : octaves, with units"""
    untreated = study.found.untreated
    share = float(untreated.ringing_share_at @ study.given.weights / study.given.weights.sum())
    return float(1.0 - 2.0 ** min((ringing - untreated.ringing) / max(share, 1e-12), MOST_OCTAVES_LONGER))
