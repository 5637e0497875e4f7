"""How sure a study is: a small box, 0.3 m cells, a plate on places at the walls; invented numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from study_rooms import trap_room

from fdtd.api.placement import save_placement
from fdtd.placement.objectives import Objectives
from fdtd.placement.study import Design
from fdtd.results.placement_reader import read_placement
from fdtd.results.placement_record import PlaceConfidence, Spread, Sureness, Unit, UnitsConfidence
from fdtd.scene.schema import Air, Material
from fdtd.simulation.device import DOUBLE
from fdtd.study.finished import finished
from fdtd.study.perturb import NONE, Doubt
from fdtd.study.place import PlacementStudy, place
from fdtd.study.place_answer import sureness
from fdtd.study.robust import WIDER, Robustness, carried_over, measure_rooms, perturbed, range_of, robustness
from fdtd.study.shortlist import Scores, shortlist
from fdtd.study.sure import safest
from fdtd.wording.ranking import ranking_text

SPACING = 0.3


@pytest.fixture(scope="module")
def study() -> PlacementStudy:
    return place(trap_room(0.5), execution=DOUBLE)


@pytest.fixture(scope="module")
def sure(study: PlacementStudy) -> Robustness:
    return robustness(study, perturbed_rooms=12, seed=3, spacing=SPACING, execution=DOUBLE)


def by_design(study: PlacementStudy, found: Robustness) -> list[tuple[Design, PlaceConfidence | UnitsConfidence]]:
    """What is known of each single place and of the best of each count."""
    counts = shortlist(study.found, study.places).counts[1:]
    return [*found.singles.items(), *zip(counts, found.sure.counts, strict=True)]


def figures_without_doubt(study: PlacementStudy, spacing: float) -> Iterator[tuple[Objectives, Objectives]]:
    """Figures of each design of the shortlist: the study's own, and carried over from a room with nothing in doubt."""
    chosen, own = shortlist(study.found, study.places), Scores(study.given)
    rooms = [perturbed(study, chosen.ports, NONE, (1, 0))] * 2
    scores = [Scores(given) for given in measure_rooms(study, chosen.ports, rooms, spacing, DOUBLE)]
    for design in (*chosen.counts, *chosen.singles):
        found = [score.of(chosen.local(design)) for score in scores]
        yield own.of(design), carried_over(found, own.of(design))[1]
        if spacing == study.spacing:
            yield own.of(design), found[1]


def test_the_shortlist_holds_places_apart_and_the_best_of_each_count(study: PlacementStudy) -> None:
    chosen = shortlist(study.found, study.places)
    assert chosen.singles[0] == study.found.best_of_count[1].design
    assert chosen.counts == tuple(s.design for s in study.found.best_of_count)
    numbers = [study.places[d.ports[0]].number for d in chosen.singles]
    for design in chosen.singles:
        assert not set(study.places[design.ports[0]].excludes) & set(numbers)
    assert len(chosen.ports) <= 10 and set(chosen.ports) >= {p for d in chosen.counts for p in d.ports}


def test_the_unperturbed_room_on_the_same_cells_gives_the_numbers_of_the_study(study: PlacementStudy) -> None:
    found = robustness(study, perturbed_rooms=2, spacing=SPACING, doubt=NONE, execution=DOUBLE)
    scores = Scores(study.given)
    for design, known in by_design(study, found):
        spread = known.benefit
        expected = [scores.of(design).benefit] * 4
        assert [spread.nominal, spread.low, spread.middle, spread.high] == pytest.approx(expected, abs=1e-6)
    for own, found_again in figures_without_doubt(study, SPACING):
        for name in ("benefit", "ringing", "uneven", "spread", "loss"):
            assert getattr(found_again, name) == pytest.approx(getattr(own, name), abs=1e-6)
    assert [c.adds.nominal for c in found.sure.counts] == pytest.approx(
        [s.gained.benefit for s in study.added], abs=1e-6
    )
    assert found.sure.robust and found.sure.singles[0].first == 1.0
    assert [c.audible for c in found.sure.counts] == [float(s.gained.audible) for s in study.added]


def test_larger_cells_move_no_figure_of_the_study(study: PlacementStudy) -> None:
    """A figure and its range are of one room model: without perturbations the range is the study's figure, whatever the
    cells; the two differed by what larger cells do, some tenths of a dB here."""
    assert study.spacing == SPACING
    coarse = robustness(study, perturbed_rooms=2, spacing=0.45, doubt=NONE, execution=DOUBLE)
    scores = Scores(study.given)
    for design, known in by_design(study, coarse):
        spread = known.benefit
        expected = [scores.of(design).benefit] * 3
        assert [spread.nominal, spread.low, spread.high] == pytest.approx(expected, abs=1e-9)
    for own, found_again in figures_without_doubt(study, 0.45):
        for name in ("benefit", "ringing", "uneven", "spread", "loss"):
            assert getattr(found_again, name) == pytest.approx(getattr(own, name), abs=1e-9)
    assert [c.adds.nominal for c in coarse.sure.counts] == pytest.approx(
        [s.gained.benefit for s in study.added], abs=1e-9
    )
    assert coarse.sure.robust and coarse.sure.singles[0].behind.nominal == 0.0


