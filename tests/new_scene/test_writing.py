"""The first scene file: for every set of valid answers it reads back to them without a word, whatever the title."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from fdtd.library.surfaces import names as surface_names
from fdtd.new_scene import answers as read
from fdtd.new_scene.answers import AnswerError
from fdtd.new_scene.places import APART, CLEAR, HEADROOM
from fdtd.new_scene.questions import QUESTIONS
from fdtd.new_scene.writing import LOUDSPEAKERS, Answers, FirstSceneError, check_plan, first_scene
from fdtd.scene.read import LONGEST_TITLE, read_scene_text
from fdtd.scene.schema import Scene
from fdtd.scene.shape import Shape
from fdtd.scene.spots import candidates

MENUS = {question.key: question.menu for question in QUESTIONS}
LIBRARY = st.sampled_from(surface_names())
HOSTILE = "\"\"\"\\''' \x00\x07\x7f\x1b[31m \u202e]\n[room]\nplan = 1 # 🙂 \ud800"


def metres(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda v: round(v, 3))


@st.composite
def answers(draw: st.DrawFn) -> Answers:
    """Answers as the questions let them through."""
    shape = draw(st.sampled_from(["rectangle", "l-shape", "slope"]))
    room = draw(st.tuples(metres(*read.SIDE), metres(*read.SIDE)))
    height = draw(metres(*read.HEIGHT))
    plan, slope = read.rectangle_plan(room), None
    if shape == "l-shape":
        left = [round(side - read.NARROWEST, 3) for side in room]
        plan = read.l_plan(room, (draw(metres(0.1, left[0])), draw(metres(0.1, left[1]))))
    if shape == "slope":
        slope = draw(metres(read.LOW_WALL[0], round(height - 0.1, 3))), draw(metres(read.LOW_WALL[1], room[1]))
    return Answers(
        draw(st.one_of(st.text(min_size=1, max_size=LONGEST_TITLE), st.just(HOSTILE))),
        plan,
        height,
        draw(LIBRARY),
        draw(LIBRARY),
        draw(LIBRARY),
        slope,
        draw(st.sampled_from(list(LOUDSPEAKERS))),
        draw(st.integers(1, 2)),
        draw(st.sampled_from(list(MENUS["unit"]))),
    )


@settings(max_examples=25, deadline=None, derandomize=True, phases=[Phase.generate])
@given(answers())
def test_every_set_of_answers_reads_back_to_itself(given_: Answers) -> None:
    scene = read_scene_text(first_scene(given_), "room.toml")
    assert scene.warnings == ()
    assert np.array(scene.room.plan) == pytest.approx(np.array(given_.plan), abs=1e-6)
    shape, asked = Shape(scene.room), Shape(type(scene.room)(given_.plan, given_.planes))
    for x, y in given_.plan:
        assert shape.ceiling_at(x, y) == pytest.approx(asked.ceiling_at(x, y), abs=1e-6)
    assert shape.top == pytest.approx(given_.height, abs=1e-6)
    first, second = scene.variants
    assert dict(first.surfaces)["floor"] == given_.floor and dict(first.surfaces)["ceiling"] == given_.ceiling
    assert {m for s, m in first.surfaces if s.startswith("wall")} == {given_.walls}
    assert len(first.sources) == len(LOUDSPEAKERS[given_.loudspeakers]) and len(first.seats) == given_.seats
    assert first != second
    _check_places(scene)
    assert (scene.spots is None) == (given_.unit == "none")
    if scene.spots is not None:
        assert len(candidates(scene)) >= 1 and len(second.absorbers) == 1 and not first.absorbers


def _check_places(scene: Scene) -> None:
    """Loudspeakers and seats keep off the walls, the ceiling and each other (in a tight room: are not in one place)."""
    shape = Shape(scene.room)
    x0, y0, x1, y1 = shape.plan.bounds
    wide = min(x1 - x0, y1 - y0) > 2 * (CLEAR + APART) and len(scene.room.plan) == 4 and len(scene.room.ceiling) == 1
    things = [thing.at for thing in (*scene.variants[0].sources, *scene.variants[0].seats)]
    for k, at in enumerate(things):
        assert shape.wall_distance(at) > min(CLEAR, HEADROOM) - 0.02
        others = [math.dist(at[:2], other[:2]) for other in things[:k]]
        assert min(others, default=1.0) > (APART - 1e-9 if wide else 0.01)


def test_the_title_is_what_was_typed() -> None:
    """Straight through the TOML parser; the reader itself shows control characters as spaces."""
    import tomllib

    text = first_scene(_plain(title=HOSTILE))
    assert tomllib.loads(text)["title"] == HOSTILE.replace("\ud800", "?")
    assert text.count("[room]\n") == 1
    assert all(c.isprintable() or c == "\n" or c == "\u202e" for c in text)


def _plain(title: str = "Den", unit: str = "panel", slope: tuple[float, float] | None = None) -> Answers:
    materials = "timber floor on joists", "plasterboard ceiling under joists", "plastered masonry"
    return Answers(title, read.rectangle_plan((5.2, 4.1)), 2.5, *materials, slope=slope, unit=unit, seats=2)


@pytest.mark.parametrize("slope", [None, (1.0, 2.4)])
def test_the_examples_in_the_comments_can_be_used(slope: tuple[float, float] | None) -> None:
    """Take the comment marks off the window and the sofa, the wall of its own and the grid."""
    text = first_scene(_plain(slope=slope))
    lines = text.splitlines()
    used = []
    for line in lines:
        untreated = line.removeprefix("# ")
        used.append(untreated if line.startswith("# ") and re.match(r"\[|\"?[a-z_ 0-9]+\"? = ", untreated) else line)
    scene = read_scene_text("\n".join(used), "room.toml")
    things = scene.variants[0]
    assert [p.name for p in things.patches] == ["window"] and [f.name for f in things.porous_volumes] == ["sofa body"]
    assert [b.name for b in things.blocks] == ["chest"] and scene.run.grid == 0.15
    assert dict(things.surfaces)["wall 1"] == "plasterboard on studs"


def test_a_resonator_is_tuned_to_half_a_wave_along_the_room() -> None:
    from fdtd.physics.panels import HelmholtzResonator

    scene = read_scene_text(first_scene(_plain(unit="resonator")), "room.toml")
    assert scene.spots is not None
    design = scene.spots.devices[0].design
    assert isinstance(design, HelmholtzResonator)
    assert design.resonance(scene.air.medium) == pytest.approx(343.0 / (2 * 5.2), rel=0.02)


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        (((0, 0), (5, 5), (5, 0), (0, 4)), "crosses or touches itself"),
        (((0, 0), (5, 0), (5, 0.5), (0, 0.5)), "no place for the left loudspeaker"),
        (((0, 0), (5, 0), (5, 0), (0, 4)), "the same place as corner 2"),
    ],
)
def test_plans_that_are_no_room(plan: tuple[tuple[float, float], ...], said: str) -> None:
    with pytest.raises(FirstSceneError, match=said):
        check_plan(plan)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("5.2 x 4.1", (5.2, 4.1)),
        ("5.2x4.1", (5.2, 4.1)),
        ("5.2 m × 4.1 m", (5.2, 4.1)),
        ("5.2, 4.1", (5.2, 4.1)),
        ("5 4", (5.0, 4.0)),
        ("5m by 4m", (5.0, 4.0)),
        ("5 metres by 4 metres", (5.0, 4.0)),
        ("5, 4", (5.0, 4.0)),
        ("5,2m x 4,1m", (5.2, 4.1)),
        ("5 x 4 m", (5.0, 4.0)),
    ],
)
def test_sizes(text: str, value: tuple[float, float]) -> None:
    assert read.size(text) == value


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("520 x 410", "was this in centimetres. That would be 5.2 m"),
        ("5,2 x 4,1", "is it 5.2 x 4.1\\?"),
        ("5,2", "decimal point, not a comma"),
        ("17 ft x 13'9\"", "lengths are in metres: that is 5.18 x 4.19"),
        ("5000 x 4000 mm", "that is 5 x 4$"),
        ("500x400 cm", "that is 5 x 4$"),
        ("17 x 13 ft", "that is 5.18 x 3.96$"),
        ("520,5 by 410,5 cm", "that is 5.205 by 4.105$"),
        ("17 ft x 13", "give each its unit, or only the last one"),
        ("5 m x 400 cm", "that is 5 x 4$"),
        ("5.2", "enter length and width"),
        ("wide", 'found "wide"'),
        ("nan x 4", 'found "nan"'),
        ("1_0 x 4", "1_0"),
        ("520cm x 410cm", "lengths are in metres"),
        ("-5 x 4", "must be from 1.5 to 20 m"),
        ("1e9 x 4", "from 1.5 to 20"),
    ],
)
def test_sizes_refused(text: str, said: str) -> None:
    with pytest.raises(AnswerError, match=said):
        read.size(text)


def test_other_answers() -> None:
    assert read.corners("0,0 5,0 5,4 0,4 0,0") == ((0, 0), (5, 0), (5, 4), (0, 4))
    assert read.corners("[[0, 0], [5, 0], [5, 4]]") == ((0, 0), (5, 0), (5, 4))
    assert read.choice(" Carpet  on concrete", MENUS["floor"]) == "carpet on concrete"
    assert read.title("My\nroom\x1b[31m \u202e") == "My room [31m"
    assert read.choice("2", MENUS["shape"]) == "l-shape"
    for commas in ("0,0 4,2,0 4,2,3,3 0,3,3", "0 0 4,2 0 4,2 3,3", "0;0 4,2;0 4,2;3,3"):
        with pytest.raises(AnswerError, match="which commas are decimal ones"):
            read.corners(commas)
    for clear in ("[0, 0], [4.2,0], [4.2, 3]", "0 0, 4.2m 0, 4.2 3", "0,0; 4.2,0; 4.2,3", "0, 0, 4.2, 0, 4.2, 3"):
        assert read.corners(clear) == ((0, 0), (4.2, 0), (4.2, 3))
    with pytest.raises(AnswerError, match="lengths are in metres: that is 0,0 4.88,0 4.88,4.19"):
        read.corners("0,0 16',0 16',13'9\"")
    with pytest.raises(AnswerError, match="lengths are in metres: that is 0,0 5,0 5,4 0,4$"):
        read.corners("0,0 500,0 500,400 0,400 cm")
    with pytest.raises(AnswerError, match="lengths are in metres: that is 2.49"):
        read.height("8'2\"")
    for wrong in (
        lambda: read.corners("0,0 5,0 5"),
        lambda: read.choice("9", MENUS["shape"]),
        lambda: read.title(" "),
        lambda: read.title("x" * 201),
        lambda: read.notch("4.5 x 1", (5.0, 4.0)),
        lambda: read.slope("2.5 x 1", 4.0, 2.5),
        lambda: read.choice("²", MENUS["seats"]),
    ):
        with pytest.raises(AnswerError):
            wrong()
