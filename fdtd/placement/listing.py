"""All designs of a number of units, in the order and grouping that the kernel wants."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product
from math import comb

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.designs import Groups
from fdtd.placement.study import Design, SearchInput

Indices = NDArray[np.int64]


@dataclass(frozen=True)
class Mixing:
    """Whether units of one design may differ. kinds : in kind; gains : in gain."""

    kinds: bool = True
    gains: bool = False


def choice_tuples(given: SearchInput, units: int, mixing: Mixing) -> Indices:
    """(tuple, units) every allowed choice (kind x gains + gain) of the units of a design, in lexicographic order."""
    kinds, gains = given.shape
    count = (None,) * kinds if given.count is None else given.count
    found = []
    for kind in product(range(kinds), repeat=units) if mixing.kinds else ((k,) * units for k in range(kinds)):
        if any(most is not None and kind.count(k) > most for k, most in enumerate(count)):
            continue
        if not given.affordable(kind):
            continue
        every = product(range(gains), repeat=units) if mixing.gains else ((g,) * units for g in range(gains))
        found += [tuple(k * gains + g for k, g in zip(kind, gain, strict=True)) for gain in every]
    return np.array(sorted(found), dtype=np.int64).reshape(len(found), units)


def port_subsets(given: SearchInput, units: int) -> Indices:
    """(subset, units) every set of ports that can be built at once, in lexicographic order."""
    ports = np.flatnonzero(given.usable).tolist()
    flat = np.fromiter((p for subset in combinations(ports, units) for p in subset), dtype=np.int64)
    subsets = flat.reshape(comb(len(ports), units), units)
    if given.excludes is None:
        return subsets
    clash = given.excludes | given.excludes.T
    bad = np.zeros(len(subsets), dtype=bool)
    for i, j in combinations(range(units), 2):
        bad |= clash[subsets[:, i], subsets[:, j]]
    return subsets[~bad]


@dataclass(frozen=True)
class Listing:
    """Designs as rows. ports, choices : (design, units); groups : the same for the kernel, in the same order."""

    ports: Indices
    choices: Indices
    groups: Groups

    def design(self, row: int, gains: int) -> Design:
        """Row `row`; gains : number of gains of a kind."""
        order = np.argsort(self.ports[row])
        kinds, levels = np.divmod(self.choices[row][order], gains)
        return Design(_tuple(self.ports[row][order]), _tuple(kinds), _tuple(levels))


def _tuple(values: Indices) -> tuple[int, ...]:
    return tuple(int(v) for v in values)


def every_design(given: SearchInput, units: int, mixing: Mixing) -> Listing:
    """All designs of `units` units, at least 1."""
    subsets, tuples = port_subsets(given, units), choice_tuples(given, units, mixing)
    port_start, port_count = _runs(subsets[:, :-1])
    choice_start, choice_count = _runs(tuples[:, :-1])
    sizes = np.outer(port_count, choice_count).ravel()
    pointer = np.concatenate([[0], np.cumsum(sizes)])
    group = np.repeat(np.arange(len(sizes)), sizes)
    within = np.arange(pointer[-1]) - pointer[group]
    first, second = np.divmod(group, max(len(choice_start), 1))
    ports = subsets[port_start[first] + within // choice_count[second]]
    choices = tuples[choice_start[second] + within % choice_count[second]]
    shared_ports = np.repeat(subsets[port_start, :-1], len(choice_start), axis=0)
    shared_choices = np.tile(tuples[choice_start, :-1], (len(port_start), 1))
    last = (np.ascontiguousarray(ports[:, -1]), np.ascontiguousarray(choices[:, -1]))
    return Listing(ports, choices, Groups(shared_ports, shared_choices, pointer, *last))


def _runs(rows: Indices) -> tuple[Indices, Indices]:
    """Starts and lengths of runs of equal neighbouring rows."""
    if not len(rows):
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    fresh = np.concatenate([[True], (rows[1:] != rows[:-1]).any(axis=1)])
    start = np.flatnonzero(fresh)
    return start, np.diff(np.concatenate([start, [len(rows)]]))


def one_more(given: SearchInput, shared: Sequence[tuple[Indices, Indices]], tuples: Indices) -> Listing:
    """All designs that add one unit to each of `shared` ((units,) ports and choices).

    tuples : (tuple, units + 1), the allowed choices of `choice_tuples`
    """
    clash = np.zeros((given.driven.shape[1],) * 2, dtype=bool) if given.excludes is None else given.excludes
    clash = clash | clash.T | np.eye(len(clash), dtype=bool)
    ports, choices, sizes = [], [], []
    for have, chosen in shared:
        free = np.flatnonzero(given.usable & ~clash[have].any(axis=0))
        may = tuples[(tuples[:, :-1] == chosen).all(axis=1), -1]
        sizes.append(len(free) * len(may))
        ports.append(np.column_stack([np.tile(have, (sizes[-1], 1)), np.repeat(free, len(may))]))
        choices.append(np.column_stack([np.tile(chosen, (sizes[-1], 1)), np.tile(may, len(free))]))
    every, picked = np.concatenate(ports), np.concatenate(choices)
    groups = Groups(
        np.stack([s[0] for s in shared]),
        np.stack([s[1] for s in shared]),
        np.concatenate([[0], np.cumsum(sizes)]),
        np.ascontiguousarray(every[:, -1]),
        np.ascontiguousarray(picked[:, -1]),
    )
    return Listing(every, picked, groups)
