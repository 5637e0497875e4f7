"""Following resonances from one variant to another."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from fdtd.analysis.matching import assign, match_resonances, modal_assurance
from fdtd.analysis.resonances import Resonances


def resonances(frequency: list[float], decay: list[float], amplitude: list[list[complex]]) -> Resonances:
    """amplitude : one list over the responses per mode."""
    none = np.zeros(len(frequency))
    shape = np.array(amplitude, dtype=complex).reshape(len(frequency), -1).T
    return Resonances(np.array(frequency), np.array(decay), shape, none, none, 0.0, len(frequency), 20.0, 160.0)


def numbers(first: Resonances, second: Resonances) -> list[tuple[int, int]]:
    return [(pair.first, pair.second) for pair in match_resonances(first, second).pairs]


ROOM = resonances([26.8, 34.6, 43.0, 66.1], [1.1, 0.92, 0.8, 0.7], [[1, 1], [1, -1], [1, 0.2], [0.3, 1j]])


def test_a_room_matches_itself_at_no_cost() -> None:
    matching = match_resonances(ROOM, ROOM)
    assert [(pair.first, pair.second) for pair in matching.pairs] == [(0, 0), (1, 1), (2, 2), (3, 3)]
    assert max(pair.cost for pair in matching.pairs) == pytest.approx(0.0, abs=1e-12)
    assert min(pair.likeness for pair in matching.pairs) == pytest.approx(1.0)
    assert matching.only_first == matching.only_second == ()


def test_an_absorber_damps_one_and_moves_it_a_little() -> None:
    on = resonances([26.9, 34.9, 43.0, 66.1], [1.0, 0.41, 0.78, 0.7], [[1, 0.9], [0.8, -0.9], [1, 0.25], [0.3, 1j]])
    assert numbers(ROOM, on) == [(0, 0), (1, 1), (2, 2), (3, 3)]


def test_one_that_vanishes_and_one_that_is_new_are_said_to_be_so() -> None:
    on = resonances([26.8, 43.0, 52.0, 66.1], [1.1, 0.8, 0.6, 0.7], [[1, 1], [1, 0.2], [1, 1], [0.3, 1j]])
    matching = match_resonances(ROOM, on)
    assert [(pair.first, pair.second) for pair in matching.pairs] == [(0, 0), (2, 1), (3, 3)]
    assert matching.only_first == (1,)
    assert matching.only_second == (2,)


def test_shape_decides_between_two_that_cross() -> None:
    """Two modes 0.4 Hz apart change places in frequency; their shapes over the seats keep them apart."""
    first = resonances([50.0, 50.4], [0.8, 0.8], [[1, 1], [1, -1]])
    second = resonances([50.0, 50.4], [0.8, 0.8], [[1, -1], [1, 1]])
    assert numbers(first, second) == [(0, 1), (1, 0)]


def test_a_common_factor_does_not_change_the_shape() -> None:
    draw = np.random.default_rng(0)
    shape = draw.normal(size=(3, 4)) + 1j * draw.normal(size=(3, 4))
    assert np.diag(modal_assurance(shape, (0.2 - 3j) * shape)) == pytest.approx(1.0)
    assert modal_assurance(np.array([[1.0], [1.0]]), np.array([[1.0], [-1.0]]))[0, 0] == pytest.approx(0.0)


def test_nothing_matches_nothing() -> None:
    empty = np.empty(0)
    none = Resonances(empty, empty, np.empty((2, 0), dtype=complex), empty, empty, 0.0, 0, 20.0, 160.0)
    assert match_resonances(none, none).pairs == ()
    assert match_resonances(ROOM, none).only_first == (0, 1, 2, 3)
    assert match_resonances(none, ROOM).only_second == (0, 1, 2, 3)


def test_far_apart_is_no_pair_however_broad() -> None:
    assert numbers(resonances([40.0], [0.1], [[1, 1]]), resonances([45.0], [0.1], [[1, 1]])) == []


def test_different_responses_are_refused() -> None:
    with pytest.raises(ValueError, match="found 2 in the first and 1 in the second"):
        match_resonances(ROOM, resonances([30.0], [1.0], [[1]]))


@pytest.mark.parametrize("seed", range(20))
def test_assignment_is_the_cheapest_of_all(seed: int) -> None:
    """Against trying every way of pairing up to four with up to four; leaving one alone costs half the limit."""
    draw = np.random.default_rng(seed)
    rows, columns = int(draw.integers(1, 5)), int(draw.integers(1, 5))
    cost = draw.uniform(0.0, 1.5, (rows, columns))
    cost[draw.uniform(size=cost.shape) < 0.2] = np.inf

    def total(pairs: list[tuple[int, int]]) -> float:
        return sum(cost[pair] for pair in pairs) + 0.5 * (rows + columns - 2 * len(pairs))

    ways = (
        list(zip(some, partner, strict=True))
        for count in range(min(rows, columns) + 1)
        for some in itertools.combinations(range(rows), count)
        for partner in itertools.permutations(range(columns), count)
    )
    assert total(assign(cost, 1.0)) == pytest.approx(min(total(way) for way in ways))
