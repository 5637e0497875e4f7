"""A study's best and worst places and its winners, simulated with the units built in; a small box, 0.3 m cells."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from study_rooms import active_room, trap_room

from fdtd.analysis.response import free_field_reference
from fdtd.api.placement import save_placement
from fdtd.errors import StabilityError
from fdtd.model.excitations import Excitation
from fdtd.model.problem import Problem
from fdtd.placement.objectives import objectives
from fdtd.results.placement_reader import read_placement
from fdtd.simulation.device import DOUBLE
from fdtd.study import built
from fdtd.study import place as placing
from fdtd.study.built import margin_db
from fdtd.study.confirm import Confirmation, confirm, order, simulated_benefit
from fdtd.study.design_figures import switched_off
from fdtd.study.finished import finished
from fdtd.study.place import ENOUGH_MARGIN, PlacementStudy, place, with_units
from fdtd.study.place_answer import answer, searched, trials
from fdtd.study.shortlist import Scores, ranked_singles
from fdtd.wording.trials import GREW, trial_text
from fdtd.wording.units import further
from fdtd.workflow import run


@pytest.fixture(scope="module")
def study() -> PlacementStudy:
    return place(trap_room(), execution=DOUBLE)


def words(study: PlacementStudy, found: Confirmation) -> tuple[str, ...]:
    """What is said of it: of the places on the wall, then of each design as it was built."""
    return trial_text(trials(finished(study, confirmation=found)), study.spots, study.places)


def order_of(found: Confirmation) -> tuple[float, bool]:
    """Rank correlation of the places on the wall, predicted against simulated, and whether the order is the same."""
    return order([(one.predicted.benefit, simulated_benefit(one)) for one in found.singles])


def largest_error(found: Confirmation) -> float:
    """dB, over all that was simulated on the wall."""
    return max(one.error for one in (*found.singles, *found.winners) if one.simulated is not None)


@pytest.fixture(scope="module")
def confirmed(study: PlacementStudy) -> Confirmation:
    return confirm(study, 3, 3, execution=DOUBLE)


def test_simulations_come_out_in_the_predicted_order(study: PlacementStudy, confirmed: Confirmation) -> None:
    """0.01 dB: what the port model must meet in double precision (as in tests/exact/test_candidates.py)."""
    ranked = ranked_singles(study.found)
    assert [s.design for s in confirmed.singles] == [*ranked[:3], *ranked[-3:]]
    assert order_of(confirmed) == (pytest.approx(1.0), True)
    assert largest_error(confirmed) < 0.01
    for one in (*confirmed.singles, *confirmed.winners):
        assert one.simulated.benefit == pytest.approx(one.predicted.benefit, abs=1e-3)
    assert confirmed.winners[1].predicted.benefit == pytest.approx(study.added[1].scored.objectives.benefit)
    told, *_ = words(study, confirmed)
    assert "6 places" in told and "the order is as predicted" in told


def test_the_result_file_tells_the_same(study: PlacementStudy, confirmed: Confirmation, tmp_path: Path) -> None:
    """Sentences are made from the numbers of the file and its scene: none may be lost on the way."""
    done = finished(study, confirmation=confirmed)
    read = read_placement(save_placement(done, tmp_path, figures=False)[0])
    assert repr(read.trials) == repr(trials(done))  # NaN is not equal to itself
    assert trial_text(read.trials, study.spots, study.places) == words(study, confirmed)
    assert repr((read.answer, read.searched)) == repr((answer(done), searched(study)))


def test_the_order_of_another_room_is_not_confirmed(study: PlacementStudy) -> None:
    """Predictions with seats elsewhere are wrong ones: the check must be able to fail."""
    elsewhere = ((0.5, 2.2, 0.4), (2.9, 0.4, 1.9))
    seats = tuple(replace(s, at=at) for s, at in zip(study.variant.seats, elsewhere, strict=True))
    moved = replace(study.spots, start=replace(study.variant, seats=seats))
    found = confirm(replace(study, spots=moved), 3, 3, execution=DOUBLE)
    correlation, same = order_of(found)
    assert not same and correlation < 0.95 and largest_error(found) > 1.0
    assert "not in the predicted order" in words(study, found)[0]


def test_winners_as_built_are_what_an_ordinary_run_gives(study: PlacementStudy, confirmed: Confirmation) -> None:
    designs = [step.scored.design for step in study.added]
    variants = [with_units(study, d, f"best of {len(d.ports)}") for d in designs]
    result = run(replace(study.scene, variants=(study.variant, *variants)), frequencies=())
    scores = Scores(study.given)
    rows = np.searchsorted(result.frequency, scores.given.frequency - 1e-6)
    np.testing.assert_allclose(result.frequency[rows], scores.given.frequency)
    flat = free_field_reference(result.frequency[rows], result.density)[:, None]
    untreated, *rest = (v.transfer[0][:, rows].T / flat for v in result.variants)
    without = objectives(untreated, scores.axis)
    for tried, response in zip(confirmed.built, rest, strict=True):
        assert tried.simulated.benefit == pytest.approx(objectives(response, scores.axis, without).benefit, abs=1e-3)
        assert tried.design == tried.asked and tried.units == ()
    assert all("simulated as installed" in told for told in words(study, confirmed)[1:])


def test_a_room_that_can_not_be_simulated_ends_nothing(
    study: PlacementStudy, confirmed: Confirmation, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The field of the pair grows: it is told which design that was, and the other one is simulated all the same."""
    simulate = built.seats_of

    def seats(study: PlacementStudy, problem: Problem, excitations: list[Excitation], *rest: object) -> object:
        if any(len(excitation.diaphragms) > 1 for excitation in excitations):
            raise StabilityError("the field grew")
        return simulate(study, problem, excitations, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(built, "seats_of", seats)
    found = confirm(study, 1, 1, execution=DOUBLE)
    one, two = found.built
    assert two.simulated is None and two.grew
    assert words(study, found)[2].startswith("2 units, spot ") and GREW in words(study, found)[2]
    assert one.simulated.benefit == pytest.approx(confirmed.built[0].simulated.benefit, abs=1e-9)
    told = further(finished(study, confirmation=found), study.added[1])
    assert "could not be simulated as installed" in told and "oscillate" not in told


def test_a_design_besides_the_winners_is_built_too(study: PlacementStudy) -> None:
    other = ranked_singles(study.found)[1]
    found = confirm(study, 1, 1, also=(other,))
    assert [b.asked for b in found.built] == [*(step.scored.design for step in study.added), other]
    assert found.built[-1].simulated.benefit == pytest.approx(found.built[-1].predicted.benefit, abs=0.3)


def test_an_active_winner_is_tried_for_stability_in_its_cabinet() -> None:
    study = place(active_room(), execution=DOUBLE)
    found = confirm(study, 2, 2)
    (tried,) = found.built
    assert order_of(found)[1] and tried.simulated is not None
    assert tried.units[0].stability.stable and "of gain to spare" in words(study, found)[1]


def test_units_without_power_are_what_a_search_at_gain_0_finds() -> None:
    """The same room with gain 0 alone in its list, and against the same with power."""
    study = place(active_room(), execution=DOUBLE)
    best = study.added[0].scored
    off = place(replace(study.scene, spots=replace(study.spots, gains=(0.0,))), execution=DOUBLE)
    (port,) = best.design.ports
    (row,) = np.flatnonzero(off.found.singles.ports[:, 0] == port)
    without = float(off.found.singles.benefit[row])
    assert switched_off(study, best.design) == pytest.approx(without, abs=1e-6)
    assert abs(best.objectives.benefit - without) > 0.01, "else the room does not tell them apart"


def test_units_that_need_no_power_have_no_figure_without_it(study: PlacementStudy) -> None:
    assert np.isnan(switched_off(study, study.added[0].scored.design))


def test_a_gain_that_would_oscillate_is_not_chosen() -> None:
    study = place(active_room(20.0, 4.0), execution=DOUBLE)
    (step,) = study.added
    gain, (port,), (kind,) = study.spots.gains[step.scored.design.gains[0]], step.scored.design.ports, (0,)
    assert gain < study.spots.gains[-1] and study.given.limits is not None
    assert study.given.limits.critical((port,), (kind,)) >= study.given.margin * gain
    found = confirm(study, 1, 1)
    assert found.built[0].asked == found.built[0].design and found.built[0].simulated is not None


def test_a_gain_that_would_oscillate_is_taken_down(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where critical gains are not known beforehand, as on cells too large for the loops."""
    monkeypatch.setattr(placing, "limits", lambda *given: None)
    study = place(active_room(30.0, 4.0), execution=DOUBLE)
    found = confirm(study, 1, 1)
    on_wall, as_built = words(study, found)
    assert not order_of(found)[1] and ("the field grew" in on_wall or "close to oscillating" in on_wall)
    (tried,) = found.built
    asked, used = (study.spots.gains[d.gains[0]] for d in (tried.asked, tried.design))
    assert used < asked and f"with gain {used:g}, because it would oscillate with gain {asked:g}" in as_built
    assert tried.simulated is not None
    assert margin_db(tried) >= ENOUGH_MARGIN or tried.design.gains == (0,)  # lowered on until enough is left


def test_a_unit_that_is_stable_at_no_gain_is_not_built() -> None:
    scene = active_room(20.0, 4.0)
    study = place(replace(scene, spots=replace(scene.spots, gains=(1.0,))), execution=DOUBLE)
    found = confirm(study, 1, 1)
    (tried,), told = found.built, words(study, found)[1]
    assert tried.simulated is None and not tried.grew and "unstable at every gain tried" in told
    assert "would oscillate" in told
