"""Which designs are stable: of the units' gains, at most as much as leaves the margin asked for.

Of singles and pairs every critical gain is known. A larger design that holds an unstable pair is left out; the others
are tried one by one, in the order in which they are listed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.compiled import available_threads
from fdtd.placement.listing import Listing
from fdtd.placement.local_search import Pool
from fdtd.placement.study import SearchInput

Row = tuple[int, int]
"""Number of a pool, and of a row in it."""


class StableDesigns:
    """The designs of a search whose units keep their margin; without limits, all. Serves every search with the same
    ports, kinds, gains and limits."""

    def __init__(self, given: SearchInput) -> None:
        self.given, self.limits = given, given.limits
        units = (given.driven.shape[1], given.shape[0])
        # (port, kind) of one unit, then of the other; NaN: not asked for yet
        self.gains_of = {1: np.full(units, np.nan), 2: np.full(units * 2, np.nan)}

    def among(self, listing: Listing) -> NDArray[np.bool_]:
        """(design,) of which no unit and no pair of units oscillates."""
        if self.limits is None:
            return np.ones(len(listing.ports), dtype=bool)
        ports, kinds, gains = self._units(listing)
        fine = np.ones(len(ports), dtype=bool)
        for count in (1, 2):
            for at in combinations(range(ports.shape[1]), count):
                rows = np.flatnonzero(fine)
                gain = gains[rows][:, at].max(axis=1, initial=0.0)
                units = [column for k in at for column in (ports[rows, k], kinds[rows, k])]
                fine[rows] &= self.given.margin * gain <= self._criticals(units)
        return fine

    def _criticals(self, units: Sequence[NDArray[np.int64]]) -> NDArray[np.float64]:
        """(design,) critical gains of one or two units; units : port and kind of each, (design,)."""
        known, at = self.gains_of[len(units) // 2], tuple(units)
        fresh = np.unique(np.stack(units, axis=1)[np.isnan(known[at])], axis=0)
        with ThreadPoolExecutor(available_threads()) as pool:
            found = pool.map(lambda unit: self._critical(unit[::2], unit[1::2]), fresh.tolist())
            known[tuple(fresh.T)] = list(found)
        return np.asarray(known[at])

    def settle(self, pools: Sequence[Pool], pick: Callable[[], list[Row]]) -> list[Row]:
        """What `pick` chooses from `pools` once no chosen design oscillates; those that do lose all their benefit."""
        tried: set[Row] = set()
        while True:
            chosen = pick()
            fresh = [row for row in chosen if row not in tried] if self.limits is not None else []
            tried.update(fresh)
            larger = [(n, row) for n, row in fresh if n >= 2]
            with ThreadPoolExecutor(available_threads()) as pool:
                stable = list(pool.map(lambda one: self._stable(pools[one[0]].listing, one[1]), larger))
            unstable = [one for one, fine in zip(larger, stable, strict=True) if not fine]
            if not unstable:
                return chosen
            for n, row in unstable:
                pools[n].benefit[row] = -np.inf

    def _units(self, listing: Listing) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
        """Ports, kinds and gains (0 of what cannot oscillate) of the units of each design."""
        kinds, numbers = np.divmod(listing.choices, self.given.shape[1])
        active = np.array([self.limits is not None and self.limits.active(k) for k in range(self.given.shape[0])])
        gains = np.asarray(self.given.gains, dtype=float)
        return listing.ports, kinds, np.where(active[kinds], gains[numbers], 0.0)

    def _critical(self, ports: Sequence[int], kinds: Sequence[int]) -> float:
        return float("inf") if self.limits is None else self.limits.critical(ports, kinds)

    def _stable(self, listing: Listing, row: int) -> bool:
        ports, kinds, gains = (values[row] for values in self._units(listing))
        order = np.argsort(ports)
        critical = self._critical(tuple(ports[order].tolist()), tuple(kinds[order].tolist()))
        return bool(self.given.margin * gains.max() <= critical)
