"""One block of rows of the sparse operator as runs of like cells, single cells, and the rest."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, diags_array

from fdtd.kernels.tables import ACROSS, SLOTS
from fdtd.model.problem import Problem

SHORTEST_RUN = 4
"""Cells, at least half a vector; shorter runs are cheaper as single cells."""
APART = 16
"""Numbers between the starts of rows of weights, a multiple of which fills cache lines."""
DIGITS = 12
"""Digits after the point to which weights are rounded to see which rows are alike."""
SAME_WEIGHT = 1e-13
"""Weights (of order 1) closer than this are the same but for rounding."""


class Rows(NamedTuple):
    """Some cells' rows, or all, in double precision; most fields as in `AirTables`.

    run_start, run_length, run_profile (run,), run_offset (run, 8), run_weight (run, 9) : of each run what a bundle has
    there, the profile for one excitation
    single_row : into weight_table (row, 13), whose rows are sorted; rest_count : neighbours of each cell of the rest.
    """

    run_start: NDArray[np.int64]
    run_length: NDArray[np.int64]
    run_offset: NDArray[np.int64]
    run_weight: NDArray[np.float64]
    run_profile: NDArray[np.int64]
    single_cell: NDArray[np.int64]
    single_offset: NDArray[np.int64]
    single_row: NDArray[np.int64]
    weight_table: NDArray[np.float64]
    rest_cell: NDArray[np.int64]
    rest_count: NDArray[np.int64]
    rest_column: NDArray[np.int64]
    rest_value: NDArray[np.float64]
    rest_centre: NDArray[np.float64]


class Profiles:
    """The different sequences of weights along a row that runs have, each kept once."""

    def __init__(self) -> None:
        self.known: dict[bytes, int] = {}
        self.parts: list[NDArray[np.float64]] = [np.zeros((5, 0))]
        self.total = 0

    def places(self, weights: NDArray, start: NDArray, length: NDArray) -> NDArray[np.int64]:
        """Where each run's weights along the row begin in `along`; weights : (5, cell)."""
        begin = np.zeros(len(start), dtype=np.int64)
        rounded = weights.round(DIGITS)
        for k, (first, count) in enumerate(zip(start, length, strict=True)):
            key = rounded[:, first : first + count].tobytes()
            if key not in self.known:
                self.known[key] = self.total
                self.parts.append(np.pad(weights[:, first : first + count], ((0, 0), (0, -count % APART))))
                self.total += self.parts[-1].shape[1]
            begin[k] = self.known[key]
        return begin

    def along(self) -> NDArray[np.float64]:
        """(5, ...) all weights, in the order of `AirTables.along`."""
        return np.concatenate(self.parts, axis=1)


def rows_of(problem: Problem, first: int, last: int, cuts: NDArray[np.int64], profiles: Profiles) -> Rows:
    """Rows of the cells from `first` to before `last`; a run ends at both and at `cuts` (ascending)."""
    factor = (problem.speed_of_sound * problem.time_step) ** 2
    scale = diags_array(factor / problem.operator.volume[first:last])
    update = csr_array(scale @ problem.operator.stiffness[first:last])
    centre = 2.0 - update.diagonal(first)
    row, column, value = _entries(update, first)
    step = column - (row + first)
    near = np.abs(step) <= 2
    far = ~near
    slot = _slots_across(problem.cells.index, row[far], column[far], first)
    offset, across, wide = _filled(last - first, row[far], step[far], value[far], slot, ACROSS)
    along = _along(centre, row[near], step[near], value[near])
    weight = np.column_stack([across, centre - along[0]])
    inside = cuts[np.searchsorted(cuts, first, side="right") : np.searchsorted(cuts, last)] - first
    start, length = _runs(offset, weight, wide, inside)
    long = length >= SHORTEST_RUN
    in_run = np.repeat(long, length)
    start, length = start[long], length[long]
    crowded = np.diff(update.indptr) - 1 > SLOTS
    single, rest = np.flatnonzero(~in_run & ~crowded), np.flatnonzero(~in_run & crowded)
    single_offset, single_weight = _single_rows(row, step, value, single)
    table, kind = like_rows(np.column_stack([centre[single], single_weight]).round(13))
    rest_count, rest_column, rest_value = _rest_rows(update, rest, first)
    return Rows(
        run_start=start + first,
        run_length=length,
        run_offset=offset[start],
        run_weight=weight[start],
        run_profile=profiles.places(along, start, length),
        single_cell=single + first,
        single_offset=single_offset,
        single_row=kind,
        weight_table=table,
        rest_cell=rest + first,
        rest_count=rest_count,
        rest_column=rest_column,
        rest_value=rest_value,
        rest_centre=centre[rest],
    )


