"""The cells in elements and patterns, as a GPU walks them (see `fdtd.kernels.gpu_tables.Air`)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, diags_array

from fdtd.kernels.gpu_tables import ACROSS, LONGEST_ELEMENT, PAD, PIECE_WORDS
from fdtd.model.problem import Problem
from fdtd.simulation.air_rows import DIGITS, SAME_WEIGHT


class Elements(NamedTuple):
    """start, length (element,) in cells from 0, in the order of the simulation; pattern, profile (element,); offset,
    weight (pattern, 8); along (5, position); rank : (cell,) place of each cell in the simulation, -1 if in
    none."""

    start: NDArray[np.int64]
    length: NDArray[np.int64]
    pattern: NDArray[np.int64]
    profile: NDArray[np.int64]
    offset: NDArray[np.int64]
    weight: NDArray[np.float64]
    along: NDArray[np.float64]
    rank: NDArray[np.int64]


def update_matrix(problem: Problem) -> csr_array:
    """c² dt² V⁻¹ K: the update is p+ = 2 p - p- - matrix p."""
    scale = (problem.speed_of_sound * problem.time_step) ** 2 / problem.operator.volume
    update = csr_array(diags_array(scale) @ problem.operator.stiffness)
    update.sort_indices()
    return update


def crowded(update: csr_array) -> NDArray[np.int64]:
    """Cells with more neighbours across the row than a pattern holds."""
    row = np.repeat(np.arange(update.shape[0]), np.diff(update.indptr))
    across = np.bincount(row[np.abs(update.indices - row) > 2], minlength=update.shape[0])
    return np.flatnonzero(across > ACROSS)


def elements_of(
    problem: Problem, update: csr_array, left_out: NDArray[np.int64], longest: int = LONGEST_ELEMENT
) -> Elements:
    """All cells but those `left_out`, in elements of at most `longest` cells, near ones near in the order.

    Cells with more neighbours than a pattern holds must be among those left out (`crowded`).
    """
    count = update.shape[0]
    row = np.repeat(np.arange(count), np.diff(update.indptr))
    step, value = update.indices.astype(np.int64) - row, -update.data
    weights = np.zeros((5, count))
    weights[0] = 2.0
    for k, way in enumerate((0, -1, 1, -2, 2)):
        mine = step == way
        weights[k, row[mine]] += value[mine]
    across = np.abs(step) > 2
    row, step, value = row[across], step[across], value[across]
    slot = np.arange(len(row)) - np.searchsorted(row, row)
    offset, weight = np.zeros((count, ACROSS), dtype=np.int64), np.zeros((count, ACROSS))
    fits = slot < ACROSS
    offset[row[fits], slot[fits]], weight[row[fits], slot[fits]] = step[fits], value[fits]
    start, length = _stretches(offset, weight, left_out, longest)
    order = near_order(problem.cells.index[start])
    start, length = start[order], length[order]
    key = np.column_stack([offset[start], weight[start].round(DIGITS)])
    _, first, pattern = np.unique(key, axis=0, return_index=True, return_inverse=True)
    profile, along = _profiles(weights, start, length)
    rank = np.full(count, -1, dtype=np.int64)
    ends = np.cumsum(length)
    rank[np.repeat(start - ends + length, length) + np.arange(ends[-1])] = np.arange(ends[-1])
    used = start[first]
    return Elements(start, length, pattern.ravel(), profile, offset[used], weight[used], along, rank)


def _stretches(
    offset: NDArray, weight: NDArray, left_out: NDArray, longest: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Start and length of stretches of cells with the same neighbours and weights across the row, cut evenly."""
    count = len(weight)
    same = (np.abs(weight[1:] - weight[:-1]).max(axis=1) <= SAME_WEIGHT) & (offset[1:] == offset[:-1]).all(axis=1)
    out = np.zeros(count, dtype=bool)
    out[left_out] = True
    same &= ~out[1:] & ~out[:-1]
    start = np.flatnonzero(np.concatenate([[True], ~same]))
    length = np.diff(np.append(start, count))
    start, length = start[~out[start]], length[~out[start]]
    parts = -(-length // longest)
    which = np.arange(parts.sum()) - np.repeat(np.cumsum(parts) - parts, parts)
    start, length, parts = (np.repeat(x, parts) for x in (start, length, parts))
    first, last = which * length // parts, (which + 1) * length // parts
    return start + first, last - first


def near_order(index: NDArray[np.integer]) -> NDArray[np.int64]:
    """An order of elements by rows, those near each other soon after one another: the bits of y and z in turn (Morton).

    index : (element, 3) of each first cell. Bundles of rows, simulated element by element across all of them, were
    slower.
    """
    code = np.zeros(len(index), dtype=np.int64)
    for bit in range(20):
        for axis in (1, 2):
            code |= ((index[:, axis].astype(np.int64) >> bit) & 1) << (2 * bit + axis - 1)
    return np.lexsort([index[:, 0], code])


def _profiles(weights: NDArray, start: NDArray, length: NDArray) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Where each element's weights along the row begin, and those weights (5, ...)."""
    known: dict[bytes, int] = {}
    begin, parts, total = np.zeros(len(start), dtype=np.int64), [], 0
    rounded = weights.round(DIGITS)
    for k, (first, count) in enumerate(zip(start.tolist(), length.tolist(), strict=True)):
        key = rounded[:, first : first + count].tobytes()
        if key not in known:
            known[key] = total
            parts.append(weights[:, first : first + count])
            total += count
        begin[k] = known[key]
    return begin, np.concatenate(parts, axis=1)


def piece_words(elements: Elements, wall_cells: NDArray) -> NDArray[np.int32]:
    """(element * 7,) the integers of each element; wall_cells : cells with a simple wall, in the order of the
    simulation."""
    text = np.zeros((len(elements.start), PIECE_WORDS), dtype=np.int64)
    text[:, 0], text[:, 1] = elements.start + PAD, elements.length
    text[:, 2], text[:, 3] = elements.pattern, elements.profile
    ends = np.cumsum(elements.length)
    rank = elements.rank[wall_cells]
    element = np.searchsorted(ends, rank, side="right")
    place = rank - (ends - elements.length)[element]
    for column in (0, 1):
        mine = place // 32 == column
        bit = np.int64(1) << (place[mine] % 32)
        text[:, 4 + column] = np.bincount(element[mine], bit, minlength=len(text)).astype(np.int64)
    text[:, 6] = np.searchsorted(element, np.arange(len(text)))
    return text.astype(np.uint32).view(np.int32).reshape(-1)
