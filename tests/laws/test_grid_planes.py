"""What an absorber changes does not hang on where the cell edges fall.

Set-up: a box with damped walls and an absorber whose edges are too close to another patch's to become cell edges, so
that it covers fractions of faces; the change of level that it makes at two seats, on cells of 0.18 and 0.12 m.
Exact: the same change on every grid; the covered area is exact on each. Expected error: the absorber's centre and shape
are resolved to parts of a cell: thousandths of a dB. Tolerance: 95th percentile 0.02 dB, 20-120 Hz, for a change of
several dB.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from rooms import DENSITY, SPEED, box_plan, make_scene, resonant

from fdtd.model.excitations import make_excitation
from fdtd.model.problem import build_problem
from fdtd.physics.admittance import resistive
from fdtd.scene.schema import Absorber, Device, Patch, Rectangle
from fdtd.simulation.stepper import simulate
from fdtd.simulation.transfer import transfer_functions

FREQUENCY = np.arange(20.0, 120.1, 1.0)
UNIT = Rectangle((0.33, 0.24), (1.23, 0.94))
RUG = Patch("rug", "wall 4", Rectangle((0.30, 0.21), (1.20, 0.91)), "of wall 4")


def change(spacing: float, motion: str) -> np.ndarray:
    """(seat, frequency) dB that the absorber changes."""
    scene = make_scene(
        box_plan(4.3, 3.2),
        2.4,
        surfaces=resistive(0.02, DENSITY, SPEED),
        patches=[RUG],
        devices=[Device("device", (resonant(10.0, 50.0, 3.0),), motion)],
        absorbers=[Absorber("unit", "device", "wall 4", UNIT)],
        sources=[(3.8, 2.9, 0.3)],
        seats=[(1.1, 1.2, 1.1), (2.4, 0.6, 1.3)],
    )
    fitted = scene.variants[0]
    untreated = replace(fitted, absorbers=())
    problem = build_problem(scene, fitted, spacing, (fitted, untreated))
    covered = [number for number, (_, covers) in enumerate(problem.regions) if any(c.name == "unit" for c in covers)]
    area = problem.elements.area[np.isin(problem.elements.region, covered)].sum()
    assert area == pytest.approx(0.9 * 0.7, rel=1e-9)
    assert np.abs(problem.cells.edges[2] - 0.24).min() > 1e-3, "the absorber's edge should not be a cell edge here"
    excitations = [make_excitation(scene, v, problem, v.sources[0].at) for v in (fitted, untreated)]
    done = simulate(problem, excitations, [s.at for s in fitted.seats], 200.0, 1.2)
    level = 20.0 * np.log10(np.abs(transfer_functions(done, FREQUENCY)))
    return level[0] - level[1]


@pytest.mark.parametrize("motion", ["diaphragm", "local"])
def test_same_change_on_every_grid(motion: str) -> None:
    found = [change(spacing, motion) for spacing in (0.18, 0.12)]
    assert np.abs(found[-1]).max() > 2.0
    for other in found[:-1]:
        assert np.percentile(np.abs(other - found[-1]), 95) < 0.02
