"""Designs that would oscillate are never listed. Set-up: random matrices, and critical gains by a rule that falls with
every further unit. Exact: all designs, scored and sorted one by one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from fdtd.placement.objectives import make_axis, objectives
from fdtd.placement.search import search
from fdtd.placement.study import Design, SearchInput, design_response

from .test_search import random_study

GAINS, MARGIN = (0.5, 1.0), 1.4


class Rule:
    """Kind 0 oscillates at a gain of its place, sooner with others about it; kind 1 is passive."""

    def __init__(self, ports: int, seed: int) -> None:
        self.own = np.random.default_rng(seed).uniform(0.6, 4.0, ports)
        self.asked: list[tuple[int, ...]] = []

    def active(self, kind: int) -> bool:
        return kind == 0

    def critical(self, ports: Sequence[int], kinds: Sequence[int]) -> float:
        self.asked.append(tuple(ports))
        mine = [self.own[p] for p, kind in zip(ports, kinds, strict=True) if kind == 0]
        return float(min(mine) / len(mine)) if mine else float("inf")


def fine(rule: Rule, design: Design) -> bool:
    gain = max((GAINS[g] for g, kind in zip(design.gains, design.kinds, strict=True) if kind == 0), default=0.0)
    return MARGIN * gain <= rule.critical(design.ports, design.kinds)


def every(study: SearchInput, most: int) -> list[Design]:
    """All designs whose units have one gain."""
    kinds, gains = study.shape
    return [
        Design(ports, tuple(choice), (gain,) * units)
        for units in range(1, most + 1)
        for ports in combinations(range(study.driven.shape[1]), units)
        for choice in np.ndindex(*(kinds,) * units)
        for gain in range(gains)
    ]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("affordable", [3e9, 1.0])
def test_the_listed_designs_are_the_best_stable_ones(seed: int, affordable: float) -> None:
    study = random_study(seed)
    rule = Rule(study.driven.shape[1], seed)
    limited = replace(study, limits=rule, gains=GAINS, margin=MARGIN)
    found = search(limited, 3, 30, affordable=affordable)
    axis = make_axis(study.frequency, study.weights)
    untreated = objectives(study.untreated, axis)
    scored = {d: objectives(design_response(study, d), axis, untreated).benefit for d in every(study, 3)}
    stable = {d: benefit for d, benefit in scored.items() if fine(rule, d)}
    assert len(stable) < len(scored)
    listed = [*found.best, *(s for s in found.best_of_count[1:] if s is not None), *found.pareto]
    assert all(fine(rule, one.design) for one in listed)
    if affordable > 1.0:
        best = sorted(stable.values(), reverse=True)[:30]
        assert [one.objectives.benefit for one in found.best] == pytest.approx(best, abs=1e-9)
        for count, one in enumerate(found.best_of_count[1:], start=1):
            most = max(benefit for d, benefit in stable.items() if len(d.ports) == count)
            assert one is not None and one.objectives.benefit == pytest.approx(most, abs=1e-9)


def test_where_all_oscillate_the_search_says_so() -> None:
    study = random_study(3, kinds=1)
    rule = Rule(study.driven.shape[1], 3)
    rule.own[:] = 0.1
    found = search(replace(study, limits=rule, gains=GAINS, margin=MARGIN), 2, 10)
    assert found.unstable == study.driven.shape[1] and len(found.best) == 10


def test_places_without_any_stable_gain_are_counted() -> None:
    study = random_study(4, kinds=1)
    rule = Rule(study.driven.shape[1], 4)
    rule.own[:] = 4.0
    rule.own[[1, 4]] = 0.2
    found = search(replace(study, limits=rule, gains=GAINS, margin=MARGIN), 2, 10)
    assert found.unstable == 2 and not set(found.singles.ports.ravel()) & {1, 4}