def like_rows(table: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The different rows of a table, sorted, and which of them each row is."""
    different, kind = np.unique(table, axis=0, return_inverse=True)
    return different, kind.ravel().astype(np.int64)


def _entries(update: csr_array, first: int) -> tuple[NDArray, NDArray, NDArray]:
    """(row in the block, column, weight of p[column] in the update) of all neighbours, by row, then column."""
    row = np.repeat(np.arange(update.shape[0]), np.diff(update.indptr))
    apart = update.indices != row + first
    row, column, value = row[apart], update.indices[apart].astype(np.int64), -update.data[apart]
    order = np.lexsort((column, row))
    return row[order], column[order], value[order]


def _packed(row: NDArray) -> NDArray[np.int64]:
    """Place of each entry within its row; row : ascending."""
    starts = np.flatnonzero(np.concatenate([[True], row[1:] != row[:-1]])) if len(row) else np.zeros(0, np.int64)
    return np.arange(len(row)) - np.repeat(starts, np.diff(np.append(starts, len(row))))


def _slots_across(index: NDArray, row: NDArray, column: NDArray, first: int) -> NDArray[np.int64]:
    """Slot of each neighbour across the row: 0, 1, 6, 7 along z, 2 to 5 along y; in cells where that fails, in turn."""
    step = index[column] - index[row + first]
    slot = np.full(len(row), -1, dtype=np.int64)
    for axis, slots in ((1, (2, 3, 4, 5)), (2, (0, 1, 6, 7))):
        for distance, own in zip((-2, -1, 1, 2), slots, strict=True):
            slot[(step[:, axis] == distance) & (step[:, 3 - axis] == 0)] = own
    _, which, often = np.unique(row * (ACROSS + 1) + slot, return_inverse=True, return_counts=True)
    odd = np.isin(row, row[(slot < 0) | (often[which.ravel()] > 1)])
    return np.where(odd, _packed(row), slot)


def _filled(
    count: int, row: NDArray, step: NDArray, value: NDArray, slot: NDArray, slots: int
) -> tuple[NDArray, NDArray, NDArray]:
    """Neighbour offsets and weights of every row, (row, slots); rows with more neighbours are marked."""
    offset, weight, wide = np.zeros((count, slots), dtype=np.int64), np.zeros((count, slots)), np.zeros(count, bool)
    fits = slot < slots
    offset[row[fits], slot[fits]] = step[fits]
    weight[row[fits], slot[fits]] = value[fits]
    wide[row[~fits]] = True
    return offset, weight, wide


def _single_rows(row: NDArray, step: NDArray, value: NDArray, single: NDArray) -> tuple[NDArray, NDArray]:
    """Offsets and weights (single, 12) of the neighbours of single cells."""
    mine = np.isin(row, single)
    own = np.searchsorted(single, row[mine])
    return _filled(len(single), own, step[mine], value[mine], _packed(own), SLOTS)[:2]


def _runs(offset: NDArray, weight: NDArray, wide: NDArray, cuts: NDArray) -> tuple[NDArray, NDArray]:
    """Start and length of stretches of cells with the same neighbours and weights across the row, cut at `cuts`."""
    close = np.abs(weight[1:] - weight[:-1]).max(axis=1) <= SAME_WEIGHT
    same = close & (offset[1:] == offset[:-1]).all(axis=1) & ~wide[1:] & ~wide[:-1]
    same[cuts - 1] = False
    start = np.flatnonzero(np.concatenate([[True], ~same]))
    return start, np.diff(np.append(start, len(weight)))


def _along(centre: NDArray, row: NDArray, step: NDArray, value: NDArray) -> NDArray[np.float64]:
    """Every cell's weights along its row (5, cell), as in `AirTables.along`; the first is what the others leave of 2"""
    weights = np.zeros((5, len(centre)))
    for k, own in enumerate((-1, 1, -2, 2)):
        mine = step == own
        weights[k + 1, row[mine]] = value[mine]
    weights[0] = 2.0 - weights[1:].sum(axis=0)
    return weights


def _rest_rows(update: csr_array, cells: NDArray, first: int) -> tuple[NDArray, NDArray, NDArray]:
    """Number of neighbours of each of the `cells`, then all their numbers and weights."""
    count, column, value = [], [np.zeros(0, np.int64)], [np.zeros(0)]
    for cell in cells:
        span = slice(update.indptr[cell], update.indptr[cell + 1])
        keep = update.indices[span] != cell + first
        column.append(update.indices[span][keep].astype(np.int64))
        value.append(-update.data[span][keep])
        count.append(int(keep.sum()))
    return np.array(count, dtype=np.int64), np.concatenate(column), np.concatenate(value)
