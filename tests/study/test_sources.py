"""Places for loudspeakers and seats: reciprocity against direct simulations, a mode's node, pairs, which places there
are.

Rooms and positions are invented. Reciprocity: Rayleigh, Theory of Sound, sec. 109 and 294. Where a mode
is driven least: at its node (modal formula, Kuttruff, Room Acoustics, ch. 3).
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from rooms import box_plan, level_error, make_scene, resonant

from fdtd.analysis.response import free_field_reference
from fdtd.errors import FdtdError
from fdtd.model.excitations import make_excitation
from fdtd.model.problem import build_problem
from fdtd.physics.admittance import Branch
from fdtd.placement.objectives import make_axis
from fdtd.placement.steps import gained
from fdtd.scene.schema import Absorber, Block, Device, Rectangle, Scene
from fdtd.scene.shape import Shape
from fdtd.simulation.stepper import simulate
from fdtd.simulation.transfer import transfer_functions
from fdtd.study.floor import floor_places, stations
from fdtd.study.sources import MoveStudy, _score, seat_study, source_study
from fdtd.wording.names import on_screen
from fdtd.wording.places import position_text
from fdtd.wording.sources import _harms, advice, changes, choice_text

GRID = 0.25
DURATION = 1.6
ELL = ((0.0, 0.0), (4.2, 0.0), (4.2, 2.0), (2.4, 2.0), (2.4, 3.3), (0.0, 3.3))
WALLS = {
    "floor": (Branch(resistance=5000.0),),
    "ceiling": (resonant(9.0, 70.0, 3.0),),
    **{f"wall {n + 1}": (Branch(resistance=8000.0),) for n in range(6)},
}


@cache
def ell(sources: int = 2) -> Scene:
    """With an absorber that moves as one, and two different loudspeakers."""
    scene = make_scene(
        ELL,
        2.2,
        surfaces=WALLS,
        sources=[(0.5, 0.6, 0.4), (3.6, 1.2, 0.3)][:sources],
        seats=[(1.5, 2.4, 1.1), (3.0, 0.7, 1.1)],
        devices=[Device("trap", (resonant(3.0, 45.0, 2.0),))],
        absorbers=[Absorber("unit", "trap", "wall 6", Rectangle((0.0, 0.0), (0.4, 0.5)))],
    )
    variant = scene.variants[0]
    moved = [replace(s, level=-3.0 * k, polarity=1 - 2 * k) for k, s in enumerate(variant.sources)]
    run = replace(scene.run, duration=DURATION)
    return replace(scene, run=run, variants=(replace(variant, sources=tuple(moved)),))


@cache
def studied(pairs: bool) -> MoveStudy:
    return source_study(ell(), pairs=pairs, tolerance=None, spacing=0.6, grid=GRID)


def direct(scene: Scene, frequency: np.ndarray, positions: dict[str, tuple[float, float, float]]) -> np.ndarray:
    """(F, seat) of a simulation with the sources moved, relative to free field at 1 m."""
    variant = scene.variants[0]
    sources = [replace(s, at=positions.get(s.name, s.at)) for s in variant.sources]
    problem = build_problem(scene, variant, GRID)
    excitations = [make_excitation(scene, variant, problem, s.at) for s in sources]
    done = simulate(problem, excitations, [s.at for s in variant.seats], scene.run.max_frequency, DURATION)
    playback = np.stack([s.playback(frequency) for s in sources])
    together = np.einsum("srf,sf->fr", transfer_functions(done, frequency), playback)
    return together / (1j * free_field_reference(frequency, scene.air.density))[:, None]


def at(study: MoveStudy, place: int) -> tuple[float, float, float]:
    return tuple(float(v) for v in study.places[place])


def close(found: np.ndarray, exact: np.ndarray) -> float:
    """Largest level error in dB within 30 dB of the seats' maxima."""
    loud = np.abs(exact) > np.abs(exact).max(axis=0) * 10.0**-1.5
    return float(level_error(found, exact)[loud].max())


def test_a_place_is_what_a_simulation_from_it_gives() -> None:
    """Measured: 2e-11 dB. The two simulations differ in the order of their sums only."""
    study = studied(False)
    for choice in (study.choices[0], study.choices[-1]):
        exact = direct(ell(), study.frequency, {"source 0": at(study, choice.places[0])})
        assert close(study.response(choice), exact) < 1e-4
    assert close(study.now, direct(ell(), study.frequency, {})) < 1e-4


