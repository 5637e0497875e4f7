"""Candidate places: where they are, what is left out, which exclude each other; and what is wrong with [spots].

Where units may be is our own rule (docs/scene.md), so what is checked here is geometry that can be done by hand.
"""

from __future__ import annotations

import random
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fdtd.errors import SceneError
from fdtd.scene.faces import Face, find_face
from fdtd.scene.read import read_scene, read_scene_text
from fdtd.scene.shape import Shape, cover, overlap
from fdtd.scene.spot_faces import positions
from fdtd.scene.spots import candidates, survey
from fdtd.wording.names import on_screen
from fdtd.wording.places import place_text

from .sample import edited, line_of

SHIPPED = Path(__file__).parents[2] / "scenes" / "l-shaped-living-room.toml"

ROOM = """
scene = 1
[room]
plan = {plan}
{ceiling}
[surfaces]
floor = "rigid"
ceiling = "rigid"
walls = "rigid"
[[sources]]
name = "box"
at = [0.31, 0.32, 0.33]
[[seats]]
name = "chair"
at = [1.9, 1.4, 1.2]
[devices.trap]
branches = [{{ mass = 5.0, resistance = 100.0, stiffness = 4e5 }}]
{more}
[spots]
device = "trap"
size = [0.4, 0.6]
{spots}
"""
L_PLAN = "[[0, 0], [4, 0], [4, 2], [2.5, 2], [2.5, 3], [0, 3]]"
BOX = "[[0, 0], [4, 0], [4, 3], [0, 3]]"


def room(spots: str = "", plan: str = BOX, ceiling: str = "height = 2.4", more: str = ""):
    """A small room with [spots]; 0.4 m wide and 0.6 m high traps."""
    return read_scene_text(ROOM.format(plan=plan, ceiling=ceiling, more=more, spots=spots))


def told(spots: str = "", **other: str) -> str:
    with pytest.raises(SceneError) as caught:
        room(spots, **other)
    return str(caught.value)


def columns(found, on: str) -> list[float]:
    """Left edges of the candidates of one surface."""
    return sorted({c.rectangle.lower[0] for c in found if c.on == on})


def rows(found, on: str) -> list[float]:
    return sorted({c.rectangle.lower[1] for c in found if c.on == on})


def test_flush_with_ends_and_floor_at_equal_steps() -> None:
    found = candidates(room("spacing = 1.0\non = ['wall 1']"))
    # 4.0 m wall, 0.4 m units: left edges from 0 to 3.6 in four steps of 0.9; 2.4 m high, 0.6 m units: 0 to 1.8 in two
    np.testing.assert_allclose(columns(found, "wall 1"), [0.0, 0.9, 1.8, 2.7, 3.6])
    np.testing.assert_allclose(rows(found, "wall 1"), [0.0, 0.9, 1.8])
    assert [c.number for c in found] == list(range(1, 16)) and found[6].name == "spot 7"
    assert [c.corner for c in found[:6]] == ["corner", "edge", "corner", "edge", "face", "edge"]
    assert place_text(found[0]) == "wall 1, in its corner with wall 4, on the floor; in a corner"
    assert place_text(found[4]) == "wall 1, 0.90 m from its corner with wall 4, 0.90 m above the floor"
    assert found[4].at == (1.1, 0.0, 1.2)


def test_height_is_the_range_of_the_whole_unit() -> None:
    found = candidates(room("height = [0.3, 1.1]\non = ['wall 2']\nspacing = 0.5"))
    np.testing.assert_allclose(rows(found, "wall 2"), [0.3, 0.5])
    assert not any(c.corner == "corner" for c in found)


