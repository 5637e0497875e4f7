"""The exhaustive search against brute force, modal theory and the rules it must keep."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given as drawn
from hypothesis import settings
from hypothesis import strategies as st
from modal_room import natural, transfer

from fdtd.placement.listing import Mixing, every_design
from fdtd.placement.objectives import make_axis, objectives
from fdtd.placement.search import Scorer, best_of_counts, search
from fdtd.placement.steps import steps
from fdtd.placement.study import Design, SearchInput, design_response
from fdtd.wording.units import step_text

FREQUENCY = np.arange(20.0, 160.1, 2.0)


def random_study(seed: int, ports: int = 6, seats: int = 2, kinds: int = 2, gains: int = 2) -> SearchInput:
    """Matrices without any room behind them; not reciprocal, so that a transposed one is noticed."""
    rng = np.random.default_rng(seed)

    def draw(*shape: int) -> np.ndarray:
        return rng.standard_normal((*shape, 2)).view(complex)[..., 0]

    f = len(FREQUENCY)
    return SearchInput(
        FREQUENCY,
        draw(f, seats),
        draw(f, ports),
        draw(f, ports, seats),
        draw(f, ports, ports),
        0.3 * draw(kinds, gains, f, ports),
        seat_weight=rng.uniform(0.2, 1.0, seats),
    )


@settings(max_examples=12)
@drawn(
    seed=st.integers(0, 10**6),
    units=st.integers(1, 4),
    seats=st.integers(1, 3),
    width=st.sampled_from([0.0, 1 / 3, 1.0]),
    mixed=st.booleans(),
)
def test_kernel_equals_the_plain_solve(seed: int, units: int, seats: int, width: float, mixed: bool) -> None:
    study = random_study(seed, seats=seats)
    axis = make_axis(study.frequency, study.weights, width)
    untreated = objectives(study.untreated, axis)
    listing = every_design(study, units, Mixing(kinds=True, gains=mixed))
    pool = Scorer(study, axis, untreated, None).pool(listing)
    rows = np.random.default_rng(seed).choice(len(listing.ports), min(10, len(listing.ports)), replace=False)
    for row in rows:
        plain = objectives(design_response(study, listing.design(row, 2)), axis, untreated)
        expected = (plain.ringing, plain.uneven, plain.spread, plain.loss)
        assert pool.figures[row] == pytest.approx(expected, abs=1e-6)
        assert pool.benefit[row] == pytest.approx(plain.benefit, abs=1e-6)


def test_plain_solve_of_one_port_is_the_voltage_divider() -> None:
    study = random_study(3)
    y, z = study.admittance[1, 0, :, 4], study.ports_from_ports[:, 4, 4]
    flow = y * study.driven[:, 4] / (1.0 + y * z)
    expected = study.untreated - flow[:, None] * study.seats_from_ports[:, 4]
    np.testing.assert_allclose(design_response(study, Design((4,), (1,), (0,))), expected, rtol=1e-12)


def brute_force(study: SearchInput, most: int) -> dict[Design, float]:
    """Benefit of every design, one by one: kinds mix, gains do not."""
    axis = make_axis(study.frequency, study.weights)
    untreated = objectives(study.untreated, axis)
    kinds, gains = study.shape
    found = {}
    for units in range(1, most + 1):
        for ports in combinations(range(study.driven.shape[1]), units):
            for kind, gain in product(product(range(kinds), repeat=units), range(gains)):
                design = Design(ports, kind, (gain,) * units)
                found[design] = objectives(design_response(study, design), axis, untreated).benefit
    return found


def test_search_finds_what_brute_force_finds() -> None:
    study = random_study(11, ports=5)
    result, every = search(study, most=3, keep=30), brute_force(study, 3)
    assert result.number == len(every) == 5 * 4 + 10 * 8 + 10 * 16
    ranked = sorted(every.items(), key=lambda item: -item[1])[:30]
    assert [s.design for s in result.best] == [design for design, _ in ranked]
    assert [s.objectives.benefit for s in result.best] == pytest.approx([value for _, value in ranked])
    for units in (1, 2, 3):
        leader = result.best_of_count[units]
        assert leader is not None
        assert leader.objectives.benefit == pytest.approx(max(v for d, v in every.items() if len(d.ports) == units))
    singles = result.singles
    for row in range(len(singles.benefit)):
        one = Design((singles.ports[row, 0],), (singles.kinds[row, 0],), (singles.gains[row, 0],))
        assert singles.benefit[row] == pytest.approx(every[one])


def test_pareto_is_what_no_design_beats() -> None:
    study = random_study(5, ports=5)
    result = search(study, most=3, keep=1000)
    values = np.array(
        [
            [s.objectives.ringing, s.objectives.uneven, s.objectives.spread, max(s.objectives.loss, 0.0)]
            for s in result.best
        ]
    )
    beaten = ((values[None] <= values[:, None]).all(-1) & (values[None] < values[:, None]).any(-1)).any(1)
    expected = {s.design for s, bad in zip(result.best, beaten, strict=True) if not bad}
    assert {s.design for s in result.pareto} == expected
    assert 1 < result.pareto_size == len(expected) < result.number


def test_excluded_pairs_never_appear() -> None:
    study = random_study(7, ports=7, kinds=1)
    clash = np.zeros((7, 7), dtype=bool)
    clash[0, 1] = clash[5, 3] = True
    result = search(replace(study, excludes=clash), most=3, keep=10_000)
    assert len(result.best) == result.number == 2 * (7 + (21 - 2) + (35 - 5 - 5))
    for scored in result.best:
        assert not {0, 1} <= set(scored.design.ports) and not {3, 5} <= set(scored.design.ports)


def test_units_on_loan_limit_the_kinds() -> None:
    study = replace(random_study(7), count=(1, None))
    result = search(study, most=3, keep=10_000)
    assert max(s.design.kinds.count(0) for s in result.best) == 1
    assert max(s.design.kinds.count(1) for s in result.best) == 3
    alone = search(replace(study, count=(1, 0)), most=3)
    assert alone.best_of_count[1] is not None and alone.best_of_count[2:] == (None, None)
    with pytest.raises(ValueError, match="no unit may be placed"):
        search(replace(study, count=(0, 0)))


def test_units_of_a_design_differ_only_where_allowed() -> None:
    study = random_study(2)
    default = search(study, most=2, keep=10_000).best
    assert all(len(set(s.design.gains)) <= 1 for s in default) and any(len(set(s.design.kinds)) > 1 for s in default)
    free = search(study, most=2, keep=10_000, mixing=Mixing(kinds=False, gains=True)).best
    assert all(len(set(s.design.kinds)) <= 1 for s in free) and any(len(set(s.design.gains)) > 1 for s in free)


def test_no_admittance_is_the_bare_room() -> None:
    study = random_study(1)
    result = search(replace(study, admittance=np.zeros_like(study.admittance)), most=3)
    assert result.best[0].objectives.benefit == pytest.approx(0.0, abs=1e-12)
    assert all(step.gained.benefit <= 0.0 or not step.gained.audible for step in steps(result))


def test_greedy_with_exchange_is_said_and_finds_the_best_here() -> None:
    study = random_study(21, ports=9, kinds=1)
    whole = search(study, most=4)
    limit = 2.0 * 36 * study.untreated.size
    quick = search(study, most=4, affordable=limit)
    assert not all(one.whole for one in quick.searched) and all(one.whole for one in whole.searched)
    for units in (3, 4):
        a, b = whole.best_of_count[units], quick.best_of_count[units]
        assert a is not None and b is not None
        assert a.design == b.design


# A room with one strong axial mode -------------------------------------------------------------------------------

SIZE = (5.0, 4.0, 2.5)
FINE = np.arange(20.0, 160.1, 0.25)


def one_mode_study(place: np.ndarray) -> SearchInput:
    """Only the first length mode (34.3 Hz) and the constant pressure; `place` : (port, 3) m along a long wall."""
    source, seats = [[0.2, 1.0, 0.5]], [[4.1, 2.0, 1.2], [3.6, 1.0, 1.2]]
    orders = [(0, 0, 0), (1, 0, 0)]

    def room(a: object, b: object) -> np.ndarray:
        return transfer(FINE, SIZE, a, b, delta=3.0, orders=orders)

    unit = 0.16 / (0.5 * 1.2 * 343.0) * np.ones((1, 1, len(FINE), len(place)))
    return SearchInput(
        FINE,
        room(source, seats)[:, 0],
        room(source, place)[:, 0],
        room(place, seats),
        room(place, place),
        unit.astype(complex),
    )


def test_the_best_spot_is_at_the_pressure_maximum_and_the_node_does_nothing() -> None:
    """Pressure maximum: common practice. Added decay rate of a small admittance y on a mode with phi² = 2 cos²(k x):
    d delta = rho c² y phi²/(2 V) (Kuttruff, Room Acoustics, ch. 3: perturbed eigenvalue)."""
    x = np.linspace(0.0, SIZE[0], 21)
    place = np.column_stack([x, np.zeros_like(x), np.full_like(x, 0.5)])
    study = one_mode_study(place)
    result = search(study, most=1)
    leader = result.best_of_count[1]
    assert leader is not None and x[leader.design.ports[0]] in (0.0, SIZE[0])
    singles = result.singles.figures[np.argsort(result.singles.ports[:, 0]), 0]
    assert np.all(np.diff(singles[:11]) > 0.0), "ringing grows from the end wall to the node"
    mode, middle = natural((1, 0, 0), SIZE), 10
    near = np.argmin(np.abs(FINE - mode))
    with_unit = design_response(study, Design((middle,), (0,), (0,)))
    assert np.abs(with_unit[near] / study.untreated[near] - 1.0).max() < 0.01
    added = 1.2 * 343.0**2 * study.admittance[0, 0, near, 0].real * 2.0 / (2.0 * np.prod(SIZE))
    at_wall = design_response(study, Design((0,), (0,), (0,)))
    assert np.abs(study.untreated[near] / at_wall[near]) == pytest.approx((3.0 + added) / 3.0, rel=0.03)


def test_a_second_unit_that_adds_little_is_called_so() -> None:
    place = np.array([[0.0, 1.0, 0.5], [2.5, 1.0, 0.5], [2.45, 2.0, 0.5]])
    said = steps(search(one_mode_study(place), most=2))
    first, second = (step_text(step.gained, step.count) for step in said)
    assert "is audible at 2 of 2 seats" in first and "faster" in first
    assert second == "the second unit adds nothing audible" or "no place found for it improves the score" in second


@pytest.mark.parametrize("name", ["driven", "seats_from_ports", "ports_from_ports", "admittance"])
def test_wrong_shapes_are_refused(name: str) -> None:
    study = random_study(1)
    with pytest.raises(ValueError, match="is of shape"):
        replace(study, **{name: getattr(study, name)[..., :-1]})


def test_too_few_frequencies_are_refused() -> None:
    with pytest.raises(ValueError, match="1 frequencies lie within 20-21 Hz"):
        search(random_study(1), band=(20.0, 21.0))


def test_with_all_weight_on_one_seat_the_first_place_is_the_best_for_that_seat() -> None:
    """By brute force over every single place: what the other seats get or lose does not count."""
    for seat in range(2):
        study = replace(random_study(7 + seat), seat_weight=np.eye(2)[seat])
        found = search(study, most=1)
        axis = make_axis(study.frequency[study.frequency <= 160.0], [1.0])
        inside = study.within((20.0, 160.0))
        alone = objectives(inside.untreated[:, [seat]], axis)
        kinds, gains = study.shape
        benefit = {
            design: objectives(design_response(inside, design)[:, [seat]], axis, alone).benefit
            for p in range(study.driven.shape[1])
            for k in range(kinds)
            for g in range(gains)
            for design in [Design((p,), (k,), (g,))]
        }
        assert found.best[0].design == max(benefit, key=lambda design: benefit[design])
        assert found.best[0].objectives.benefit == pytest.approx(max(benefit.values()))


@pytest.mark.parametrize("affordable", [3e9, 1.0])
def test_ports_barred_on_the_diagonal_are_not_used(affordable: float) -> None:
    """Exact: the same study without those ports."""
    study, free = random_study(11), [0, 2, 3, 5]
    barred = replace(study, excludes=np.diag([k not in free for k in range(6)]))
    without = replace(
        study,
        driven=study.driven[:, free],
        seats_from_ports=study.seats_from_ports[:, free],
        ports_from_ports=study.ports_from_ports[:, free][:, :, free],
        admittance=study.admittance[:, :, :, free],
    )
    found, expected = (search(one, 3, affordable=affordable) for one in (barred, without))
    for mine, its in zip(found.best_of_count, expected.best_of_count, strict=True):
        assert mine.design == replace(its.design, ports=tuple(free[p] for p in its.design.ports))
        assert mine.objectives.benefit == pytest.approx(its.objectives.benefit, abs=1e-9)
    assert found.unstable == 0 and len(found.singles.benefit) == len(expected.singles.benefit)


def test_the_best_of_each_count_alone_are_those_of_the_whole_search() -> None:
    study = random_study(12)
    found = search(study, 3)
    again = best_of_counts(study, 3, found.untreated)
    assert [one.design for one in again] == [one.design for one in found.best_of_count]
    assert best_of_counts(replace(study, excludes=np.eye(6, dtype=bool)), 2, found.untreated)[1:] == (None, None)
