"""Loudspeaker places and absorber places together against brute force: every loudspeaker place studied by itself.

Room, units and places are invented. Reciprocity: Rayleigh, Theory of Sound, sec. 109 and 294.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from study_rooms import active_room, trap_room

from fdtd.errors import FdtdError
from fdtd.placement.objectives import Objectives, compared, level_matched, make_axis, objectives
from fdtd.placement.study import Design, design_response
from fdtd.scene.schema import Scene, Source
from fdtd.scene.spots import candidates, too_near
from fdtd.simulation.device import DOUBLE
from fdtd.study.arrange import Arrangement, ArrangementStudy, arrangement_study
from fdtd.study.perturb import NONE, draw
from fdtd.study.place import PlacementStudy, place
from fdtd.study.shortlist import Scores
from fdtd.study.whole_arrangement import Option, Options, _by_option, _still_advised, options, whole_arrangement
from fdtd.wording.arrangements import advice, arrangement_table
from fdtd.wording.names import on_screen

PLACES = {"spacing": 1.4, "from_wall": 0.4}


@pytest.fixture(scope="module")
def study() -> ArrangementStudy:
    return arrangement_study(trap_room(0.8), **PLACES, execution=DOUBLE)


def by_itself(study: ArrangementStudy, arrangement: Arrangement) -> PlacementStudy:
    """The placement study of the scene with its loudspeakers moved, without reciprocity."""
    start = study.variant(arrangement)
    spots = replace(study.scene.spots, start=start)
    return place(replace(study.scene, spots=spots, variants=(start,)), execution=DOUBLE)


def against_now(study: ArrangementStudy, alone: PlacementStudy, design: Design) -> Objectives:
    scores = Scores(alone.given)
    seat = alone.given.weights / alone.given.weights.sum()
    return compared(scores.of(design), level_matched(study.present, scores.untreated.level), seat)


def test_every_combination_is_what_each_loudspeaker_place_gives_by_itself(study: ArrangementStudy) -> None:
    """1e-6 dB: the simulations differ in the order of their sums only. The best single unit by trying all of them."""
    assert len(study.others) == len(study.positions) >= 4 and len(study.places) >= 6
    brute = []
    for arrangement in (study.now, *study.others):
        alone = by_itself(study, arrangement)
        for scored in arrangement.best:
            expected = against_now(study, alone, scored.design)
            assert scored.objectives.benefit == pytest.approx(expected.benefit, abs=1e-6)
            assert scored.objectives.uneven_at == pytest.approx(expected.uneven_at, abs=1e-6)
        free = np.flatnonzero(~study.near[list(arrangement.sources)].any(axis=0))
        gains = range(len(study.spots.gains))
        singles = [against_now(study, alone, Design((int(p),), (0,), (g,))).benefit for p in free for g in gains]
        assert arrangement.best[1].objectives.benefit == pytest.approx(max(singles), abs=1e-6)
        brute.append(max(singles))
    ranked = [study.now, *study.others]
    order = sorted(range(len(ranked)), key=lambda k: -brute[k])
    assert [ranked[k] for k in order if k] == study.ranked(1)


def test_the_room_as_it_is_has_the_designs_of_a_placement_study(study: ArrangementStudy) -> None:
    alone = by_itself(study, study.now)
    assert not study.near[0].any(), "else the places differ"
    for mine, its in zip(study.now.best, alone.found.best_of_count, strict=True):
        assert mine.design == its.design
        assert mine.objectives.benefit == pytest.approx(its.objectives.benefit, abs=1e-6)
    assert study.now.best[0].objectives.benefit == 0.0


def test_of_two_loudspeakers_one_stays_or_both_play_the_same() -> None:
    scene = trap_room(0.8)
    second = Source("second", (2.9, 0.5, 0.5), level=-6.0, polarity=-1)
    start = replace(scene.spots.start, sources=(*scene.spots.start.sources, second))
    scene = replace(scene, spots=replace(scene.spots, start=start), variants=(start,))
    for pairs in (False, True):
        study = arrangement_study(scene, pairs=pairs, tolerance=None, **PLACES, execution=DOUBLE, most=1)
        best = study.others[0]
        playing = study.variant(best).sources
        assert len(playing) == 2 and study.moved == (("loudspeaker", "second") if pairs else ("loudspeaker",))
        assert [source.level for source in playing] == ([0.0, 0.0] if pairs else [-6.0, 0.0])
        alone = by_itself(study, best)
        design = best.best[1].design
        np.testing.assert_allclose(
            design_response(study.given(best), design),
            design_response(alone.given, design),
            atol=1e-6 * float(np.abs(alone.given.untreated).max()),
        )


def test_units_do_not_stand_in_a_loudspeakers_way() -> None:
    """By hand, of the first cabinet (0.4 m wide, 0.35 m deep, 0.6 m high) and of a face in a wall."""
    for scene in (active_room(), trap_room()):
        start, (first, *_) = scene.spots.start, candidates(scene)
        x, y, z = first.at
        corners = first.cabinet or ((x - 0.3, 0.0, first.bottom), (x + 0.3, 0.05, first.bottom + 0.8))
        (x0, y0, low), (x1, y1, high) = corners
        beside, before, above = x1 + 0.2, y1 + 0.2, high + 0.2
        points = [(beside, y1, z), (x, before, z), (x, y1, above)]
        near = too_near(scene, start, [first], points, 0.25)
        assert near == [[True], [True], [True]]
        assert too_near(scene, start, [first], points, 0.15) == [[False], [False], [False]]
    study = arrangement_study(trap_room(0.8), spacing=1.4, from_wall=0.15, execution=DOUBLE, most=1)
    assert study.near.any()
    for arrangement in study.others:
        barred = study.near[list(arrangement.sources)].any(axis=0)
        assert not barred[list(arrangement.best[1].design.ports)].any()


def given_benefits(now: list[float], other: list[float]) -> ArrangementStudy:
    """A study with so much benefit for 0, 1, 2 ... units, each audible."""

    def one(sources: tuple[int, ...], benefits: list[float]) -> Arrangement:
        axis = make_axis(np.array([20.0, 40.0, 80.0]), [1.0])
        flat = objectives(np.ones((3, 1), dtype=complex), axis)
        made = [SimpleNamespace(objectives=replace(flat, benefit=b, uneven_at=np.array([9.0 - b]))) for b in benefits]
        return Arrangement(sources, tuple(made))

    here, there = one((0,), now), one((1,), other)
    return SimpleNamespace(now=here, others=(there,), ranked=lambda count: [there])


@pytest.mark.parametrize(
    ("now", "other", "advised", "count"),
    [
        ([0.0, 0.1, 0.2], [0.4, 0.45, 0.45], "leaving", 0),
        ([0.0, 0.1, 0.2], [0.9, 1.0, 1.0], "moving", 0),
        ([0.0, 1.0, 1.2], [0.4, 1.4, 1.6], "adding", 1),
        ([0.0, 1.0, 1.2], [1.4, 2.4, 3.6], "both", 2),
        ([0.0, 1.0, 2.0], [0.9, 1.2, 1.3], "moving", 0),
        ([0.0, 0.1, 0.2], [0.0, 1.2, 1.3], "both", 1),
    ],
)
def test_what_is_advised(now: list[float], other: list[float], advised: str, count: int) -> None:
    """0.5 dB to move, and 0.5 dB of evenness for a unit that is heard (both ours)."""
    found = options(given_benefits(now, other))
    assert (found.advised, found.best.count) == (advised, count)
    assert found.moving[0].count == 0 and found.adding[0].count >= 1 and found.both[0].count >= 1


@pytest.mark.parametrize(
    ("moving", "adding", "both", "advised"),
    [(1.0, 0.5, 2.0, "both"), (1.0, 0.5, 1.2, "moving"), (0.6, 1.6, 2.0, "adding"), (1.0, 0.5, 0.9, "moving")],
)
def test_both_must_be_worth_it_for_the_safest_of_each_kind(
    moving: float, adding: float, both: float, advised: str
) -> None:
    """0.5 dB to move, and 0.5 dB of evenness for a unit that is heard; the first of each list is the safest."""

    def one(count: int, benefit: float) -> Option:
        study = given_benefits([0.0] * 2, [benefit] * 2)
        return Option(study.others[0], count)

    found = Options((one(0, moving),), (one(1, adding),), (one(1, both),), (one(0, 0.0),), "both")
    assert _still_advised(found) == advised


def test_the_perturbed_rooms_have_the_sources_and_units_of_each_option(study: ArrangementStudy) -> None:
    """With nothing perturbed, on the study's own cells, every option has the figures of the study."""
    chosen = [Option(one, n) for one in (study.others[0], study.now, study.others[2]) for n in (0, 2)]
    sources = sorted({k for option in chosen for k in option.arrangement.sources} | {0})
    ports = sorted({port for option in chosen for port in option.scored.design.ports})
    start = replace(study.spots.start, sources=tuple(study.sources[k] for k in sources))
    faces = [study.places[port].absorber("") for port in ports]
    room = draw(study.scene, start, study.spots.devices, faces, NONE, (1, 0))
    now, *given = _by_option(study, chosen, (sources, ports), room, 0.3, 0.8, DOUBLE, lambda done, message: None)
    axis = make_axis(now.frequency, now.weights)
    present = objectives(now.untreated, axis)
    for option, one in zip(chosen, given, strict=True):
        design = option.scored.design
        local = replace(design, ports=tuple(ports.index(port) for port in design.ports))
        against = level_matched(present, objectives(one.untreated, axis).level)
        found = objectives(design_response(one, local), axis, against)
        assert found.benefit == pytest.approx(option.scored.objectives.benefit, abs=1e-6)


