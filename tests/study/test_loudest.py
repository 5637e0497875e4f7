"""Where it is loudest: against the modal formula in a box, and how it compares with where a unit is best.

Pressure of a mode of a rigid box is a product of cosines, largest in the corners (Kuttruff, Room Acoustics, ch. 3).
Rooms are invented.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from rooms import box_plan, make_scene

from fdtd.physics.admittance import Branch
from fdtd.placement.objectives import ringing_limit
from fdtd.scene.schema import Scene
from fdtd.scene.shape import Shape
from fdtd.study.loudest import LoudestMap, agreement_with_best, loudest, worst_tone
from fdtd.wording.loudest import agreement_text, describe, tone_text
from fdtd.wording.places import spot_text

SIZE = (4.6, 3.1, 2.3)
FIRST = 343.2 / 2.0 / SIZE[0]
"""Hz, of the first mode along x."""


@cache
def box() -> Scene:
    scene = make_scene(
        box_plan(*SIZE[:2]),
        SIZE[2],
        surfaces=(Branch(resistance=40000.0),),
        sources=[(0.5, 0.6, 0.3)],
        seats=[(3.6, 2.0, 1.1)],
    )
    return replace(scene, run=replace(scene.run, duration=4.0))


@cache
def first_mode() -> LoudestMap:
    return loudest(box(), frequency=FIRST, grid=0.25)


def test_levels_over_the_walls_are_those_of_the_mode() -> None:
    """Tolerance: what other modes add at its resonance, some 5 % of its maximum."""
    found = first_mode()
    expected = np.abs(np.cos(np.pi * found.at[:, 0] / SIZE[0]))
    # On the end walls the cells' middles, half a cell off, are meant.
    inside = np.clip(found.at[:, 0], 0.1, SIZE[0] - 0.1)
    expected = np.abs(np.cos(np.pi * inside / SIZE[0]))
    pressure = 10.0 ** (found.level / 20.0)
    assert np.abs(pressure - expected / expected.max()).max() < 0.06


def test_rows_lie_on_their_surfaces() -> None:
    found = first_mode()
    names = np.array(found.surface)
    assert set(names) == {"floor", "wall 1", "wall 2", "wall 3", "wall 4"}
    assert np.all(found.at[names == "floor", 2] == 0.0)
    np.testing.assert_allclose(found.at[names == "wall 2", 0], SIZE[0])
    np.testing.assert_allclose(found.at[names == "wall 3", 1], SIZE[1])
    assert found.level.max() == pytest.approx(0.0, abs=1e-9)


def test_a_wall_that_is_loud_all_over_is_one_spot() -> None:
    spots = first_mode().spots
    assert {spot.whole for spot in spots[:2]} == {("wall 2",), ("wall 4",)}
    text = "\n".join(describe(first_mode(), Shape(box().room)))
    assert f"Tone: {FIRST:g} Hz" in text and "all over wall 2" in text and "At the seats" in text


def test_an_oblique_mode_is_loudest_in_the_corners() -> None:
    f = 343.2 / 2.0 * np.sqrt(sum(1.0 / s**2 for s in SIZE))
    found = loudest(box(), frequency=float(f), grid=0.25)
    corners = {spot_text(Shape(box().room), spot)[0] for spot in found.spots[:4]}
    assert len(corners) == 4 and all(c.startswith("corner of wall") for c in corners)


def test_the_program_finds_the_tone_itself() -> None:
    found = loudest(box(), grid=0.3)
    assert found.tone is not None and found.tone.decay_time > ringing_limit(found.tone.frequency)
    assert "times the published threshold" in tone_text(found.tone)
    np.testing.assert_allclose(found.frequency, [found.tone.frequency])


def test_a_band_is_the_mean_of_its_tones() -> None:
    found = loudest(box(), frequency=(FIRST - 3.0, FIRST + 3.0), grid=0.3)
    assert len(found.frequency) > 10 and found.level.max() == pytest.approx(0.0, abs=1e-9)
    assert "Pink noise" in describe(found, Shape(box().room))[0]


def response(modes: list[tuple[float, float, float]]) -> tuple[np.ndarray, np.ndarray]:
    """Modes of (frequency Hz, decay time s, level dB at the peak re free field) at one seat."""
    axis = np.arange(10.0, 200.0, 0.125)
    total = np.zeros(len(axis), dtype=complex)
    for f, t60, level in modes:
        delta = 3.0 * np.log(10.0) / t60
        omega, own = 2.0 * np.pi * axis, 2.0 * np.pi * f
        total += 10.0 ** (level / 20.0) * f * 2.0 * delta * 1j * omega / (own**2 - omega**2 + 2j * delta * omega)
    return axis, total[:, None]


def test_the_worst_tone_rings_long_and_is_heard() -> None:
    """Decay time of an isolated peak: 3 ln(10)/delta (Kuttruff, ch. 3); 10 %, for the neighbours."""
    tone = worst_tone(*response([(35.0, 1.0, 0.0), (60.0, 1.6, -3.0), (120.0, 1.5, -30.0)]))
    assert tone.frequency == pytest.approx(60.0, abs=0.2)
    assert tone.decay_time == pytest.approx(1.6, rel=0.1)
    # Nothing rings: the loudest.
    tone = worst_tone(*response([(35.0, 0.5, 0.0), (80.0, 0.2, -3.0)]))
    assert tone.frequency == pytest.approx(35.0, abs=0.5) and "below the published threshold" in tone_text(tone)


def test_agreement_is_said_in_words() -> None:
    rng = np.random.default_rng(4)
    level = rng.uniform(-30.0, 0.0, 60)
    assert agreement_with_best(level, 0.1 * level + 3.0).correlation == pytest.approx(1.0)
    near = level + rng.normal(0.0, 0.5, 60)
    assert "loudest places are among the best" in agreement_text(agreement_with_best(level, near))
    # The four loudest are the best, in a room where level says nothing of the other places.
    benefit = rng.uniform(0.0, 1.0, 60)
    benefit[np.argsort(-level)[:4]] += 2.0
    top = agreement_with_best(level, benefit)
    assert agreement_text(top).startswith("nearly: in this room the loudest places are among the best")
    assert top.correlation < 0.4
    only = rng.permutation(np.argsort(np.argsort(-level)) % 7.0)
    only[np.argsort(-level)[:6]] = [9.0, -1.0, -1.0, -1.0, -1.0, -1.0]
    assert "but other loud places are not" in agreement_text(agreement_with_best(level, only))
    assert "no guide" in agreement_text(agreement_with_best(level, rng.normal(size=60)))
    assert "worse ones" in agreement_text(agreement_with_best(level, -level))
    assert np.isnan(agreement_with_best(level[:3], level[:3]).correlation)
    assert np.isnan(agreement_with_best(level, np.ones(60)).correlation)


def test_level_at_a_face_is_that_of_the_cells_before_it() -> None:
    ends, middle = first_mode().level_at([(0.0, 1.5, 1.0), (SIZE[0] / 2.0, 0.0, 1.0)])
    assert ends > -3.0 and middle < -15.0


def test_the_figure_shows_floor_and_walls() -> None:
    from fdtd.show.loudest import draw_loudest

    found, scene = first_mode(), box()
    spots = [(spot.at, spot.surfaces) for spot in found.spots]
    figure = draw_loudest(scene, scene.variants[0], found.surface, found.at, found.level, spots, "36 Hz")
    floor, walls = figure.axes[:2]
    numbers = {text.get_text() for text in floor.texts}
    assert {str(k + 1) for k in range(len(spots))} <= numbers
    assert {"wall 1", "wall 4"} <= {text.get_text().split("\n")[0] for text in walls.texts}
    (image,) = [c for c in floor.collections if c.get_array() is not None]
    assert np.nanmax(image.get_array()) == pytest.approx(found.level[np.array(found.surface) == "floor"].max())


def test_a_spot_beside_the_loudspeaker_says_so() -> None:
    found = loudest(box(), frequency=50.0, grid=0.25)
    assert any(spot.beside == "source 0" for spot in found.spots)