def test_a_corner_that_sticks_out_is_no_corner() -> None:
    found = candidates(room("spacing = 5.0\nheight = [0, 0.6]", plan=L_PLAN))
    kinds = {(c.on, c.rectangle.lower[0]): c.corner for c in found}
    # Wall 3 runs from (4, 2) to the reflex corner (2.5, 2), wall 4 from there to (2.5, 3).
    assert kinds["wall 3", 0.0] == "corner" and kinds["wall 3", 1.1] == "edge"
    assert kinds["wall 4", 0.0] == "edge" and kinds["wall 4", 0.6] == "corner"
    outer = next(c for c in found if c.on == "wall 3" and c.rectangle.lower[0] == 1.1)
    assert place_text(outer) == "wall 3, at its outer corner with wall 4, on the floor; at an edge"
    assert not outer.excludes


def test_numbers_follow_the_walls() -> None:
    found = candidates(room("on = ['floor', 'wall 3', 'walls']\nspacing = 0.8", plan=L_PLAN))
    order = [c.on for c in found]
    assert order == sorted(order, key=lambda on: (on == "floor", on))
    for wall in range(1, 7):
        places = [c.rectangle.lower for c in found if c.on == f"wall {wall}"]
        assert places == sorted(places) and len(places) >= 4


def test_units_in_one_corner_exclude_each_other() -> None:
    found = candidates(room("spacing = 5.0"))
    by_place = {(c.on, c.rectangle.lower): c for c in found}
    first, last = by_place["wall 1", (0.0, 0.0)], by_place["wall 4", (2.6, 0.0)]  # both flush with the corner at (0, 0)
    assert first.excludes == (last.number,) and last.excludes == (first.number,)
    for one in found:
        assert all(one.number in found[k - 1].excludes for k in one.excludes)
        same = [c.number for c in found if c.on == one.on and c is not one and overlap(c.rectangle, one.rectangle) > 0]
        assert set(same) <= set(one.excludes)


def test_overlapping_places_on_one_wall_exclude_each_other() -> None:
    found = candidates(room("spacing = 0.3\non = ['wall 1']\nheight = [0, 0.6]"))
    assert len(found) == 13  # 3.6 m in twelve steps of 0.3 m
    assert [c.excludes for c in found[:3]] == [(2,), (1, 3), (2, 4)]


BLOCK = "[[blocks]]\nname = 'breast'\nfrom = [1.5, 0.0, 0.0]\nto = [2.3, 0.4, 2.4]\n"


def test_flush_beside_a_block_and_never_behind_it() -> None:
    found = candidates(room("spacing = 5.0\non = ['wall 1']\nheight = [0, 0.6]", more=BLOCK))
    np.testing.assert_allclose(columns(found, "wall 1"), [0.0, 1.1, 2.3, 3.6])
    assert [c.corner for c in found] == ["corner"] * 4
    assert on_screen(place_text(found[1])) == "wall 1, beside 'breast', on the floor; in a corner"


def test_sides_of_a_block() -> None:
    found = candidates(
        room("spacing = 5.0\non = ['block breast +y', 'block breast -x']\nheight = [0, 0.6]", more=BLOCK)
    )
    front = [c for c in found if c.on == "block breast +y"]
    np.testing.assert_allclose([c.rectangle.lower[0] for c in front], [1.5, 1.9])
    assert [c.corner for c in front] == ["edge", "edge"] and front[0].at == (1.7, 0.4, 0.3)
    (side,) = [c for c in found if c.on == "block breast -x"]  # as wide as the unit, from wall 1 to its free edge
    assert side.rectangle.lower == (0.0, 0.0) and side.corner == "corner" and side.at == (1.5, 0.2, 0.3)


def test_a_thin_partition_makes_corners_and_divides() -> None:
    thin_partition = "[[sheets]]\nname = 'screen'\nfrom = [2.0, 0.0, 0.0]\nto = [2.0, 1.0, 2.4]\n"
    found = candidates(room("spacing = 0.45\non = ['wall 1']\nheight = [0, 0.6]", more=thin_partition))
    lower = columns(found, "wall 1")
    assert 1.6 in lower and 2.0 in lower and not any(1.6 < u < 2.0 for u in lower)
    assert all(c.corner == "corner" for c in found if c.rectangle.lower[0] in (1.6, 2.0))
    opened = thin_partition + "openings = [{ from = [0.0, 0.0], to = [0.9, 2.0] }]\n"
    found = candidates(room("spacing = 0.45\non = ['wall 1']\nheight = [0, 0.6]", more=opened))
    assert all(c.corner == "edge" for c in found if c.rectangle.lower[0] in (1.6, 2.0))


