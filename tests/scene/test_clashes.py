"""Things that take up the same space, and points outside the plan. Invented numbers."""

from __future__ import annotations

import pytest

from fdtd.errors import SceneError
from fdtd.scene.read import read_scene_text

from .sample import edited

AT = "at = [0.1, 4.6, 0.0]"
"""The cabinet of the corner unit, 0.4 m x 0.5 m x 0.7 m."""
SEAT = "at = [5.0, 1.6, 1.1]"


def told(*edits: tuple[str, str]) -> tuple[str, ...]:
    """All mistakes, or else all warnings."""
    try:
        return read_scene_text(edited(*edits)).warnings
    except SceneError as error:
        return error.problems


def thing(kind: str, lines: str) -> tuple[str, str]:
    return "[[fills]]", f'[[{kind}]]\nname = "shelf"\n{lines}\n\n[[fills]]'


@pytest.mark.parametrize(
    ("low", "high"),
    [("[0.0, 4.5, 0.0]", "[0.6, 5.2, 2.0]"), ("[0.2, 4.7, 0.1]", "[0.3, 4.8, 0.2]"), ("[0.4, 4.0, 0]", "[1, 5, 0.5]")],
    ids=["all around it", "inside it", "across a corner"],
)
def test_a_cabinet_in_a_block(low: str, high: str) -> None:
    (problem,) = told(thing("blocks", f"from = {low}\nto = {high}"))
    assert '[[absorbers]] "corner unit", key "cabinet": found [0.1, 4.6, 0] to [0.5, 5.1, 0.7]' in problem
    assert 'it overlaps the block "shelf" by' in problem and "move one of them" in problem
    assert 'on = "block shelf .."' in problem


def test_a_cabinet_on_or_beside_a_block() -> None:
    assert told(thing("blocks", "from = [0.5, 4.6, 0.0]\nto = [0.9, 5.2, 0.7]")) == ()
    assert told(thing("blocks", "from = [0, 4.6, 0.7]\nto = [0.9, 5.2, 0.9]")) == ()


def test_a_cabinet_in_a_soft_body_is_warned_of() -> None:
    (warning,) = told(thing("fills", "from = [0, 4.3, 0]\nto = [0.3, 5.2, 0.5]\nflow_resistivity = 5000"))
    said = 'it overlaps the porous volume "shelf" by 0.2 m along x and 0.5 m along y and 0.5 m along z'
    assert said in warning and "takes its place" in warning


@pytest.mark.parametrize(
    ("lines", "count"),
    [
        ("from = [0.3, 4, 0]\nto = [0.3, 5.2, 2]", 1),
        ("from = [0, 4.8, 0]\nto = [2, 4.8, 2]", 1),
        ("from = [0, 4, 0.4]\nto = [2, 5.2, 0.4]", 1),
        ("from = [0, 4.8, 0]\nto = [2, 4.8, 2]\nopenings = [{ from = [0, 0], to = [0.6, 0.8] }]", 0),
        ("from = [0, 4.8, 0]\nto = [2, 4.8, 2]\nopen_fraction = 1", 0),
        ("from = [0, 4.6, 0]\nto = [2, 4.6, 0.1]", 0),
    ],
    ids=["across x", "across y", "a shelf", "through its opening", "all open", "in the plane of a side"],
)
def test_a_cabinet_in_a_thin_partition_is_warned_of(lines: str, count: int) -> None:
    warnings = told(thing("sheets", lines))
    hits = [w for w in warnings if 'the thin partition "shelf" runs through it' in w]
    assert len(hits) == count, warnings


def test_a_source_in_a_cabinet_and_in_a_block() -> None:
    (problem,) = told(('name = "right"\nat = [0.8, 2.6, 0.5]', 'name = "right"\nat = [0.3, 4.8, 0.3]'))
    assert '[[sources]] "right"' in problem and 'this is inside "corner unit cabinet"' in problem
    (problem,) = told(('name = "right"\nat = [0.8, 2.6, 0.5]', 'name = "right"\nat = [5.5, 0.5, 0.3]'))
    assert 'this is inside "cupboard"' in problem


def test_seats_and_sources_in_a_soft_body_are_warned_of() -> None:
    (warning,) = told((SEAT, "at = [5.0, 2.0, 0.6]"))
    assert 'the head is inside "sofa body", which fills [4.6, 1.6, 0.1] to [5.6, 2.8, 0.8]' in warning
    (warning,) = told(('name = "right"\nat = [0.8, 2.6, 0.5]', 'name = "right"\nat = [5.0, 2.0, 0.6]'))
    assert '[[sources]] "right"' in warning and 'this is inside "sofa body"' in warning


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("[5.0, 12.1, 1.1]", "at x = 5 the room runs from 0 to 3.1 m in y, and the nearest point of a wall"),
        ("[7.0, 4.0, 1.1]", "at y = 4 the room runs from 0 to 4 m in x"),
        ("[7.0, 8.0, 1.1]", "the room runs from 0 to 6 m in x and from 0 to 5.2 m in y"),
        ("[-3.0, 1.0, 1.1]", "at y = 1 the room runs from 0 to 6 m in x"),
        ("[500, 160, 110]", "if these are cm, write [5, 1.6, 1.1]"),
        ("[5000, 1600, 1100]", "if these are mm, write [5, 1.6, 1.1]"),
        ("[500, 160, 9]", None),
        ("[900, 900, 50]", None),
        ("[16.4, 5.3, 3.6]", "if these are feet, write [5, 1.62, 1.1]"),
        ("[3.0, 5.8, 1.1]", "if x and y are swapped, write [5.8, 3, 1.1]"),
        ("[5.0, 5.9, 1.1]", None),
    ],
)
def test_a_seat_outside_the_plan(at: str, said: str | None) -> None:
    (problem,) = told((SEAT, f"at = {at}"))
    assert "this is outside the plan; " in problem
    assert said in problem if said else "; if " not in problem, problem


def test_the_reach_of_a_room_in_two_parts() -> None:
    """A U: at y = 4 the floor is in two parts."""
    u = "    [6.0, 5.2],\n    [4.0, 5.2],\n    [4.0, 3.1],\n    [2.0, 3.1],\n    [2.0, 5.2],\n"
    problems = told(("    [6.0, 3.1],\n    [4.0, 3.1],\n    [4.0, 5.2],\n", u), (SEAT, "at = [3.0, 4.0, 1.1]"))
    assert any("at x = 3 the room runs from 0 to 3.1 m in y" in p for p in problems), problems
    problems = told(("    [6.0, 3.1],\n    [4.0, 3.1],\n    [4.0, 5.2],\n", u), (SEAT, "at = [7.0, 4.0, 1.1]"))
    assert any("at y = 4 the room runs from 0 to 2 m and from 4 to 6 m in x" in p for p in problems), problems
