"""When there are too many designs to score them all: the best of one unit less, each with one more, then exchanges.

Greedy start with a beam and one-for-one exchange, as in the design of experiments (Fedorov, Theory of Optimal
Experiments, 1972, ch. 3, from memory). Finds a design that no exchange of a single unit betters; not surely the best.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.placement.listing import Indices, Listing, one_more
from fdtd.placement.study import SearchInput

BEAM = 24
"""Designs that are carried on from one count to the next, and improved by exchange."""
ROUNDS = 20
"""Most rounds of exchange; each betters at least one design, else it is the last."""


@dataclass(frozen=True)
class Pool:
    """Scored designs of one count. figures : (design, 4) ringing (octaves), unevenness, spread, loss (dB)
    benefit : (design,) dB"""

    listing: Listing
    figures: NDArray[np.float64]
    benefit: NDArray[np.float64]

    def top(self, count: int) -> NDArray[np.int64]:
        """Rows of the best by benefit, falling; of equals the first comes first."""
        if count < len(self.benefit):
            limit = np.partition(self.benefit, len(self.benefit) - count)[len(self.benefit) - count]
            rows = np.flatnonzero(self.benefit >= limit)
        else:
            rows = np.arange(len(self.benefit))
        rows = rows[np.isfinite(self.benefit[rows])]
        return rows[np.argsort(-self.benefit[rows], kind="stable")][:count]

    def rows(self, chosen: NDArray[np.int64]) -> list[tuple[Indices, Indices]]:
        """(ports, choices) of the rows `chosen`."""
        return [(self.listing.ports[row], self.listing.choices[row]) for row in chosen]


def greedy(given: SearchInput, fewer: Pool, tuples: Indices, score: Callable[[Listing], Pool]) -> Pool:
    """Designs of one unit more than `fewer`; tuples : (tuple, units) allowed choices. Each design once."""
    pools = [score(one_more(given, fewer.rows(fewer.top(BEAM)), tuples))]
    if not len(pools[0].benefit):
        return pools[0]
    merged, explored = _merged(pools), set()
    for _ in range(ROUNDS):
        shared = []
        for ports, choices in merged.rows(merged.top(BEAM)):
            for drop in range(len(ports)):
                rest = (np.delete(ports, drop), np.delete(choices, drop))
                key = _key(*rest)
                if key not in explored:
                    explored.add(key)
                    shared.append(rest)
        if not shared:
            break
        before = merged.benefit.max()
        merged = _merged([merged, score(one_more(given, shared, tuples))])
        if merged.benefit.max() <= before:
            break
    return merged


def _key(ports: Indices, choices: Indices) -> tuple[tuple[int, int], ...]:
    return tuple(sorted(zip(ports.tolist(), choices.tolist(), strict=True)))


def _merged(pools: list[Pool]) -> Pool:
    """All rows of `pools`, each design once, its ports in rising order."""
    ports = np.concatenate([pool.listing.ports for pool in pools])
    choices = np.concatenate([pool.listing.choices for pool in pools])
    order = np.argsort(ports, axis=1)
    ports, choices = np.take_along_axis(ports, order, 1), np.take_along_axis(choices, order, 1)
    _, first = np.unique(np.concatenate([ports, choices], axis=1), axis=0, return_index=True)
    figures = np.concatenate([pool.figures for pool in pools])[first]
    gained = np.concatenate([pool.benefit for pool in pools])[first]
    return Pool(Listing(ports[first], choices[first], pools[0].listing.groups), figures, gained)
