"""From the sparse operator to rows that the kernel walks: runs of like cells, single cells, and the rest."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, diags_array

from fdtd.kernels.tables import SLOTS, AirTables
from fdtd.model.problem import Problem

SHORTEST_RUN = 6
"""Cells; shorter runs are cheaper as single cells."""


def air_tables(problem: Problem, chunks: int, real: type) -> AirTables:
    """Rows of p+ = 2 p - p- - c² dt² V⁻¹ K p, shared out among `chunks` threads."""
    scale = (problem.speed_of_sound * problem.time_step) ** 2 / problem.operator.volume
    update = csr_array(diags_array(scale) @ problem.operator.stiffness)
    offset, weight, rest = _slots(update)
    # Rounded so that rows equal but for rounding count as one.
    kind = np.unique(np.round(weight, 13), axis=0, return_inverse=True)
    table, row = kind[0], kind[1].ravel()
    same = (row[1:] == row[:-1]) & (offset[1:] == offset[:-1]).all(axis=1) & ~rest[1:] & ~rest[:-1]
    start = np.flatnonzero(np.concatenate([[True], ~same]))
    length = np.diff(np.append(start, len(row)))
    long = (length >= SHORTEST_RUN) & ~rest[start]
    in_run = np.repeat(long, length)
    single = np.flatnonzero(~in_run & ~rest)
    run_start, run_length = start[long], length[long]
    rest_cell = np.flatnonzero(rest)
    pointer, column, value = _rest_rows(update, rest_cell)
    whole = np.cumsum(run_length)
    cuts = np.searchsorted(whole, np.linspace(0, whole[-1] if len(whole) else 0, chunks + 1)[1:-1], side="left")
    run_chunk = np.concatenate([[0], cuts, [len(run_start)]])
    single_chunk = np.linspace(0, len(single), chunks + 1).astype(np.int64)
    return AirTables(
        run_start.astype(np.int64),
        run_length.astype(np.int64),
        offset[run_start],
        table[row[run_start]].astype(real),
        single.astype(np.int64),
        offset[single],
        row[single].astype(np.int64),
        table.astype(real),
        rest_cell.astype(np.int64),
        pointer,
        column,
        value.astype(real),
        (2.0 - update.diagonal()[rest_cell]).astype(real),
        run_chunk.astype(np.int64),
        single_chunk,
    )


def _slots(update: csr_array) -> tuple[NDArray, NDArray, NDArray]:
    """(row, 12) neighbour offsets and (row, 13) weights of every row; rows with more neighbours are marked."""
    count = update.shape[0]
    row = np.repeat(np.arange(count), np.diff(update.indptr))
    apart = update.indices != row
    row, column, value = row[apart], update.indices[apart], update.data[apart]
    order = np.lexsort((column, row))
    row, column, value = row[order], column[order], value[order]
    number = np.bincount(row, minlength=count)
    first = np.concatenate([[0], np.cumsum(number)[:-1]])
    slot = np.arange(len(row)) - first[row]
    offset = np.zeros((count, SLOTS), dtype=np.int64)
    weight = np.zeros((count, SLOTS + 1))
    fits = slot < SLOTS
    offset[row[fits], slot[fits]] = column[fits] - row[fits]
    weight[row[fits], slot[fits] + 1] = -value[fits]
    weight[:, 0] = 2.0 - update.diagonal()
    return offset, weight, number > SLOTS


def _rest_rows(update: csr_array, cells: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    pointer, column, value = [0], [], []
    for cell in cells:
        span = slice(update.indptr[cell], update.indptr[cell + 1])
        keep = update.indices[span] != cell
        column.extend(update.indices[span][keep])
        value.extend(-update.data[span][keep])
        pointer.append(len(column))
    return np.array(pointer, dtype=np.int64), np.array(column, dtype=np.int64), np.array(value, dtype=float)
