"""Every kind of build-up becomes branches that absorb as its theory says."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.physics.admittance import admittance
from fdtd.physics.design import Design
from fdtd.physics.designs import DESIGNS, design_branches
from fdtd.physics.drivers import ClosedBoxDriver
from fdtd.physics.medium import Medium
from fdtd.physics.panels import HelmholtzResonator, PerforatedPanel, Plate, SlottedPanel
from fdtd.physics.porous import PorousLayer

MEDIUM = Medium(1.2, 343.0)
DRIVER = {
    "diaphragm_area": 0.0133,
    "moving_mass": 0.014,
    "suspension_compliance": 1.1e-3,
    "mechanical_resistance": 1.2,
    "force_factor": 7.0,
    "coil_resistance": 5.8,
    "box_volume": 0.012,
}

EXAMPLES = [
    PorousLayer(0.05, 1e4),
    PorousLayer(0.1, 5e3, gap=0.1),
    PorousLayer(0.2, 2e4, gap=0.3),
    Plate(8.0, 0.1),
    Plate(3.0, 0.05, fill_depth=0.04, fill_resistivity=8e3),
    PerforatedPanel(0.006, 0.04, 0.009, 0.15, resistance=300.0),
    PerforatedPanel(0.006, 0.04, 0.009, 0.1, fill_depth=0.06, fill_resistivity=1e4),
    SlottedPanel(0.005, 0.06, 0.012, 0.15, resistance=100.0),
    HelmholtzResonator(0.005, 0.05, 0.06, resistance=100.0),
    ClosedBoxDriver(**DRIVER),
    ClosedBoxDriver(**DRIVER, coil_inductance=5e-4, shunt_resistance=2.0),
]


@pytest.mark.parametrize("design", EXAMPLES, ids=str)
def test_branches_absorb_as_the_theory_says(design: Design) -> None:
    fit = design_branches(design, MEDIUM)
    assert 1 <= len(fit.branches) <= 4
    assert fit.error < 0.01
    assert fit.frequency[0] == pytest.approx(15.0) and fit.frequency[-1] == pytest.approx(250.0)
    theory = np.asarray(design.admittance(fit.frequency, MEDIUM)) * MEDIUM.impedance
    assert fit.wanted == pytest.approx(theory)
    found = admittance(fit.branches, fit.frequency) * MEDIUM.impedance
    assert np.abs((1 - found) / (1 + found) - (1 - theory) / (1 + theory)).max() < 0.02


def test_holes_without_cloth_lose_less_off_resonance_than_any_branches_can() -> None:
    """Viscous loss falls with frequency: branches of constant resistance absorb a little too much on the skirts."""
    assert design_branches(PerforatedPanel(0.006, 0.04, 0.009, 0.15), MEDIUM).error < 0.02


def test_kinds_are_those_of_the_classes() -> None:
    assert set(DESIGNS) >= {"porous", "plate", "perforated", "slotted", "helmholtz", "driver"}
    assert all(design.kind == kind for kind, design in DESIGNS.items())


def test_the_range_must_be_one() -> None:
    with pytest.raises(ValueError, match="above 15 Hz, found 10 Hz"):
        design_branches(Plate(8.0, 0.1), MEDIUM, top=10.0)