PATCH = "[[patches]]\nname = 'window'\non = 'wall 1'\nfrom = [1.0, 0.9]\nto = [3.0, 2.0]\nmaterial = 'sash window'\n"


def test_patches_are_avoided_unless_allowed() -> None:
    spots = "on = ['wall 1']\nspacing = 0.6"
    every = len(candidates(room(spots)))
    found = candidates(room(spots, more=PATCH))
    assert not any(c.rectangle.upper[1] > 0.9 and 0.6 < c.rectangle.lower[0] < 3.0 for c in found)
    assert 0 < len(found) < every
    assert len(candidates(room(spots + "\navoid = []", more=PATCH))) == every
    assert len(candidates(room(spots + "\navoid = ['window']", more=PATCH))) == len(found)


def test_keep_clear_and_seats() -> None:
    spots = "on = ['wall 1']\nspacing = 0.4\nheight = [0, 0.6]\n"
    clear = candidates(room(spots + "keep_clear = [{ from = [1.0, 0.0], to = [2.0, 0.0] }]"))
    # 0.4 m wide units stay 0.2 m off: right edges up to 0.8, left edges from 2.2
    np.testing.assert_allclose(columns(clear, "wall 1"), [0.0, 0.4, 2.4, 2.8, 3.2, 3.6])
    seat = np.array([1.9, 1.4, 1.2])
    everywhere = candidates(room(spots))
    kept = candidates(room(spots + "seat_distance = 1.9"))
    expected = {c.at for c in everywhere if np.linalg.norm(np.array(c.at) - seat) >= 1.9}
    assert {c.at for c in kept} == expected and 0 < len(expected) < len(everywhere)


def test_absorbers_that_stay_are_in_the_way_unless_left_out() -> None:
    more = "[[absorbers]]\nname = 'old'\ndevice = 'trap'\n"
    more += "cabinet = { at = [3.5, 0.0, 0.0], size = [0.5, 0.5, 0.7], facing = '-x', opening = [0.3, 0.3] }\n"
    spots = "on = ['wall 1']\nspacing = 5.0\nheight = [0, 0.6]\n"
    scene = room(spots, more=more)
    np.testing.assert_allclose(columns(candidates(scene), "wall 1"), [0.0, 3.1])
    untreated = room(spots + "without = ['old']", more=more)
    assert untreated.spots.start.blocks == () and untreated.spots.start.absorbers == ()
    assert len(untreated.variants[0].blocks) == 1  # the variants themselves stay as they are
    np.testing.assert_allclose(columns(candidates(untreated), "wall 1"), [0.0, 3.6])


SLOPE = "ceiling = [[[0, 0, 0.9], [4, 0, 0.9], [0, 3, 2.4]]]"


def test_under_a_slope_only_where_the_face_fits() -> None:
    scene = room("spacing = 0.5", ceiling=SLOPE)
    found, shape = candidates(scene), Shape(scene.room)
    assert rows(found, "wall 1") == [0.0, 0.3]  # the knee wall is 0.9 m high
    for one in found:
        assert cover(shape.wall_outline(int(one.on[5:])), one.rectangle), one
    top = max(c.rectangle.upper[1] for c in found if c.on == "wall 2" and c.rectangle.lower[0] == 0.0)
    assert top == pytest.approx(0.9)  # at the low end of the gable, as high as the slope is there
    low = next(c for c in found if c.on == "wall 1" and c.rectangle.lower == (0.0, 0.3))
    assert low.corner == "corner" and "under the ceiling" in place_text(low)
    assert "above" not in told("height = [1.0, 1.7]\non = ['wall 1']", ceiling=SLOPE)