def test_a_pair_is_the_sum_of_its_places() -> None:
    """Same signal, in phase: the second plays what the first plays, not its own."""
    study = studied(True)
    assert study.moved == ("source 0", "source 1")
    assert len(study.choices) == len(study.places) * (len(study.places) - 1) // 2
    a, b = study.choices[0].places
    scene = ell()
    alike = tuple(replace(scene.variants[0].sources[0], name=f"source {k}") for k in range(2))
    scene = replace(scene, variants=(replace(scene.variants[0], sources=alike),))
    exact = direct(scene, study.frequency, {"source 0": at(study, a), "source 1": at(study, b)})
    assert close(study.response(study.choices[0]), exact) < 1e-4
    assert close(study.now, direct(ell(), study.frequency, {})) < 1e-4
    assert np.all(np.isfinite(study.benefit))


def test_choices_are_in_order_and_said() -> None:
    for study in (studied(False), studied(True)):
        benefits = [c.objectives.benefit for c in study.choices]
        assert benefits == sorted(benefits, reverse=True)
        text = " ".join(advice(study))
        assert "source 0" in text
        assert choice_text(study, study.choices[0]) in text or text.startswith("Leave")


def test_levels_are_matched_before_choices_are_compared() -> None:
    """All loudspeakers 6 dB softer: nothing but the level changes, and the volume control makes that up."""
    study = studied(False)
    axis = make_axis(study.frequency, [1.0, 1.0])
    nothing = np.zeros_like(study.staying)
    present, (softer,) = _score(0.5 * study.now[:, None], nothing, study.now, axis, [(0,)], lambda done, message: None)
    assert present.benefit == pytest.approx(0.0, abs=1e-9)
    assert softer.objectives.loss == pytest.approx(20.0 * np.log10(2.0))
    assert softer.objectives.benefit == pytest.approx(0.0, abs=1e-9)


def test_each_seat_that_changes_by_what_is_heard_has_its_clause() -> None:
    """Limens: 0.5 dB of standard deviation (ours), 1 dB of level (common practice), 5 % of decay (ISO 3382-1, A.1)."""
    study = studied(False)
    for choice in (study.choices[0], study.choices[-1]):
        found = gained(study.present, choice.objectives)
        told = on_screen(changes(study, choice))
        for k, name in enumerate(study.seats):
            audible = (
                abs(found.uneven_at[k]) >= 0.5 or abs(found.level_at[k]) >= 1.0 or abs(found.ringing_at[k]) >= 0.05
            )
            notes = any("more prominent" in harm for harm in _harms(study, choice, found)[k])
            assert (f"at '{name}' " in told) == (audible or notes)
    assert "at 'seat" in on_screen(changes(study, study.choices[-1]))


def test_the_advice_says_in_one_sentence_whom_it_harms() -> None:
    """The same pair as if it made one seat worse: a note 20 dB above the mean where there was none, and less even."""
    study = studied(True)
    best, now = study.choices[0], study.now.copy()
    k = int(np.argmax(np.abs(study.response(best)[:, 0])))
    now[k - 3 : k + 4, 0] *= 10.0 ** (-20.0 / 20.0) * np.abs(study.response(best)[k, 0] / now[k - 3 : k + 4, 0])
    worse = replace(study, now=now)
    first = on_screen(advice(worse)[0])
    assert re.search(rf", but at 'seat 0' .*dB more prominent at {study.frequency[k]:.0f} Hz", first)


def test_pairs_say_that_stereo_is_not_considered() -> None:
    assert any(line.startswith("Stereo is not considered") for line in advice(studied(True)))
    assert not any("tereo" in line for line in advice(studied(False)))


def test_with_one_source_a_pair_is_compared_with_it() -> None:
    study = source_study(ell(1), pairs=True, tolerance=None, spacing=0.9, grid=GRID)
    assert study.moved == ("source 0",) and not study.staying.any()
    assert close(study.now, direct(ell(1), study.frequency, {})) < 1e-4


def test_a_seat_place_is_what_a_simulation_to_it_gives() -> None:
    scene = ell()
    study = seat_study(scene, name="seat 1", spacing=0.7, grid=GRID)
    seats = (replace(scene.variants[0].seats[0], at=at(study, study.choices[0].places[0])),)
    moved = replace(scene, variants=(replace(scene.variants[0], seats=seats),))
    assert close(study.response(study.choices[0]), direct(moved, study.frequency, {})) < 1e-4
    figures = dict(study.seats_now)
    assert figures["seat 1"].benefit == pytest.approx(0.0) and set(figures) == {"seat 0", "seat 1"}
    assert study.present.spread == 0.0


