"""From the sparse operator to rows that the kernel walks: runs of like cells, single cells, and the rest."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.tables import AirTables
from fdtd.march.air_rows import Profiles, Rows, like_rows, rows_of
from fdtd.march.aligned import aligned_zeros
from fdtd.march.chunks import chunk_bounds
from fdtd.model.problem import Problem

LONG_ROW = 16
"""Numbers (cells times lanes); shorter rows are better joined to the next ones."""
BLOCK = 16_384
"""Cells whose rows are looked at together, at least: about 2 kB each while it lasts."""


def air_tables(problem: Problem, lanes: int, chunks: int, real: type) -> AirTables:
    """Rows of p+ = 2 p - p- - c² dt² V⁻¹ K p, in `chunks` chunks."""
    bounds = chunk_bounds(problem, chunks)
    profiles = Profiles()
    rows = _joined(problem, _cuts(problem, bounds, lanes), profiles)
    along = profiles.along()
    aligned = aligned_zeros((5, along.shape[1] * lanes), real)
    aligned[:] = np.repeat(along, lanes, axis=1)
    return AirTables(
        run_start=rows.run_start,
        run_length=rows.run_length,
        run_offset=rows.run_offset,
        run_weight=rows.run_weight.astype(real),
        run_profile=rows.run_profile * lanes,
        along=aligned,
        single_cell=rows.single_cell,
        single_offset=rows.single_offset,
        single_row=rows.single_row,
        weight_table=rows.weight_table.astype(real),
        rest_cell=rows.rest_cell,
        rest_pointer=np.concatenate([[0], np.cumsum(rows.rest_count)]),
        rest_column=rows.rest_column,
        rest_value=rows.rest_value.astype(real),
        rest_centre=rows.rest_centre.astype(real),
        run_chunk=np.searchsorted(rows.run_start, bounds),
        single_chunk=np.searchsorted(rows.single_cell, bounds),
        rest_chunk=np.searchsorted(rows.rest_cell, bounds),
        cell_chunk=bounds,
        run_mate=run_mates(
            rows.run_start, rows.run_length, rows.run_profile, rows.run_offset, rows.run_weight, bounds
        ),
    )  # fmt: skip


def _joined(problem: Problem, cuts: NDArray[np.int64], profiles: Profiles) -> Rows:
    """The rows of all cells, a block at a time to save memory; blocks end at cuts, so that no run is torn."""
    count = len(problem.cells.volume)
    wanted = np.searchsorted(cuts, np.arange(BLOCK, count, BLOCK))
    ends = np.unique(np.concatenate([[0], cuts[wanted], [count]]))
    parts = [rows_of(problem, int(a), int(b), cuts, profiles) for a, b in zip(ends[:-1], ends[1:], strict=True)]
    table, kind = like_rows(np.concatenate([part.weight_table for part in parts]))
    begins = np.cumsum([0, *(len(part.weight_table) for part in parts)])
    single = [kind[part.single_row + begin] for part, begin in zip(parts, begins, strict=False)]
    joined = Rows(*(np.concatenate(column) for column in zip(*parts, strict=True)))
    return joined._replace(single_row=np.concatenate(single), weight_table=table)


def _cuts(problem: Problem, bounds: NDArray, lanes: int) -> NDArray[np.int64]:
    """Cells at which runs end whatever follows, 0 and the number of cells among them: bounds of chunks, and ends of
    long rows, so that rows find mates."""
    index, count = problem.cells.index, len(problem.cells.volume)
    rows = np.flatnonzero(np.concatenate([[True], (index[1:, 1:] != index[:-1, 1:]).any(axis=1)]))
    long = np.diff(np.append(rows, count)) * lanes >= LONG_ROW
    # The kernel reads two cells beyond either end of a run: the very first and last cells stay single.
    ends = np.clip([1, 2, count - 2, count - 1], 0, count)
    return np.unique(np.concatenate([bounds, rows[long], rows[np.concatenate([[False], long[:-1]])], ends]))


def run_mates(
    start: NDArray, length: NDArray, profile: NDArray, offset: NDArray, weight: NDArray, bounds: NDArray
) -> NDArray[np.int64]:
    """For each run the one beside it, in the same chunk, or -1; a run has at most one mate, and mates name each other.

    Mates have the same weights along them and share their four middle neighbours across (see `stencil_pair`).
    """
    beside = np.searchsorted(start, start + offset[:, 4])
    beside[beside == len(start)] = 0
    step = start[beside] - start
    chunk = np.searchsorted(bounds, start, side="right")
    theirs, their_weight = offset[beside], weight[beside]
    fits = (step > 0) & (step == offset[:, 4]) & (length[beside] == length) & (profile[beside] == profile)
    fits &= chunk[beside] == chunk
    # Where a neighbour is missing, its weight is zero, and any value may stand there.
    fits &= (theirs[:, 3] == -step) | (their_weight[:, 3] == 0.0)
    fits &= (theirs[:, 2] + step == offset[:, 3]) | (their_weight[:, 2] == 0.0)
    fits &= (offset[:, 5] - step == theirs[:, 4]) | (weight[:, 5] == 0.0)
    mate = np.full(len(start), -1, dtype=np.int64)
    for run in np.flatnonzero(fits):
        if mate[run] < 0 and mate[beside[run]] < 0:
            mate[run], mate[beside[run]] = beside[run], run
    return mate
