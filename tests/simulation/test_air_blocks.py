"""Tables of the air made a block of cells at a time: the same whatever the blocks, in little memory.

Set-up: random rooms (tests/random_rooms.py), 0.2 m; rows count as crowded from 9 neighbours, so that every kind of row
occurs.
"""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from random_rooms import random_room
from rooms import make_scene, problem_of

from fdtd.model.problem import Problem
from fdtd.simulation import air_rows, air_tables


def difference(problem: Problem, excitations: int, tiles: int, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the tables that depend on the size of the blocks."""
    monkeypatch.setattr(air_rows, "SLOTS", 9)
    made = []
    for block in (10**9, 700, 50):
        monkeypatch.setattr(air_tables, "BLOCK", block)
        made.append(air_tables.air_tables(problem, excitations, tiles, np.float64))
    assert len(made[0].rest_cell) and len(made[0].single_cell) and len(made[0].run_start)
    return [
        name
        for name in made[0]._fields
        for other in made[1:]
        if not np.array_equal(getattr(other, name), getattr(made[0], name))
    ]


@pytest.mark.parametrize("seed", [2, 26])
@pytest.mark.parametrize("excitations, tiles", [(1, 1), (1, 5), (8, 1), (8, 7)])
def test_the_size_of_the_blocks_changes_nothing(
    seed: int, excitations: int, tiles: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert difference(problem_of(random_room(seed), 0.2), excitations, tiles, monkeypatch) == []


def test_less_memory_than_the_room_itself_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bytes a cell at the height of making the tables; all at once they took 1500."""
    problem = problem_of(make_scene(((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0)), 4.0), 0.1)
    cells = len(problem.cells.volume)
    monkeypatch.setattr(air_tables, "BLOCK", 2000)
    tracemalloc.start()
    try:
        air_tables.air_tables(problem, 1, 1, np.float32)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert cells > 90_000 and peak < 150 * cells