def test_a_sharp_corner_keeps_cabinets_off() -> None:
    plan = "[[0, 0], [4, 0], [2.5, 1.5], [2.5, 3], [0, 3]]"  # at (4, 0) walls 1 and 2 meet at 45 degrees
    found = candidates(room("on = ['wall 1']\nspacing = 5.0\ncabinet = { size = [0.4, 0.3, 0.6] }", plan=plan))
    assert columns(found, "wall 1")[-1] == pytest.approx(4.0 - 0.4 - 0.3)  # 0.3 m deep
    found = candidates(room("on = ['wall 1']\nspacing = 5.0", plan=plan))
    assert columns(found, "wall 1")[-1] == pytest.approx(3.6)


def test_cabinets() -> None:
    spots = "spacing = 5.0\nheight = [0, 0.8]\ncabinet = { size = [0.5, 0.3, 0.8] }"
    found = candidates(room(spots))
    one = next(c for c in found if c.on == "wall 1")
    assert one.rectangle.lower == (0.05, 0.1) and one.cabinet == ((0.0, 0.0, 0.0), (0.5, 0.3, 0.8))
    assert one.facing == "+y" and one.corner == "corner"
    unit, block = one.standing("trap", 0.5)
    assert unit.on == "block spot 1 cabinet +y" and unit.gain == 0.5
    assert unit.rectangle.lower == (0.05, 0.1) and unit.rectangle.upper == (0.45, 0.7)
    # The source stands at (0.31, 0.32): a cabinet 0.4 m deep before wall 1 would swallow it.
    deeper = candidates(room(spots.replace("0.3,", "0.4,")))
    assert all(c.cabinet[0][:2] != (0.0, 0.0) for c in deeper)
    assert "slanted" in told(spots + "\non = ['wall 3']", plan="[[0, 0], [4, 0], [4, 2], [0, 3]]")


def test_a_confirming_scene_can_be_built_from_a_candidate() -> None:
    scene = room("spacing = 5.0\nheight = [0, 0.8]\ncabinet = { size = [0.5, 0.3, 0.8] }", plan=L_PLAN)
    for one in candidates(scene):
        unit, block = one.standing("trap")
        shape = Shape(scene.room)
        face = find_face(unit.on, shape, [block], set())
        assert isinstance(face, Face) and face.share_in_air(shape, unit.rectangle, [block]) == 1.0
        middle = [0.5 * (a + b) for a, b in zip(block.lower, block.upper, strict=True)]
        assert shape.in_air((middle[0], middle[1], middle[2]), [])
        on_wall = one.absorber("trap")
        assert on_wall.on == one.on and on_wall.rectangle == one.rectangle


def test_floor_and_ceiling() -> None:
    found = candidates(room("on = ['ceiling', 'floor']\nspacing = 1.2", plan=L_PLAN))
    assert {c.on for c in found} == {"floor", "ceiling"}
    kinds = {(c.on, c.rectangle.lower): c.corner for c in found}
    assert kinds["floor", (0.0, 0.0)] == "corner" and kinds["floor", (0.0, 2.4)] == "corner"
    inside = Shape(room("", plan=L_PLAN).room)
    assert all(inside.outside_plan(c.rectangle) < 1e-9 for c in found)
    assert all(c.at[2] == (0.0 if c.on == "floor" else 2.4) for c in found)


@given(
    length=st.floats(0.5, 8.0),
    width=st.floats(0.1, 1.0),
    spacing=st.floats(0.1, 3.0),
    breaks=st.lists(st.floats(-1.0, 9.0), max_size=4),
)
@settings(max_examples=200)
def test_positions_are_flush_and_no_step_is_too_long(length, width, spacing, breaks) -> None:
    found = positions(0.0, length, width, spacing, breaks)
    if width > length + 1e-6:
        assert found == []
        return
    assert found[0] == 0.0 and found[-1] == pytest.approx(max(length - width, 0.0), abs=1.1e-3)
    assert all(0.0 < b - a <= spacing + 2e-3 for a, b in pairwise(found))
    for edge in breaks:
        for flush in (edge, edge - width):
            if 0.0 < flush < length - width:
                assert min(abs(p - flush) for p in found) < 1.1e-3


