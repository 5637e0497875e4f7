"""The stiffness of the air: a symmetric, positive semi-definite matrix K from links and fourth-order differences, and
cell volumes V.

Quadratic form of K (theory.md, eq. 2 and 3):
    sum over links of (A/d) (p_i - p_j)²  +  sum over fourth-order differences of (V/12) d- d+ (p'')²  +  what thin
partitions' edges add. The fourth-order differences make the scheme fourth order in space inside the room; at a wall the
mirrored cell makes p'' one difference.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array

from fdtd.grid.cells import Cells

BLOCK = 100_000
"""Rows of K that are made at once."""
USUAL_ENTRIES = 14
"""Entries of a row of K, on average, that are made room for at first; 13 are usual."""


@dataclass(frozen=True)
class Operator:
    """stiffness : (cell, cell) sparse K, m; volume : (cell,) m³ after volume sharing; fourth-order differences : their
    number."""

    stiffness: csr_array
    volume: NDArray[np.float64]
    fourth_order: int

    def largest_eigenvalue(self) -> float:
        """A safe bound on the largest eigenvalue of V⁻¹K, 1/m², from row sums (Gershgorin)."""
        return float(np.max(row_sums(self.stiffness) / self.volume))


def with_links(operator: Operator, pair: NDArray[np.int64], value: NDArray[np.float64]) -> Operator:
    """The operator with further links, (link, 2) cells and weights A/d in m, added to its stiffness."""
    extra = _from_differences(len(operator.volume), pair, value)
    return Operator(csr_array(operator.stiffness + extra), operator.volume, operator.fourth_order)


def build_operator(
    cells: Cells,
    weight: NDArray[np.float64],
    plain: NDArray[np.bool_],
    mirrors: NDArray[np.bool_],
    pairs: NDArray[np.int64],
    surplus: NDArray[np.float64],
    porosity: NDArray[np.float64] | None = None,
) -> Operator:
    """Assemble K and V.

    weight : (link,) m, A/d of each link with its factors; 0 for links that are closed or simulated with a state of
    their own. plain : (link,) links that a fourth-order difference may use (whole, no factor, no thin partition, no
    resistance).
    pairs, surplus : links beside free edges of thin partitions, see `EdgeTerms`.
    mirrors : (link,) links that a closed thin partition blocks and that are wall for a fourth-order difference.
    """
    axes = [_fourth_order(cells, plain, mirrors, axis) for axis in range(3)]
    stiffness = _assembled(cells, weight, _opposed_flows(cells, weight, pairs, surplus), axes)
    volume = cells.volume if porosity is None or (porosity == 1.0).all() else cells.volume * porosity
    volume = share_volumes(cells, stiffness, volume, weight)
    return Operator(stiffness, volume, sum(int(fourth_order.use.sum()) for fourth_order in axes))


def row_sums(matrix: csr_array) -> NDArray[np.float64]:
    """(row,) sums of the absolute values, without a copy of the matrix."""
    found = np.empty(matrix.shape[0])
    for start in range(0, len(found), BLOCK):
        bounds = matrix.indptr[start : start + BLOCK + 1]
        row = np.repeat(np.arange(len(bounds) - 1), np.diff(bounds))
        found[start : start + BLOCK] = np.bincount(row, np.abs(matrix.data[bounds[0] : bounds[-1]]), len(bounds) - 1)
    return found


def _assembled(cells: Cells, weight: NDArray, opposed: csr_array, axes: list[_FourthOrder]) -> csr_array:
    """K in blocks of rows, so that the elements it is added up from take little memory."""
    count, links = len(cells.volume), cells.links.cells
    index = np.int32 if USUAL_ENTRIES * count < 2**31 else np.int64
    reach = int((links[:, 1] - links[:, 0]).max(initial=1))
    data, columns = np.empty(USUAL_ENTRIES * count), np.empty(USUAL_ENTRIES * count, dtype=index)
    pointer, filled = np.zeros(count + 1, dtype=index), 0
    for start in range(0, count, BLOCK):
        stop = min(start + BLOCK, count)
        low, high = max(0, start - 2 * reach), min(count, stop + 2 * reach)
        # Links are sorted by their first cell.
        near = slice(*np.searchsorted(links[:, 0], (start - reach, stop)))
        use = (weight[near] > 0.0) & (links[near, 1] >= start)
        part = _from_differences(high - low, links[near][use] - low, weight[near][use])[start - low : stop - low]
        part = part + opposed[start:stop, low:high]
        for fourth_order in axes:
            part = part + _bending(cells, fourth_order, (start, stop), (low, high), reach)
        part = csr_array(part)
        part.sum_duplicates()
        if filled + part.nnz > len(data):
            data.resize(2 * (filled + part.nnz), refcheck=False)
            columns.resize(2 * (filled + part.nnz), refcheck=False)
        data[filled : filled + part.nnz] = part.data
        columns[filled : filled + part.nnz] = part.indices + low
        pointer[start + 1 : stop + 1] = filled + part.indptr[1:]
        filled += part.nnz
    data.resize(filled, refcheck=False)
    columns.resize(filled, refcheck=False)
    return csr_array((data, columns, pointer), shape=(count, count))


def _opposed_flows(cells: Cells, weight: NDArray, pairs: NDArray, surplus: NDArray) -> csr_array:
    """Quadratic form (surplus/2) sqrt(w1 w2) (difference of the two links' pressure steps)² of each pair, the last sum
    of theory.md, eq. 2."""
    root = np.sqrt(0.5 * surplus * np.sqrt(weight[pairs[:, 0]] * weight[pairs[:, 1]]))
    row = np.repeat(np.arange(len(pairs)), 4)
    columns = cells.links.cells[pairs].reshape(-1)
    data = (root[:, None] * np.array([-1.0, 1.0, 1.0, -1.0])).ravel()
    steps = csr_array(coo_array((data, (row, columns)), shape=(len(pairs), len(cells.volume))))
    return csr_array(steps.T @ steps)


def _from_differences(count: int, pair: NDArray, value: NDArray) -> csr_array:
    i, j = pair[:, 0], pair[:, 1]
    rows, columns = np.concatenate([i, j, i, j]), np.concatenate([i, j, j, i])
    data = np.concatenate([value, value, -value, -value])
    return csr_array(coo_array((data, (rows, columns)), shape=(count, count)))


@dataclass(frozen=True)
class _FourthOrder:
    """Along one axis: below, above (cell,) the neighbours of each cell, itself where it is mirrored; use : (cell,)
    where it is the middle of a fourth-order difference."""

    axis: int
    below: NDArray[np.int32]
    above: NDArray[np.int32]
    use: NDArray[np.bool_]


def _fourth_order(cells: Cells, plain: NDArray[np.bool_], mirrors: NDArray[np.bool_], axis: int) -> _FourthOrder:
    """Fourth-order differences have a plain link to a regular cell on at least one side, and on the other that or
    nothing but wall."""
    links, count = cells.links, len(cells.volume)
    itself = np.arange(count, dtype=np.int32)
    sides, linked, use = [], [], cells.regular.copy()
    mine = np.flatnonzero((links.axis == axis) & ~mirrors)
    good = plain[mine]
    for here, there in ((1, 0), (0, 1)):
        start, stop = links.cells[mine, here], links.cells[mine, there]
        neighbour = itself.copy()
        neighbour[start[good]] = stop[good]
        through = neighbour != itself
        any_link = np.zeros(count, dtype=bool)
        any_link[start] = True
        use &= through | ~any_link
        sides.append(neighbour)
        linked.append(through)
    return _FourthOrder(axis, sides[0], sides[1], use & (linked[0] | linked[1]))


def _bending(
    cells: Cells, fourth_order: _FourthOrder, rows: tuple[int, int], columns: tuple[int, int], reach: int
) -> csr_array:
    """What the fourth-order differences add to some rows of K (theory.md, eq. 3); columns : those that they can
    touch."""
    low, high = columns
    first, last = max(0, rows[0] - reach), min(len(cells.volume), rows[1] + reach)
    middle = first + np.flatnonzero(fourth_order.use[first:last])
    lower, upper = fourth_order.below[middle], fourth_order.above[middle]
    width, place = np.diff(cells.edges[fourth_order.axis]), cells.index[:, fourth_order.axis]
    own = width[place[middle]]
    d_low, d_high = 0.5 * own + 0.5 * width[place[lower]], 0.5 * own + 0.5 * width[place[upper]]
    scale = np.sqrt(cells.volume[middle] / 12.0 * d_low * d_high) * 2.0 / (d_low + d_high)
    to_low = np.where(lower != middle, scale / d_low, 0.0)
    to_high = np.where(upper != middle, scale / d_high, 0.0)
    row = np.arange(len(middle))
    place = np.concatenate([middle, lower, upper]) - low
    data = np.concatenate([-(to_low + to_high), to_low, to_high])
    curvature = csr_array(coo_array((data, (np.tile(row, 3), place)), shape=(len(middle), high - low)))
    return csr_array(curvature[:, rows[0] - low : rows[1] - low].T @ curvature)


def share_volumes(
    cells: Cells, stiffness: csr_array, volume: NDArray[np.float64], weight: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Volumes after small cut cells have borrowed from neighbours what the time step needs; their sum is unchanged.

    The limit is that of the regular cells (their largest row sum over volume), so cuts never cost time step unless
    no neighbour can lend.
    """
    rows = row_sums(stiffness)
    usual = cells.regular
    limit = np.max(rows[usual] / volume[usual]) if usual.any() else np.median(rows / volume)
    need = rows / limit
    short = np.flatnonzero((volume < need * (1 - 1e-12)) & ~usual)
    if len(short) == 0:
        return volume
    volume = volume.copy()
    graph = _from_differences(len(volume), cells.links.cells, np.maximum(weight, 0.0))
    for cell in short[np.argsort(volume[short])]:
        span = slice(graph.indptr[cell], graph.indptr[cell + 1])
        others, strength = graph.indices[span], -graph.data[span]
        for other in others[np.argsort(-strength)]:
            missing = need[cell] - volume[cell]
            if missing <= 0.0:
                break
            if other != cell:
                lent = min(missing, max(0.0, volume[other] - need[other]))
                volume[cell] += lent
                volume[other] -= lent
    return volume
