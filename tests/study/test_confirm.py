"""A study's best and worst places and its winners, marched with the units built in; a small box, 0.3 m cells."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from study_rooms import active_room, trap_room

from fdtd.analysis.response import free_field_reference
from fdtd.placement.objectives import objectives
from fdtd.study.confirm import Confirmation, confirm
from fdtd.study.place import PlacementStudy, place, with_units
from fdtd.study.shortlist import Scores, ranked_singles
from fdtd.workflow import run


@pytest.fixture(scope="module")
def study() -> PlacementStudy:
    return place(trap_room(), precision="double")


@pytest.fixture(scope="module")
def confirmed(study: PlacementStudy) -> Confirmation:
    return confirm(study, 3, 3, precision="double")


def test_marches_come_out_in_the_predicted_order(study: PlacementStudy, confirmed: Confirmation) -> None:
    """0.01 dB: what the port model must meet in double precision (as in tests/exact/test_candidates.py)."""
    ranked = ranked_singles(study.found)
    assert [s.design for s in confirmed.singles] == [*ranked[:3], *ranked[-3:]]
    assert confirmed.same_order and confirmed.correlation == pytest.approx(1.0)
    assert confirmed.error < 0.01
    for one in (*confirmed.singles, *confirmed.winners):
        assert one.marched.benefit == pytest.approx(one.predicted.benefit, abs=1e-3)
    assert confirmed.winners[1].predicted.benefit == pytest.approx(study.added[1].scored.objectives.benefit)
    assert "6 places" in confirmed.words[0] and "predicted order" in confirmed.words[0]


def test_the_order_of_another_room_is_not_confirmed(study: PlacementStudy) -> None:
    """Predictions with seats elsewhere are wrong ones: the check must be able to fail."""
    elsewhere = ((0.5, 2.2, 0.4), (2.9, 0.4, 1.9))
    seats = tuple(replace(s, at=at) for s, at in zip(study.variant.seats, elsewhere, strict=True))
    moved = replace(study.spots, start=replace(study.variant, seats=seats))
    found = confirm(replace(study, spots=moved), 3, 3, precision="double")
    assert not found.same_order and found.correlation < 0.95 and found.error > 1.0
    assert "not in the predicted order" in found.words[0]


def test_winners_as_built_are_what_an_ordinary_run_gives(study: PlacementStudy, confirmed: Confirmation) -> None:
    designs = [step.scored.design for step in study.added]
    variants = [with_units(study, d, f"best of {len(d.ports)}") for d in designs]
    result = run(replace(study.scene, variants=(study.variant, *variants)), frequencies=())
    scores = Scores(study.given)
    rows = np.searchsorted(result.frequency, scores.given.frequency - 1e-6)
    np.testing.assert_allclose(result.frequency[rows], scores.given.frequency)
    flat = free_field_reference(result.frequency[rows], result.density)[:, None]
    bare, *rest = (v.transfer[0][:, rows].T / flat for v in result.variants)
    without = objectives(bare, scores.axis)
    for built, response in zip(confirmed.built, rest, strict=True):
        assert built.marched.benefit == pytest.approx(objectives(response, scores.axis, without).benefit, abs=1e-3)
        assert built.design == built.asked and built.units == ()
        assert "built in as it would stand" in built.words


def test_an_active_winner_is_tried_for_stability_in_its_cabinet() -> None:
    found = confirm(place(active_room(), precision="double"), 2, 2)
    (built,) = found.built
    assert found.same_order and built.marched is not None
    assert built.units[0].stability.stable and "of gain to spare" in built.words


def test_a_gain_that_would_oscillate_is_taken_down() -> None:
    study = place(active_room(20.0, 4.0), precision="double")
    found = confirm(study, 1, 1)
    assert not found.same_order and ("the field grew" in found.words[0] or "about to oscillate" in found.words[0])
    (built,) = found.built
    asked, used = (study.spots.gains[d.gains[0]] for d in (built.asked, built.design))
    assert used < asked and f"with gain {used:g}, because it would oscillate with gain {asked:g}" in built.words
    assert built.marched is not None


def test_a_unit_that_is_stable_at_no_gain_is_not_built() -> None:
    scene = active_room(20.0, 4.0)
    study = place(replace(scene, spots=replace(scene.spots, gains=(1.0,))), precision="double")
    (built,) = confirm(study, 1, 1).built
    assert built.marched is None and "not stable at any gain that was to be tried" in built.words
    assert "would oscillate" in built.words