def test_what_is_carried_over_stays_what_it_is(study: PlacementStudy) -> None:
    """A share stays a share and no figure of ringing or unevenness falls below 0, however far the rooms differ."""
    own = Scores(study.given).untreated
    high = replace(own, ringing_share_at=np.ones_like(own.ringing_share_at), uneven=own.uneven + 3.0)
    low = replace(own, ringing_share_at=np.zeros_like(own.ringing_share_at), uneven=0.0, ringing=0.0)
    for nominal, one in ((low, high), (high, low)):
        first, second = carried_over([nominal, one], own)
        assert first.uneven == pytest.approx(own.uneven) and first.benefit == own.benefit
        assert np.all((second.ringing_share_at >= 0.0) & (second.ringing_share_at <= 1.0))
        assert second.uneven >= 0.0 and second.ringing >= 0.0


def test_no_figure_is_outside_its_range() -> None:
    """Where all perturbed rooms lie to one side of the room as described, the range reaches as far as that."""
    for nominal in (0.2, 3.0):
        found = range_of([nominal, 1.0, 1.1, 1.2, 1.4])
        assert found.nominal == nominal and found.low <= nominal <= found.high and found.low <= 1.0 <= 1.4 <= found.high


def test_the_same_seed_gives_the_same_answer(study: PlacementStudy, sure: Robustness) -> None:
    again = robustness(study, perturbed_rooms=2, seed=3, spacing=SPACING, execution=DOUBLE)
    np.testing.assert_allclose(again.benefit, sure.benefit[:2], atol=1e-7)
    other = robustness(study, perturbed_rooms=2, seed=4, spacing=SPACING, execution=DOUBLE)
    assert np.abs(other.benefit - again.benefit).max() > 0.01


def test_single_precision_tells_the_same(study: PlacementStudy, sure: Robustness) -> None:
    single = robustness(study, perturbed_rooms=2, seed=3, spacing=SPACING)
    np.testing.assert_allclose(single.benefit, sure.benefit[:2], atol=0.02)


def test_shares_and_ranges_are_those_of_the_draws(study: PlacementStudy, sure: Robustness) -> None:
    column = {design: k for k, design in enumerate(sure.designs)}
    singles = sure.benefit[:, [column[design] for design in sure.singles]]
    rank = (singles[:, :, None] < singles[:, None, :]).sum(axis=2)
    for k, spot in enumerate(sure.sure.singles):
        assert spot.first == np.mean(rank[:, k] == 0)
        assert spot.on_top == np.mean(rank[:, k] < 3)
        low, middle, high = np.quantile(singles[:, k], (0.1, 0.5, 0.9), method="weibull")
        low, high = middle - WIDER * (middle - low), middle + WIDER * (high - middle)
        b = spot.benefit
        ends = (min(low, b.nominal), middle, max(high, b.nominal))
        assert (b.low, b.middle, b.high) == pytest.approx(ends)
        assert spot.behind.middle == pytest.approx(np.median(singles[:, 0] - singles[:, k]))
    one, pair = shortlist(study.found, study.places).counts[1:3]
    added = sure.benefit[:, column[pair]] - sure.benefit[:, column[one]]
    assert sure.sure.counts[1].adds.middle == pytest.approx(np.median(added))


def test_the_result_file_tells_the_same(study: PlacementStudy, sure: Robustness, tmp_path: Path) -> None:
    done = finished(study, robustness=sure)
    known, read = sureness(done), read_placement(save_placement(done, tmp_path, figures=False)[0]).sureness
    assert known is not None and read == known
    assert ranking_text(read)[0].startswith("the ranking is ")


def test_small_doubts_spread_little_round_the_nominal_value(study: PlacementStudy, sure: Robustness) -> None:
    little = robustness(
        study,
        perturbed_rooms=12,
        spacing=SPACING,
        doubt=Doubt(0.02, 0.2, 0.01, 0.004, 0.004, 0.002, 0.0, 0.0),
        execution=DOUBLE,
    )
    for small, large in zip(little.sure.singles, sure.sure.singles, strict=True):
        b, wide = small.benefit, large.benefit
        assert b.low < b.nominal < b.high
        assert b.high - b.low < 0.3 * (wide.high - wide.low)


