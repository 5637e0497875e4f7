"""All passive build-ups by their kind, and the branches that stand for them."""

from __future__ import annotations

import numpy as np

from fdtd.physics.design import Design, Fit
from fdtd.physics.drivers import ClosedBoxDriver
from fdtd.physics.fitting import compared, fit_admittance
from fdtd.physics.medium import Medium
from fdtd.physics.openings import Opening, Pane
from fdtd.physics.panels import HelmholtzResonator, PerforatedPanel, Plate, SlottedPanel
from fdtd.physics.porous import PorousLayer

DESIGNS: dict[str, type[Design]] = {
    design.kind: design
    for design in (
        PorousLayer,
        Plate,
        PerforatedPanel,
        SlottedPanel,
        HelmholtzResonator,
        ClosedBoxDriver,
        Opening,
        Pane,
    )
}
"""Kind, as the user writes it -> class."""

LOWEST = 15.0
"""Hz from which branches are compared with theory."""

POINTS = 200
"""Frequencies of the comparison, evenly spread over log f."""


def design_branches(design: Design, medium: Medium, top: float = 250.0) -> Fit:
    """Branches of `design`: its own where it is made of a few, else fitted to its theory from 15 Hz to `top` Hz.

    The Fit compares them with the theory of the design over that range either way.
    Raises ValueError unless `top` is above 15 Hz.
    """
    if not (np.isfinite(top) and top > LOWEST):
        raise ValueError(f"the range of a fit must end above {LOWEST:g} Hz, found {top:g} Hz")
    frequency = np.geomspace(LOWEST, top, POINTS)
    theory = design.admittance(frequency, medium)
    own = getattr(design, "branches", None)
    branches = own(medium) if own is not None else None
    if branches is None:  # a design may have branches only for some of its settings
        return fit_admittance(frequency, theory, medium)
    return compared(branches, frequency, theory, medium)
