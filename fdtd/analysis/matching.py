"""Following one resonance through variants of a room: which resonance of one is which of the other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from fdtd.analysis.resonances import Resonances

Real = NDArray[np.float64]


@dataclass(frozen=True)
class Match:
    """One resonance in two variants.

    first, second : its number in each; cost : 0 for no difference, at most the limit of the search
    likeness : modal assurance criterion of the amplitudes over the responses, 0 to 1
    """

    first: int
    second: int
    cost: float
    likeness: float


@dataclass(frozen=True)
class Matching:
    """pairs : by rising frequency of the first; only_first, only_second : numbers of those without a partner."""

    pairs: tuple[Match, ...]
    only_first: tuple[int, ...]
    only_second: tuple[int, ...]


def modal_assurance(first: NDArray[np.complexfloating], second: NDArray[np.complexfloating]) -> Real:
    """(mode of first, mode of second) likeness of shapes, |a^H b|²/(|a|² |b|²), 0 to 1; (response, mode) complex.

    Source: Allemang and Brown, 'A correlation coefficient for modal vector analysis', Proc. IMAC 1 (1982) 110.
    """
    size = np.outer(np.sum(np.abs(first) ** 2, axis=0), np.sum(np.abs(second) ** 2, axis=0))
    return np.abs(first.conj().T @ second) ** 2 / np.where(size > 0.0, size, 1.0)


def match_resonances(
    first: Resonances,
    second: Resonances,
    *,
    frequency_weight: float = 1.0,
    decay_weight: float = 0.25,
    shape_weight: float = 0.5,
    limit: float = 1.5,
    farthest: float = 0.06,
) -> Matching:
    """Pair the resonances of two variants so that the pairs cost least together.

    The cost of a pair is frequency_weight |f1 - f2| / scale + decay_weight |ln(T1/T2)| + shape_weight (1 - likeness).
    The scale is the mean of the two bandwidths, 2.2/T60, or 1 % of the frequency if that is more: within it two peaks
    cannot be told apart, and a device commonly pulls a resonance by about so much. Leaving a resonance without a
    partner costs half of `limit`, so that no pair costs more than `limit`. The weights are a choice: a device may
    change the decay several times over and bend the shape, and yet it is the same resonance as long as its frequency
    stays.

    Parameters
    ----------
    first, second : with the same responses in the same order; farthest : largest |f1 - f2| relative to their mean

    Raises
    ------
    ValueError
        If the two have different numbers of responses.
    """
    if len(first.amplitude) != len(second.amplitude):
        raise ValueError(
            f"resonances can be matched over the same responses only, found {len(first.amplitude)} in the first "
            f"and {len(second.amplitude)} in the second"
        )
    likeness = modal_assurance(first.amplitude, second.amplitude)
    one, two = first.frequency[:, None], second.frequency[None, :]
    middle = 0.5 * (one + two)
    scale = np.maximum(0.5 * (first.bandwidth[:, None] + second.bandwidth[None, :]), 0.01 * middle)
    decay = np.abs(np.log(first.decay_time[:, None] / second.decay_time[None, :]))
    cost = frequency_weight * np.abs(one - two) / scale + decay_weight * decay + shape_weight * (1.0 - likeness)
    allowed = (cost <= limit) & (np.abs(one - two) <= farthest * middle)
    pairs = tuple(
        Match(i, j, float(cost[i, j]), float(likeness[i, j])) for i, j in assign(np.where(allowed, cost, np.inf), limit)
    )
    return Matching(
        pairs,
        tuple(sorted(set(range(len(one))) - {pair.first for pair in pairs})),
        tuple(sorted(set(range(two.shape[1])) - {pair.second for pair in pairs})),
    )


def assign(cost: Real, limit: float) -> list[tuple[int, int]]:
    """Rows and columns paired at least total cost; leaving one alone costs limit/2; infinite cost is never paired."""
    rows, columns = cost.shape
    if rows == 0 or columns == 0:
        return []
    # Each row may also take a column of its own that stands for 'nobody', and the other way round.
    never = 1e6 * max(limit, 1e-9)
    whole = np.full((rows + columns, rows + columns), never)
    whole[:rows, :columns] = np.where(np.isfinite(cost), cost, never)
    whole[:rows, columns:][np.diag_indices(rows)] = 0.5 * limit
    whole[rows:, :columns][np.diag_indices(columns)] = 0.5 * limit
    whole[rows:, columns:] = 0.0
    chosen, partner = linear_sum_assignment(whole)
    return [(int(i), int(j)) for i, j in zip(chosen, partner, strict=True) if i < rows and j < columns]