def test_warmer_air_is_a_stretched_frequency_axis(study: PlacementStudy) -> None:
    """Exact similarity for walls that are resistances in proportion to rho c: p(f; c1) from the simulation at c0."""
    ratio = 1.012
    scene = study.scene
    walls = tuple(Material(m.name, scene.material("boards").branches) for m in scene.materials)
    cold = replace(scene, materials=walls)
    warm = replace(
        cold,
        air=Air(scene.air.speed_of_sound * ratio, scene.air.density / ratio**2),
        materials=tuple(replace(m, branches=tuple(b.scaled(ratio) for b in m.branches)) for m in walls),
    )
    found = []
    for room, speed in ((cold, ratio), (warm, 1.0)):
        # Twice the time: both simulations end when next to nothing is left.
        run = replace(room.run, duration=2.5)
        here = replace(study, scene=replace(room, run=run))
        ports = shortlist(study.found, study.places).ports
        nominal = replace(perturbed(here, ports, NONE, (1, 0)), speed=speed)
        found += measure_rooms(here, ports, [nominal], SPACING, DOUBLE)
    # `untreated` and `driven` are relative to free field, which goes with the density.
    scale = {"untreated": ratio**2, "driven": ratio**2, "seats_from_ports": 1.0, "ports_from_ports": 1.0}
    for name, factor in scale.items():
        stretched, exact = getattr(found[0], name) * factor, getattr(found[1], name)
        assert np.abs(stretched - exact).max() < 2e-3 * np.abs(exact).max()


def test_a_study_needs_more_than_one_draw(study: PlacementStudy) -> None:
    with pytest.raises(ValueError, match="2 or more, not 1"):
        robustness(study, perturbed_rooms=1)


def spot(number: int, behind: float, low: float = 1.0, first: float = 0.5) -> PlaceConfidence:
    same = Spread(low + 1.0, low, low + 1.0, low + 2.0)
    gap = Spread(behind, behind, behind, behind)
    return PlaceConfidence(Unit(number, "box", 1.0), first, 1.0, gap, same)


def words(
    singles: list[PlaceConfidence], perturbed_rooms: int = 10, counts: tuple[UnitsConfidence, ...] = ()
) -> tuple[str, ...]:
    """What is said of a shortlist."""
    return ranking_text(Sureness(perturbed_rooms, 0.15, False, {}, tuple(singles), counts))


def test_an_unsure_ranking_is_said_first() -> None:
    told = words([spot(7, 0.0), spot(3, -0.1), spot(12, 0.0), spot(5, 0.4)])
    assert told[0].startswith(
        "the ranking is not robust: the first three places (spot 7, spot 3 and spot 12) differ by less than the "
        "uncertainty of the room; the most robust is spot 7"
    )
    assert "among the first three in 10 of 10" in told[0]
    apart = words([spot(7, 0.0), spot(3, 0.3), spot(12, -0.1)])[0]
    assert "not robust: spot 7 and spot 12 differ by less than" in apart and apart.endswith(
        "the other one is equally good"
    )


def test_a_sure_ranking_and_a_doubtful_gain_are_said_apart() -> None:
    told = words([spot(7, 0.0, low=-0.5, first=0.9), spot(3, 0.3)])
    assert told[0].startswith("the ranking is robust: spot 7 comes first of the shortlist in 9 of 10 ")
    some = words([spot(7, 0.0, first=2 / 3), spot(3, 0.3)], 3)[0]
    assert some.startswith("the ranking is fairly robust: ") and "first of the shortlist in 2 of 3" in some
    assert told[1].endswith("may do nothing at all")
    pair = UnitsConfidence(2, 0.3, spot(1, 0.0).benefit, Spread(0.4, 0.1, 0.3, 0.6))
    more = words([spot(7, 0.0), spot(3, 0.3)], counts=(pair,))[2]
    assert "two units: the last adds 0.4 dB, 10-90 % 0.1 to 0.6 dB, audible in 3 of 10" in more


@pytest.mark.parametrize("rooms", [9, 10, 20])
def test_a_further_room_lies_in_the_range_in_eight_of_ten_cases(rooms: int) -> None:
    """Of n + 1 alike rooms each is as likely to be the k-th (order statistics): exactly 0.8 between the tenths at n = 9
    and 19, before the ranges are widened. Tolerance: three standard deviations of 20,000 trials, and what the
    interpolation between ranks makes."""
    values = np.random.default_rng(5).gamma(2.0, size=(20_000, rooms + 1))
    spreads = [range_of(np.concatenate([[np.median(row[:-1])], row[:-1]])) for row in values]
    inside = np.mean(
        [
            (one.low - one.middle) / WIDER <= row[-1] - one.middle <= (one.high - one.middle) / WIDER
            for one, row in zip(spreads, values, strict=True)
        ]
    )
    assert inside == pytest.approx(0.8, abs=0.015)


def test_the_safest_place_has_the_highest_mean_of_nominal_and_median() -> None:
    """Three places that cannot be told apart: highest lower end, highest mean, highest median; one that is behind."""

    def known(nominal: float, low: float, middle: float, behind: float) -> PlaceConfidence:
        benefit = Spread(nominal, low, middle, middle + 1.0)
        return PlaceConfidence(Unit(1, "trap", 1.0), 0.5, 1.0, Spread(0.0, behind, 0.5, 1.0), benefit)

    first, mean = known(1.0, 0.9, 1.0, 0.0), known(1.3, 0.2, 0.9, -0.1)
    places = [first, mean, known(0.7, 0.1, 1.2, -0.1), known(9.0, 9.0, 9.0, 0.1)]
    assert safest(places) is mean
