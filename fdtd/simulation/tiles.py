"""How arrays lie in memory: tiles of neighbouring cells that are advanced together while they are in the cache, and
beginnings at a cache line."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.model.problem import Problem

TILE_BYTES = 320 * 1024
"""Two pressures of a tile: with its walls and tables they fit in a core's own cache."""

WALL_COST, LINK_COST = 2.0, 2.0
"""What an element of wall and an end of an impedance link add to the time that a cell takes, in cells: from timings of
the parts of a step, rounded."""


def tile_count(cells: int, excitations: int, item: int, threads: int) -> int:
    """How many tiles a simulation of `excitations` excitations of `item` bytes a number is cut into; a multiple of
    `threads`."""
    each = -(-cells * excitations * 2 * item // (TILE_BYTES * threads))
    return int(max(1, each)) * threads


def tile_bounds(problem: Problem, tiles: int) -> NDArray[np.int64]:
    """(tile + 1,) bounds in cells: equal shares of the work, as nearly as whole rows of cells allow."""
    index, count = problem.cells.index, len(problem.cells.volume)
    rows = np.flatnonzero(np.concatenate([[True], (index[1:, 1:] != index[:-1, 1:]).any(axis=1)]))
    cost = np.ones(count)
    for cells, each in ((problem.elements.cell, WALL_COST), (problem.impedance_links.cells, LINK_COST)):
        cost += each * np.bincount(cells.ravel().astype(np.int64), minlength=count)
    done = np.concatenate([[0.0], np.cumsum(cost)])
    wanted = done[-1] * np.arange(1, tiles) / tiles
    after = np.clip(np.searchsorted(done[rows], wanted), 0, len(rows) - 1)
    return np.concatenate([[0], rows[after], [count]]).astype(np.int64)


CACHE_LINE = 64
"""Bytes."""


def aligned_zeros(shape: tuple[int, ...], real: type) -> NDArray[np.floating]:
    """Zeros of type `real`, the first at a multiple of `CACHE_LINE`."""
    count, item = int(np.prod(shape)), np.dtype(real).itemsize
    room: NDArray[np.floating] = np.zeros(count + CACHE_LINE // item, real)
    skip = (-room.ctypes.data % CACHE_LINE) // item
    return room[skip : skip + count].reshape(shape)
