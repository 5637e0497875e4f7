"""K made in blocks of rows: the same whatever the blocks, and equal to the quadratic form written out link by link."""

from __future__ import annotations

import numpy as np
import pytest
from random_rooms import random_room
from rooms import box_plan, make_scene

from fdtd.model import operator
from fdtd.model.problem import Problem, build_problem
from fdtd.model.spectral import largest_eigenvalue


def problem_of(seed: int) -> Problem:
    scene = random_room(seed)
    return build_problem(scene, scene.variants[0], 0.35)


@pytest.mark.parametrize("seed", range(6))
def test_the_size_of_the_blocks_changes_nothing(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = problem_of(seed)
    monkeypatch.setattr(operator, "BLOCK", 37)
    monkeypatch.setattr(operator, "USUAL_ENTRIES", 3)  # room that has to be enlarged on the way
    parts = problem_of(seed)
    apart = abs(whole.operator.stiffness - parts.operator.stiffness)
    assert apart.max() <= 1e-14 * abs(whole.operator.stiffness).max()
    assert parts.operator.fourth_order == whole.operator.fourth_order
    np.testing.assert_allclose(parts.operator.volume, whole.operator.volume, rtol=1e-12)


def test_k_is_the_quadratic_form_of_its_links_and_triples() -> None:
    # A box of equal cells: along each axis fourth differences inside, the mirrored cell at the walls.
    rng = np.random.default_rng(4)
    shape, h = (5, 4, 6), 0.35
    scene = make_scene(box_plan(shape[0] * h, shape[1] * h), shape[2] * h)
    problem = build_problem(scene, scene.variants[0], h)
    p = rng.standard_normal(len(problem.cells.volume))
    field = np.zeros(shape)
    field[tuple(problem.cells.index.T)] = p
    expected = 0.0
    for axis in range(3):
        step = np.diff(field, axis=axis)
        mirrored = np.pad(field, [(1, 1) if a == axis else (0, 0) for a in range(3)], mode="edge")
        expected += h * (step**2).sum() + h / 12.0 * (np.diff(mirrored, 2, axis=axis) ** 2).sum()
    assert p @ (problem.operator.stiffness @ p) == pytest.approx(expected, rel=1e-12)


def test_row_sums_are_those_of_the_absolute_values() -> None:
    matrix = problem_of(2).operator.stiffness
    np.testing.assert_allclose(operator.row_sums(matrix), abs(matrix).sum(axis=1), rtol=1e-14)


def test_what_is_released_is_gone_and_places_and_volumes_stay() -> None:
    problem = problem_of(1)
    volume = problem.operator.volume.copy()
    problem.release()
    problem.release()
    np.testing.assert_array_equal(problem.operator.volume, volume)
    assert len(problem.cells.index) == len(volume) and len(problem.elements.area) > 0
    with pytest.raises(AttributeError):
        problem.operator.stiffness.sum()
    with pytest.raises(AttributeError):
        problem.cells.links.area.sum()


@pytest.mark.parametrize("seed", range(4))
def test_the_lean_search_for_the_spectral_radius_agrees(seed: int) -> None:
    problem = problem_of(seed)
    root = 1.0 / np.sqrt(problem.operator.volume)
    matrix = root[:, None] * problem.operator.stiffness.toarray() * root
    exact = np.linalg.eigvalsh(matrix)[-1]
    start = np.random.default_rng(seed).standard_normal(len(root))
    found = largest_eigenvalue(lambda x: matrix @ x, start, 5e-3)
    assert found is not None and exact * (1.0 - 5e-3) <= found <= exact * (1.0 + 1e-9)
