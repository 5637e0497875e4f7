"""Scores all ways to put up to so many units on the candidate ports; where that is too much, greedy plus exchange."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from math import comb

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels import designs as kernel
from fdtd.placement.listing import Indices, Listing, Mixing, choice_tuples, every_design
from fdtd.placement.local_search import Pool, greedy
from fdtd.placement.objectives import BAND, WIDTH, Axis, Objectives, benefit, harm, make_axis, objectives
from fdtd.placement.stable import StableDesigns
from fdtd.placement.study import Design, SearchInput, design_response

AFFORDABLE = 3e9
"""Designs x frequencies x seats of one count up to which all are scored: about half a minute on two cores. A number and
no clock, so that the same study gives the same answer on any machine."""

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Scored:
    """A design and its figures."""

    design: Design
    objectives: Objectives


@dataclass(frozen=True)
class Table:
    """Figures of many designs of one count. ports, kinds, gains : (design, units) indices
    figures : (design, 4) ringing (octaves), unevenness, spread and loss (dB); benefit : (design,) dB"""

    ports: Indices
    kinds: Indices
    gains: Indices
    figures: NDArray[np.float64]
    benefit: NDArray[np.float64]


@dataclass(frozen=True)
class Searched:
    """How the best design of `count` units was found. tried : designs scored; possible : with every set of ports
    whole : whether all were tried that can be built; else some by a greedy start and exchange of single units."""

    count: int
    tried: int
    possible: int
    whole: bool


@dataclass(frozen=True)
class SearchResult:
    """untreated : the room without units
    best : the best designs of any count by benefit, falling
    best_of_count : (most + 1,) the best with 0, 1, 2 ... units; None where no design has so many
    singles : every single spot with every kind and gain
    pareto : designs that none scored beats in one of ringing, unevenness, spread and lost level without being worse in
    another, best benefit first, as many as were to be kept; pareto_size : how many there are
    number : designs scored; searched : how, for each number of units from 1; unstable : places left out, as units of
    every kind would oscillate there at every gain
    """

    untreated: Objectives
    best: tuple[Scored, ...]
    best_of_count: tuple[Scored | None, ...]
    singles: Table
    pareto: tuple[Scored, ...]
    pareto_size: int
    number: int
    searched: tuple[Searched, ...]
    unstable: int = 0


def search(
    given: SearchInput,
    most: int = 3,
    keep: int = 200,
    progress: Progress | None = None,
    *,
    mixing: Mixing | None = None,
    band: tuple[float, float] = BAND,
    width: float = WIDTH,
    affordable: float = AFFORDABLE,
) -> SearchResult:
    """Best designs of up to `most` units, judged over `band` (Hz).

    keep : designs returned; mixing : whether units of a design may differ (default: in kind, not in gain)
    width : octaves over which ringing is averaged, see `objectives`; progress : called with the share done and what is
    being done; affordable : see `AFFORDABLE`

    Raises ValueError if fewer than two frequencies lie within `band` or no unit may be placed.
    """
    given, mixing = given.within(band), mixing or Mixing()
    axis = make_axis(given.frequency, given.weights, width)
    untreated = objectives(given.untreated, axis)
    scorer = Scorer(given, axis, untreated, progress)
    pools, searched = _pools(given, scorer, most, mixing, affordable)
    usable = int(np.count_nonzero(given.usable))
    if not pools and given.limits is not None:  # all would oscillate: what they would do is shown all the same
        free = replace(given, limits=None)
        found = search(free, most, keep, progress, mixing=mixing, band=band, width=width, affordable=affordable)
        return replace(found, unstable=usable)
    if not pools:
        raise ValueError("no unit may be placed: no ports, or a count of 0 for every kind")

    def best_rows() -> list[tuple[int, int]]:
        ranked = [(float(-pool.benefit[row]), n, int(row)) for n, pool in enumerate(pools) for row in pool.top(keep)]
        return [(n, row) for _, n, row in sorted(ranked)[:keep]]

    best = tuple(scorer.scored(pools[n], row) for n, row in scorer.stable.settle(pools, best_rows))
    leaders = _leaders(scorer, pools, most)
    # Of a long front only what is kept is tried one by one.
    scorer.stable.settle(pools, lambda: _pareto(pools)[:keep])
    front = _pareto(pools)
    return SearchResult(
        untreated,
        best,
        (Scored(Design(), untreated), *leaders),
        _table(pools[0], given.shape[1]),
        tuple(scorer.scored(pools[n], row) for n, row in front[:keep]),
        len(front),
        scorer.number,
        tuple(searched),
        usable - len(np.unique(pools[0].listing.ports)),
    )


def best_of_counts(
    given: SearchInput,
    most: int,
    against: Objectives,
    stable: StableDesigns | None = None,
    *,
    affordable: float = AFFORDABLE,
) -> tuple[Scored | None, ...]:
    """(most + 1,) the best design of 0, 1, 2 ... units as in `SearchResult`, without all else that `search` lists.

    against : what designs are compared with; its seats and band are those of `given`; stable : of an earlier search
    with the same units
    """
    axis = make_axis(given.frequency, given.weights)
    scorer = Scorer(given, axis, against, None, stable)
    pools, _ = _pools(given, scorer, most, Mixing(), affordable)
    return Scored(Design(), objectives(given.untreated, axis, against)), *_leaders(scorer, pools, most)


def _leaders(scorer: Scorer, pools: list[Pool], most: int) -> list[Scored | None]:
    """The best design of 1, 2 ... `most` units that does not oscillate."""

    def rows(n: int) -> list[tuple[int, int]]:
        return [(n, int(row)) for row in pools[n].top(1)]

    leading = [scorer.stable.settle(pools, partial(rows, n)) for n in range(len(pools))]
    found = [scorer.scored(pools[n], rows[0][1]) if rows else None for n, rows in enumerate(leading)]
    return found + [None] * (most - len(pools))


class Scorer:
    """The kernel with one room's arrays; counts what it scored. untreated : what designs are compared with"""

    def __init__(
        self,
        given: SearchInput,
        axis: Axis,
        untreated: Objectives,
        progress: Progress | None,
        stable: StableDesigns | None = None,
    ) -> None:
        self.given, self.axis = given, axis
        kinds, gains = given.shape
        choice = given.admittance.reshape(kinds * gains, *given.admittance.shape[2:])
        self.room = kernel.Room(
            _parts(np.moveaxis(given.ports_from_ports, 0, 2)),
            _parts(np.moveaxis(given.seats_from_ports, 0, 2)),
            _parts(given.driven.T),
            _parts(given.untreated.T),
            _parts(np.swapaxes(choice, 1, 2)),
        )
        self.scale = kernel.Scale(**{name: getattr(axis, name) for name in kernel.Scale._fields})
        self.seat, self.untreated, self.progress = axis.seat, untreated, progress or (lambda share, message: None)
        self.number = 0
        self.stable = stable or StableDesigns(given)
        self.samples = given.untreated.size
        self.done, self.whole, self.message = 0.0, 1.0, ""

    def scored(self, pool: Pool, row: int) -> Scored:
        """One design of a pool with all its figures."""
        design = pool.listing.design(row, self.given.shape[1])
        return Scored(design, objectives(design_response(self.given, design), self.axis, self.untreated))

    def pool(self, listing: Listing) -> Pool:
        """Scores all rows of `listing`."""
        groups, total = listing.groups, len(listing.ports)

        def advance(done: int) -> None:
            self.progress(min((self.done + float(groups.pointer[done])) / self.whole, 1.0), self.message)

        found = kernel.score(self.room, self.scale, groups, advance)
        self.number += total
        self.done += total
        untreated, overall = self.untreated, found.overall
        ringing, uneven = found.ringing @ self.seat, found.uneven @ self.seat
        figures = np.column_stack([ringing, uneven, overall[:, 0], untreated.level - overall[:, 1]])
        gain = (untreated.ringing - ringing, untreated.uneven - uneven, untreated.spread - overall[:, 0])
        gained = benefit(*gain, figures[:, 3], harm(found.ringing, found.uneven, untreated, self.seat))
        fine = self.stable.among(listing)
        kept = Listing(listing.ports[fine], listing.choices[fine], groups)
        return Pool(kept, figures[fine], gained[fine])