def test_a_loudspeaker_belongs_on_the_node_of_the_one_mode_that_booms() -> None:
    """A narrow low duct of a room, 4.8 m long: below 60 Hz only the first mode along it (36 Hz) is there, and rings.

    The seats hear it at the end walls; driven from its nodal plane x = 2.4 m it is silent.
    """
    scene = make_scene(
        box_plan(4.8, 1.0),
        0.8,
        surfaces=(Branch(resistance=30000.0),),
        sources=[(0.4, 0.5, 0.3)],
        seats=[(4.5, 0.5, 0.4), (0.2, 0.3, 0.4)],
        max_frequency=60.0,
    )
    scene = replace(scene, run=replace(scene.run, duration=4.0))
    study = source_study(scene, spacing=0.35, from_wall=0.3, grid=0.2)
    x = study.places[[c.places[0] for c in study.choices], 0]
    assert abs(x[0] - 2.4) < 0.2
    ends = np.abs(study.places[:, 0] - 2.4) > 1.5
    assert ends.any() and study.benefit[ends].max() < study.choices[0].objectives.benefit - 2.0
    mode = int(np.argmin(np.abs(study.frequency - 343.2 / 9.6)))
    # At resonance the mode's part is imaginary; the real rest is the uniform pressure of a closed room.
    assert np.abs(study.response(study.choices[0])[mode].imag).max() < 0.02 * np.abs(study.now[mode].imag).max()


def test_places_keep_their_distances() -> None:
    scene = make_scene(
        ELL,
        2.2,
        blocks=[
            Block("chest", (2.0, 1.0, 0.0), (2.6, 1.6, 0.6), "rigid"),
            Block("shelf", (0.0, 2.0, 1.6), (0.4, 3.3, 2.0), "rigid"),
        ],
        seats=[(3.4, 1.0, 1.1)],
    )
    shape = Shape(scene.room)
    found = floor_places(scene, scene.variants[0], 0.3, spacing=0.4, from_wall=0.3, apart=((3.4, 1.0),))
    assert len(found) > 15
    for x, y, z in found:
        assert z == 0.3 and shape.covers(x, y)
        assert min(np.hypot(x - 3.4, y - 1.0) - 0.5, shape.wall_distance((x, y, 1.0)) - 0.3) > -1e-5
        gap = np.hypot(max(2.0 - x, x - 2.6, 0.0), max(1.0 - y, y - 1.6, 0.0))
        assert gap > 0.3 - 1e-5
    corners = [(0.3, 0.3), (3.9, 0.3), (0.3, 3.0), (2.1, 3.0), (3.9, 1.7)]
    assert all(np.hypot(found[:, 0] - x, found[:, 1] - y).min() < 1e-6 for x, y in corners)


def test_stations_hold_their_ends_and_are_no_farther_apart_than_asked() -> None:
    marks = stations(np.array([0.3, 2.1, 3.9, 3.95]), 0.4)
    assert marks[0] == 0.3 and marks[-1] == 3.95 and np.any(np.isclose(marks, 2.1))
    assert 0.1 < np.diff(marks).min() and np.diff(marks).max() <= 0.4 + 1e-9
    np.testing.assert_array_equal(stations(np.array([1.0, 1.0]), 0.4), [1.0])


def test_a_place_is_said_by_two_walls() -> None:
    words = position_text(Shape(ell().room), (0.5, 3.0, 0.3))
    assert words == "x = 0.50 m, y = 3.00 m (0.30 m from wall 5 and 0.50 m from wall 6)"


def test_what_cannot_be_asked_is_refused() -> None:
    with pytest.raises(FdtdError, match="no source 'tuba'.*source 0, source 1"):
        source_study(ell(), name="tuba")
    with pytest.raises(FdtdError, match="no seat 'throne'"):
        seat_study(ell(), name="throne")
    with pytest.raises(FdtdError, match="0 places on the floor are left"):
        source_study(ell(), from_wall=2.5)
    with pytest.raises(FdtdError, match="wider spacing"):
        source_study(ell(), pairs=True, spacing=0.1, from_wall=0.05)
    with pytest.raises(FdtdError, match="suits two channels at 'seat 0'.*larger tolerance"):
        source_study(ell(), pairs=True, spacing=1.5, tolerance=0.01)