def test_the_whole_study_is_said_and_its_trial_agrees() -> None:
    """0.3 dB: walls and units as installed have cells of their own (0.3 m), as in test_confirm.py."""
    done = whole_arrangement(trap_room(), **PLACES, execution=DOUBLE, perturbed_rooms=2)
    best = done.options.best
    assert done.simulated == pytest.approx(best.scored.objectives.benefit, abs=0.3)
    for option in (*done.options.moving, *done.options.adding, *done.options.both):
        known = option.benefit
        assert known.nominal == pytest.approx(option.scored.objectives.benefit, abs=1e-9)
        assert known.low <= known.nominal <= known.high and known.low <= known.middle <= known.high
    scores = [option.score for option in done.options.moving]
    assert scores == sorted(scores, reverse=True)
    said = on_screen("\n".join(advice(done)))
    assert said.startswith("In short:") and "The loudspeaker alone: x = " in said and "Units alone: " in said
    assert "Simulated as installed: " in said and "2 were simulated" in said and len(said.splitlines()) <= 12
    rows = arrangement_table(done.study).rows
    assert len(rows) == 1 + len(done.study.others) and rows[0][:2] == (0, 0.6)


def test_what_cannot_be_asked_is_refused() -> None:
    scene: Scene = trap_room(0.8)
    with pytest.raises(FdtdError, match=r"no \[spots\]"):
        arrangement_study(replace(scene, spots=None))
    with pytest.raises(FdtdError, match="there is no source 'flute'"):
        arrangement_study(scene, name="flute")
