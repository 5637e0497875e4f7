"""From the sparse operator to rows that the kernel walks: runs of like cells, single cells, and the rest."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, diags_array

from fdtd.kernels.tables import ACROSS, SLOTS, AirTables
from fdtd.model.problem import Problem

SHORTEST_RUN = 4
"""Cells; shorter runs are cheaper as single cells."""
SAME_WEIGHT = 1e-13
"""Weights (of order 1) closer than this are the same but for rounding."""


def air_tables(problem: Problem, lanes: int, chunks: int, real: type) -> AirTables:
    """Rows of p+ = 2 p - p- - c² dt² V⁻¹ K p, shared out among `chunks` threads."""
    scale = (problem.speed_of_sound * problem.time_step) ** 2 / problem.operator.volume
    update = csr_array(diags_array(scale) @ problem.operator.stiffness)
    row, column, value = _entries(update)
    near = np.abs(column - row) <= 2
    offset, weight, wide = _slots(update.shape[0], row[~near], column[~near], value[~near], ACROSS)
    start, length = _runs(offset, weight, wide)
    long = length >= SHORTEST_RUN
    in_run = np.repeat(long, length)
    start, length = start[long], length[long]
    profile, along = _profiles(update, row[near], column[near], value[near], start, length)
    all_offset, all_weight, rest = _slots(update.shape[0], row, column, value, SLOTS)
    single, rest_cell = np.flatnonzero(~in_run & ~rest), np.flatnonzero(~in_run & rest)
    centre = 2.0 - update.diagonal()
    table, kind = np.unique(np.column_stack([centre, all_weight])[single].round(13), axis=0, return_inverse=True)
    pointer, rest_column, rest_value = _rest_rows(update, rest_cell)
    whole = np.cumsum(length)
    cuts = np.searchsorted(whole, np.linspace(0, whole[-1] if len(whole) else 0, chunks + 1)[1:-1], side="left")
    return AirTables(
        run_start=start,
        run_length=length,
        run_offset=offset[start],
        run_weight=weight[start].astype(real),
        run_profile=profile * lanes,
        along=np.repeat(along, lanes, axis=1).astype(real),
        single_cell=single,
        single_offset=all_offset[single],
        single_row=kind.ravel().astype(np.int64),
        weight_table=table.astype(real),
        rest_cell=rest_cell,
        rest_pointer=pointer,
        rest_column=rest_column,
        rest_value=rest_value.astype(real),
        rest_centre=centre[rest_cell].astype(real),
        run_chunk=np.concatenate([[0], cuts, [len(start)]]).astype(np.int64),
        single_chunk=np.linspace(0, len(single), chunks + 1).astype(np.int64),
    )


def _entries(update: csr_array) -> tuple[NDArray, NDArray, NDArray]:
    """(row, column, weight of p[column] in the update) of all neighbours, by row, then column."""
    row = np.repeat(np.arange(update.shape[0]), np.diff(update.indptr))
    apart = update.indices != row
    row, column, value = row[apart], update.indices[apart].astype(np.int64), -update.data[apart]
    order = np.lexsort((column, row))
    return row[order], column[order], value[order]


def _slots(count: int, row: NDArray, column: NDArray, value: NDArray, slots: int) -> tuple[NDArray, NDArray, NDArray]:
    """Neighbour offsets and weights of every row, (row, slots); rows with more neighbours are marked."""
    number = np.bincount(row, minlength=count)
    first = np.concatenate([[0], np.cumsum(number)[:-1]])
    slot = np.arange(len(row)) - first[row]
    offset, weight = np.zeros((count, slots), dtype=np.int64), np.zeros((count, slots))
    fits = slot < slots
    offset[row[fits], slot[fits]] = column[fits] - row[fits]
    weight[row[fits], slot[fits]] = value[fits]
    return offset, weight, number > slots


def _runs(offset: NDArray, weight: NDArray, wide: NDArray) -> tuple[NDArray, NDArray]:
    """Start and length of stretches of cells with the same neighbours and weights across the row."""
    close = np.abs(weight[1:] - weight[:-1]).max(axis=1) <= SAME_WEIGHT
    same = close & (offset[1:] == offset[:-1]).all(axis=1) & ~wide[1:] & ~wide[:-1]
    count = len(weight)
    # The kernel reads two cells beyond either end of a run: the very first and last cells stay single.
    same[: min(2, count - 1)] = False
    same[max(count - 3, 0) :] = False
    start = np.flatnonzero(np.concatenate([[True], ~same]))
    return start, np.diff(np.append(start, count))


def _profiles(
    update: csr_array, row: NDArray, column: NDArray, value: NDArray, start: NDArray, length: NDArray
) -> tuple[NDArray, NDArray]:
    """Where each run's weights along the row begin, and those weights (5, ...), in the order of `AirTables.along`."""
    weights = np.zeros((5, update.shape[0]))
    weights[0] = 2.0 - update.diagonal()
    for k, step in enumerate((-1, 1, -2, 2)):
        mine = column - row == step
        weights[k + 1, row[mine]] = value[mine]
    known: dict[bytes, int] = {}
    begin, parts, total = np.zeros(len(start), dtype=np.int64), [np.zeros((5, 0))], 0
    rounded = weights.round(12)
    for k, (first, count) in enumerate(zip(start, length, strict=True)):
        key = rounded[:, first : first + count].tobytes()
        if key not in known:
            known[key] = total
            parts.append(weights[:, first : first + count])
            total += count
        begin[k] = known[key]
    return begin, np.concatenate(parts, axis=1)


def _rest_rows(update: csr_array, cells: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    pointer, column, value = [0], [], []
    for cell in cells:
        span = slice(update.indptr[cell], update.indptr[cell + 1])
        keep = update.indices[span] != cell
        column.extend(update.indices[span][keep])
        value.extend(-update.data[span][keep])
        pointer.append(len(column))
    return np.array(pointer, dtype=np.int64), np.array(column, dtype=np.int64), np.array(value, dtype=float)
