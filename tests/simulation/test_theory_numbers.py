"""Statements of docs/theory.md that a formula of the code must bear out, each by a small experiment."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from rooms import box_plan, make_scene, problem_of, resonant

from fdtd.grid.edges import SHARE_WITH_FOURTH_ORDER, edge_factor
from fdtd.model.problem import Problem
from fdtd.physics.admittance import Branch, admittance
from fdtd.scene.schema import Absorber, Device, Rectangle
from fdtd.simulation.discrete import USUAL_SHARE, flux_factor, simulated
from fdtd.simulation.points import PointWeights
from fdtd.simulation.signals import time_step_frequency

ROOT = Path(__file__).resolve().parents[2]
H = 0.25
"""m, cell edge."""


def line(cells: int) -> Problem:
    """A row of equal cells."""
    return problem_of(make_scene(box_plan(cells * H, H), H, surfaces=(Branch(resistance=1e4),)), H)


def test_equal_cells_have_the_13_point_laplacian() -> None:
    """Eq. 2 and 3, in a cell three away from every wall."""
    problem = problem_of(make_scene(box_plan(7 * H, 7 * H), 7 * H), H)
    middle = int(np.flatnonzero((problem.cells.index == 3).all(axis=1))[0])
    row = problem.operator.stiffness[[middle]].toarray().ravel() / problem.operator.volume[middle]
    step = problem.cells.index - problem.cells.index[middle]
    wanted = np.zeros(len(row))
    for axis in range(3):
        aside = (np.delete(step, axis, axis=1) == 0).all(axis=1)
        for distance, value in zip(range(-2, 3), (1, -16, 30, -16, 1), strict=True):
            wanted[aside & (step[:, axis] == distance)] += value / (12 * H * H)
    assert np.abs(row - wanted).max() < 1e-9


@pytest.mark.parametrize(("quarters", "flux", "share"), [(4, 1.55, 0.90), (3, 1.26, 0.81)])
def test_plain_links_beside_edges_let_too_little_through(quarters: int, flux: float, share: float) -> None:
    """Eq. 4, on equal cells: centres lie 45 degrees either side of the first face."""
    before, after = ((np.sqrt(0.5), (n + 0.5) * np.pi / 2) for n in range(2))
    assert edge_factor(quarters, 1, (0.5, 0.5), 0.5, before, after) == pytest.approx(flux, abs=0.005)
    assert SHARE_WITH_FOURTH_ORDER[quarters] == pytest.approx(share, abs=0.005)


def test_frequencies_of_the_simulation_are_shifted_and_nothing_else() -> None:
    """Eq. 7: a mode of the operator swings at the shifted frequency."""
    problem, dt = line(9), 4e-4
    courant = (problem.speed_of_sound * dt) ** 2 / problem.operator.volume[:, None]
    values = np.sort(np.linalg.eigvals(courant * problem.operator.stiffness.toarray()).real)
    frequency = np.sqrt(values[2:]) / dt / (2 * np.pi)
    shifted = time_step_frequency(frequency, dt)
    # p+ + p- = 2 cos(omega' dt) p has to be (2 - value) p.
    assert 2 * np.cos(shifted * dt) == pytest.approx(2 - values[2:], abs=1e-12)
    assert np.cos(shifted * dt / 2) == pytest.approx(flux_factor(frequency, dt), abs=1e-12)


def test_the_first_cell_reads_as_if_the_air_before_the_wall_were_deeper() -> None:
    """Eq. 14: a steady flow in at one end of a row, out at the other; the straight middle extrapolated to the wall."""
    problem, count = line(24), 24
    drawn = np.zeros(count)
    drawn[0], drawn[-1] = 1.0, -1.0
    p = np.linalg.lstsq(problem.operator.stiffness.toarray(), drawn, rcond=None)[0]
    along = problem.cells.centre[:, 0]
    slope, wall = np.polyfit(along[8:16], p[8:16], 1)
    depth = (p[0] - wall) / slope
    assert depth == pytest.approx(H / np.sqrt(3.0), rel=1e-6)
    ends = problem.elements.depth[np.isin(problem.elements.cell, (0, count - 1))]
    assert ends.max() == pytest.approx(depth, rel=1e-6)


@pytest.mark.parametrize(("low", "ends"), [(2 * H, 0), (0.0, 1)])
def test_small_absorbers_lose_some_of_the_air_before_them(low: float, ends: int) -> None:
    """Eq. 15, of an absorber of 2 x 3 cells, in the middle of a wall or in its corner."""
    on_wall = Rectangle((low, low), (low + 2 * H, low + 3 * H))
    device = Device("pad", (Branch(3.0, 90.0),), "local")
    absorber = Absorber("pad", "pad", "wall 1", on_wall)
    scene = make_scene(box_plan(7 * H, 7 * H), 7 * H, devices=(device,), absorbers=(absorber,))
    found = problem_of(scene, H).elements.excess
    n = np.array([2.0, 3.0]) * (1 + ends)
    assert np.unique(found[found > 0]) == pytest.approx([H / 2 * np.sum((0.406 + 0.33 * np.log(n)) / n)], abs=1e-12)


def test_admittances_are_put_right_at_their_frequency() -> None:
    """Eq. 16: C times what the simulation makes of Y is Y at the branch's resonance, or at 0.6 of the highest
    frequency."""
    dt, top = 5e-4, 200.0
    for branch, frequency in ((resonant(8.0, 90.0, 5.0), 90.0), (Branch(3.0, 500.0), USUAL_SHARE * top)):
        at = np.array([frequency])
        found = simulated((branch,), None, 0.0, dt, top).admittance(at, dt) * flux_factor(at, dt)
        assert found == pytest.approx(admittance((branch,), at), rel=1e-12)


def test_points_are_cubic_in_each_coordinate() -> None:
    """Eq. 19, away from walls."""
    problem = problem_of(make_scene(box_plan(7 * H, 7 * H), 7 * H), H)
    cells, weight = PointWeights(problem.cells).weights((0.83, 0.91, 0.99))
    x, y, z = problem.cells.centre[cells].T
    assert weight @ (x**3 * y**2 * z**3 - y) == pytest.approx(0.83**3 * 0.91**2 * 0.99**3 - 0.91, rel=1e-12)


def test_every_equation_is_cited_where_it_is_computed() -> None:
    page = (ROOT / "docs" / "theory.md").read_text(encoding="utf-8")
    numbers = [int(n) for n in re.findall(r"^    .*\((\d+)\)$", page, re.MULTILINE)]
    assert numbers == list(range(1, len(numbers) + 1)) and len(numbers) > 20
    cited: set[int] = set()
    for path in (ROOT / "fdtd").rglob("*.py"):
        for found in re.findall(r"theory\.md, eq\. ((?:\d+(?:, |\s+and )?)+)", path.read_text(encoding="utf-8")):
            cited.update(int(n) for n in re.findall(r"\d+", found))
    assert cited == set(numbers)


def test_the_files_that_the_page_names_exist() -> None:
    page = (ROOT / "docs" / "theory.md").read_text(encoding="utf-8")
    named = re.findall(r"`([a-z]+/[a-z_]+\.py)`", page)
    assert len(named) > 20
    assert [name for name in named if not any((ROOT / part / name).is_file() for part in ("fdtd", "."))] == []