def _parts(values: NDArray[np.complex128]) -> NDArray[np.float64]:
    return np.ascontiguousarray(np.stack([values.real, values.imag]))


def _pools(
    given: SearchInput, scorer: Scorer, most: int, mixing: Mixing, affordable: float
) -> tuple[list[Pool], list[Searched]]:
    """One pool of scored designs per count from 1, and how they were found."""
    ports = int(np.count_nonzero(given.usable))
    tuples = [choice_tuples(given, n, mixing) for n in range(1, min(most, ports) + 1)]
    expected = [comb(ports, n) * len(t) for n, t in enumerate(tuples, start=1)]
    whole = [e for e in expected if e * scorer.samples <= affordable]
    scorer.whole = float(sum(whole)) or 1.0
    pools: list[Pool] = []
    searched: list[Searched] = []
    for n, choices in enumerate(tuples, start=1):
        if not len(choices):
            break
        scorer.message = "designs of 1 unit" if n == 1 else f"designs of {n} units"
        before, whole_count = scorer.number, n == 1 or expected[n - 1] * scorer.samples <= affordable
        if whole_count:
            pool = scorer.pool(every_design(given, n, mixing))
        else:
            pool = greedy(given, pools[-1], choices, scorer.pool)
        if not len(pool.benefit):
            break
        pools.append(pool)
        searched.append(Searched(n, scorer.number - before, expected[n - 1], whole_count))
    return pools, searched


def _table(pool: Pool, gains: int) -> Table:
    kinds, levels = np.divmod(pool.listing.choices, gains)
    return Table(pool.listing.ports, kinds, levels, pool.figures, pool.benefit)


def _pareto(pools: list[Pool]) -> list[tuple[int, int]]:
    """(pool, row) of every design not beaten, best benefit first. Being louder than the untreated room is no merit."""
    values = np.concatenate([pool.figures for pool in pools])
    values[:, 3] = np.maximum(values[:, 3], 0.0)
    gained = np.concatenate([pool.benefit for pool in pools])
    order = np.argsort(-gained, kind="stable")
    order = order[np.isfinite(gained[order])]
    keep = np.zeros(len(values), dtype=bool)
    kernel.undominated(values, order, keep)
    ends = np.cumsum([0, *(len(pool.benefit) for pool in pools)])
    found = []
    for row in order[keep[order]]:
        n = int(np.searchsorted(ends, row, side="right")) - 1
        found.append((n, int(row - ends[n])))
    return found