def test_candidates_of_random_rooms_are_free_and_sound() -> None:
    draw = random.Random(5)
    for _ in range(12):
        x, y = draw.uniform(2.0, 3.6), draw.uniform(1.4, 2.6)
        plan = f"[[0, 0], [4, 0], [4, {y:.2f}], [{x:.2f}, {y:.2f}], [{x:.2f}, 3], [0, 3]]"
        a, b = draw.uniform(0.4, 1.0), draw.uniform(0.3, 1.2)
        more = (
            f"[[blocks]]\nname = 'thing'\nfrom = [{a:.2f}, 0.0, 0.0]\nto = [{a + 0.5:.2f}, {b - 0.29:.2f}, {b:.2f}]\n"
        )
        scene = room(f"spacing = {draw.uniform(0.3, 1.5):.2f}\non = ['walls', 'ceiling']", plan=plan, more=more)
        shape, blocks = Shape(scene.room), scene.spots.start.blocks
        found = candidates(scene)
        for one in found:
            face = find_face(one.on, shape, blocks, set())
            assert isinstance(face, Face) and face.share_in_air(shape, one.rectangle, blocks) == 1.0, one
        assert [c.number for c in found] == list(range(1, len(found) + 1))
        assert sum(c.corner == "corner" for c in found) >= 10


def test_shipped_scene() -> None:
    scene = read_scene(SHIPPED)
    found = candidates(scene, scene.spots.start)
    assert len(found) >= 60 and scene.spots.count == 3 and len(scene.spots.gains) == 4
    assert not any("corner unit" in b.name for b in scene.spots.start.blocks) and not scene.spots.start.absorbers
    assert any(c.on == "wall 6" and c.corner == "corner" for c in found)  # where the shipped unit stands
    assert [d.name for d in scene.spots.devices] == ["active unit"] and not scene.warnings
    reasons = dict(survey(Shape(scene.room), scene.spots.start, scene.spots).left_out)
    assert 'over "hall door"' in reasons and 'covered by "cupboard"' in reasons


def test_defaults() -> None:
    spots = room().spots
    assert spots.on == ("wall 1", "wall 2", "wall 3", "wall 4") and spots.gains == (1.0,) and spots.count == 2
    assert spots.seat_weights == (("chair", 1.0),) and spots.height is None and spots.cabinet is None
    device = "[devices.can]\nkind = 'helmholtz'\nneck_area = 0.04\nneck_length = 0.05\nvolume = 0.1\n"
    text = ROOM.format(plan=BOX, ceiling="height = 2.4", more=device, spots="").replace("size = [0.4, 0.6]\n", "")
    assert read_scene_text(text.replace('device = "trap"', 'device = "can"')).spots.size == (0.2, 0.2)
    assert read_scene_text(edited()).spots is None


def test_candidates_need_no_drawing() -> None:
    code = "import sys, fdtd.scene.spots; print('matplotlib' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_a_scene_without_spots() -> None:
    scene = replace(room(), spots=None)
    with pytest.raises(ValueError, match="no \\[spots\\]"):
        candidates(scene)


