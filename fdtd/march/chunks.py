"""Chunks: stretches of neighbouring cells that are advanced together while they are in the cache."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.model.problem import Problem

CHUNK_BYTES = 256 * 1024
"""Two pressures of a chunk: with its walls and tables they fit in a core's own cache."""


def chunk_count(cells: int, lanes: int, item: int, threads: int) -> int:
    """How many chunks a march of `lanes` lanes of `item` bytes a number is cut into; a multiple of `threads`."""
    each = -(-cells * lanes * 2 * item // (CHUNK_BYTES * threads))
    return int(max(1, each)) * threads


def chunk_bounds(problem: Problem, chunks: int) -> NDArray[np.int64]:
    """(chunk + 1,) bounds in cells: equal shares, as nearly as whole rows of cells allow."""
    index, count = problem.cells.index, len(problem.cells.volume)
    rows = np.flatnonzero(np.concatenate([[True], (index[1:, 1:] != index[:-1, 1:]).any(axis=1)]))
    wanted = np.linspace(0, count, chunks + 1)[1:-1]
    after = np.clip(np.searchsorted(rows, wanted), 0, len(rows) - 1)
    return np.concatenate([[0], np.minimum(rows[after], count), [count]]).astype(np.int64)
