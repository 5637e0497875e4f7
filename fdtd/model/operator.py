"""The stiffness of the air: a symmetric, positive semi-definite matrix K from links and triples, and cell volumes V.

Quadratic form of K:  sum over links of (A/d) (p_i - p_j)²  +  sum over triples of (V/12) d- d+ (p'')².
The triples make the scheme fourth order in space inside the room; at a wall the mirrored cell makes p'' one difference.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array

from fdtd.grid.cells import Cells

LINK, WALL, OTHER = 0, 1, 2


@dataclass(frozen=True)
class Operator:
    """stiffness : (cell, cell) sparse K, m; volume : (cell,) m³ after volume sharing; triples : their number."""

    stiffness: csr_array
    volume: NDArray[np.float64]
    triples: int

    def largest_eigenvalue(self) -> float:
        """A safe bound on the largest eigenvalue of V⁻¹K, 1/m², from row sums (Gershgorin)."""
        rows = np.asarray(abs(self.stiffness).sum(axis=1)).ravel()
        return float(np.max(rows / self.volume))


def with_links(operator: Operator, pair: NDArray[np.int64], value: NDArray[np.float64]) -> Operator:
    """The operator with further links, (link, 2) cells and weights A/d in m, added to its stiffness."""
    extra = _from_differences(len(operator.volume), pair, value)
    return Operator(csr_array(operator.stiffness + extra), operator.volume, operator.triples)


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

    weight : (link,) m, A/d of each link with its factors; 0 for links that are closed or marched with a state of
    their own. plain : (link,) links that a triple may use (whole, no factor, no sheet, no resistance).
    pairs, surplus : links beside free edges of sheets, see `EdgeTerms`.
    mirrors : (link,) links that a closed sheet blocks and that are wall for a triple.
    """
    count = len(cells.volume)
    pair, value = cells.links.cells, weight
    use = value > 0.0
    stiffness = _from_differences(count, pair[use], value[use])
    stiffness = stiffness + _opposed_flows(cells, weight, pairs, surplus)
    volume = cells.volume * (1.0 if porosity is None else porosity)
    triples = 0
    for axis in range(3):
        part, number = _triples(cells, plain, mirrors, axis)
        stiffness = stiffness + part
        triples += number
    stiffness = csr_array(stiffness)
    stiffness.sum_duplicates()
    volume = share_volumes(cells, stiffness, volume, weight)
    return Operator(stiffness, volume, triples)


def _opposed_flows(cells: Cells, weight: NDArray, pairs: NDArray, surplus: NDArray) -> csr_array:
    """Quadratic form (surplus/2) sqrt(w1 w2) (difference of the two links' pressure steps)² of each pair."""
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


def neighbours(
    cells: Cells, plain: NDArray[np.bool_], mirrors: NDArray[np.bool_], axis: int
) -> tuple[NDArray, NDArray, NDArray, NDArray]:
    """For each cell the plain neighbour (-1: none) towards minus and plus, and the state of that side.

    State: LINK (a plain link to a regular cell), WALL (nothing but wall, the cell being regular), OTHER.
    """
    count = len(cells.volume)
    links = cells.links
    mine = (links.axis == axis) & ~mirrors
    low, high = links.cells[mine].T
    below, above = np.full(count, -1), np.full(count, -1)
    any_below = np.bincount(high, minlength=count) > 0
    any_above = np.bincount(low, minlength=count) > 0
    good = plain[mine]
    above[low[good]], below[high[good]] = high[good], low[good]
    states = []
    for neighbour, any_link in ((below, any_below), (above, any_above)):
        state = np.where(neighbour >= 0, LINK, np.where(any_link, OTHER, WALL))
        state[~cells.regular] = OTHER
        states.append(state)
    return below, above, states[0], states[1]


def _triples(cells: Cells, plain: NDArray, mirrors: NDArray, axis: int) -> tuple[csr_array, int]:
    below, above, state_below, state_above = neighbours(cells, plain, mirrors, axis)
    width = np.diff(cells.edges[axis])[cells.index[:, axis]]
    use = (state_below != OTHER) & (state_above != OTHER) & ((state_below == LINK) | (state_above == LINK))
    middle = np.flatnonzero(use)
    lower, upper = below[middle], above[middle]
    half = 0.5 * width[middle]
    d_low = np.where(lower >= 0, half + 0.5 * width[lower], 2 * half)
    d_high = np.where(upper >= 0, half + 0.5 * width[upper], 2 * half)
    scale = np.sqrt(cells.volume[middle] / 12.0 * d_low * d_high) * 2.0 / (d_low + d_high)
    to_low = np.where(lower >= 0, scale / d_low, 0.0)
    to_high = np.where(upper >= 0, scale / d_high, 0.0)
    row = np.arange(len(middle))
    rows = np.concatenate([row, row, row])
    columns = np.concatenate([middle, np.where(lower >= 0, lower, middle), np.where(upper >= 0, upper, middle)])
    data = np.concatenate([-(to_low + to_high), to_low, to_high])
    curvature = csr_array(coo_array((data, (rows, columns)), shape=(len(middle), len(cells.volume))))
    return csr_array(curvature.T @ curvature), len(middle)


def share_volumes(
    cells: Cells, stiffness: csr_array, volume: NDArray[np.float64], weight: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Volumes after small cut cells have borrowed from neighbours what the time step needs; their sum is unchanged.

    The limit is that of the regular cells (their largest row sum over volume), so cuts never cost time step unless
    no neighbour can lend.
    """
    rows = np.asarray(abs(stiffness).sum(axis=1)).ravel()
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