BROKEN = [
    ("no device", 'device = "membrane"', "[spots]", ['"device" is missing', '"membrane"'], ""),
    ("unknown device", 'device = "membrame"', "device = ", ['did you mean "membrane"'], None),
    ("both", 'device = "membrane"\ndevices = ["membrane"]', "devices", ["keep one"], None),
    ("no size", 'device = "membrane"', "[spots]", ['"size" is missing', "[0.6, 1.2]"], None),
    ("size", "size = [0.4]", "size", ["2 numbers"], None),
    ("surface", 'on = ["wall 9"]', "on = ", ["6 walls", '"walls"'], None),
    ("block", 'on = ["block cupbord +x"]', "on = ", ['did you mean "cupboard"'], None),
    ("nothing", "on = []", "on = ", ["at least one"], None),
    ("spacing", "spacing = 0.01", "spacing", ["from 0.1 to 10 m"], None),
    (
        "dense",
        'spacing = 0.1\non = ["walls", "floor", "ceiling"]\navoid = []',
        "spacing",
        ["places", "larger"],
        None,
    ),
    ("height", "height = [1.4, 0.2]", "height", ["lowest point"], None),
    ("low range", "height = [0.2, 0.6]", "height", ["0.5 m high", "at least 0.7"], None),
    ("cabinet small", "cabinet = { size = [0.3, 0.3, 0.6] }", "cabinet", ["0.4 m wide"], None),
    ("cabinet key", "cabinet = { sise = [0.5, 0.3, 0.6] }", "cabinet", ['did you mean "size"'], None),
    ("cabinet floor", 'on = ["floor"]\ncabinet = { size = [0.5, 0.3, 0.6] }', "on = ", ["before a wall"], None),
    ("clear", "keep_clear = [{ from = [0, 0] }]", "keep_clear", ["two ends"], None),
    ("avoid", 'avoid = ["pation door"]', "avoid", ['did you mean "patio door"'], None),
    ("avoid a wall", 'avoid = ["wall 2"]', "avoid", ['leave it out of "on"'], None),
    ("count", "count = 5", "count", ["from 1 to 4"], None),
    ("gain", "gains = [0.5, 1.5]", "gains", ["item 2", "from 0 to 1"], None),
    ("no gain", "gains = []", "gains", ["from 1 to"], None),
    ("weights", 'seat_weights = { "sofer" = 2 }', "seat_weights", ['did you mean "sofa"'], None),
    ("no weight", 'seat_weights = { "sofa" = 0, "desk" = 0 }', "seat_weights", ["at least one seat"], None),
    ("budget", "budget = 500", "budget", ['"membrane" has no price', "price = 500.0"], None),
    ("variant", 'variant = "fited"', "variant = ", ['did you mean "fitted"'], None),
    ("without", 'without = ["cornr unit"]\nvariant = "fitted"', "without", ['did you mean "corner unit"'], None),
    ("patch on it", 'without = ["cupboard"]', "without", ["the room has a mistake", "no block"], None),
    ("key", "spacings = 0.5", "spacings", ['did you mean "spacing"'], None),
    ("no place", 'on = ["wall 2"]\nsize = [3.0, 2.4]', "[spots]", ["no place", "covered by", "cupboard"], None),
]


@pytest.mark.parametrize(("lines", "place", "words", "given"), [c[1:] for c in BROKEN], ids=[c[0] for c in BROKEN])
def test_mistakes_say_where_and_what_would_be_right(lines, place, words, given) -> None:
    device = "" if "device" in lines else 'device = "membrane"\n'
    size = "" if "size" in lines.split("cabinet")[0] or "missing" in words[0] else "size = [0.4, 0.5]\n"
    section = "[spots]\n" + ("count = 2\n" if given == "" else device + size + lines + "\n")
    text = edited(("[run]", section + "[run]"))
    with pytest.raises(SceneError) as caught:
        read_scene_text(text)
    start = text.index("[spots]")
    line = text[: start + text[start:].index(place)].count("\n") + 1
    message = next((p for p in caught.value.problems if f"line {line}," in p), "")
    assert message, str(caught.value)
    for word in words:
        assert word in message, str(caught.value)


def test_mistakes_of_spots_stand_beside_the_others() -> None:
    text = edited(("height = 2.5", "height = -1"), ("[run]", '[spots]\ndevice = "x"\ncount = 9\n[run]'))
    with pytest.raises(SceneError) as caught:
        read_scene_text(text)
    lines = [line_of(text, part) for part in ("height = -1", 'device = "x"', "count = 9")]
    told = [p for p in caught.value.problems if any(f"line {n}," in p for n in lines)]
    assert len(told) == 3
