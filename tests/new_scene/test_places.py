"""Where a first scene puts loudspeakers and seats: in the room, in sight of each other, apart, however it is turned."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely.geometry import LineString

from fdtd.new_scene.places import APART, CLEAR, main_part
from fdtd.new_scene.writing import Answers, check_plan, first_scene
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Point2, Room
from fdtd.scene.shape import Shape

Plan = tuple[Point2, ...]

PLANS: dict[str, Plan] = {
    "L": ((0, 0), (6, 0), (6, 3), (3, 3), (3, 5), (0, 5)),
    "L with long legs": ((0, 0), (8, 0), (8, 2.4), (2.2, 2.4), (2.2, 7), (0, 7)),
    "L with a nook": ((0, 0), (5, 0), (5, 4), (1.2, 4), (1.2, 5.2), (0, 5.2)),
    "L of two halves": ((0, 0), (9, 0), (9, 4), (4.5, 4), (4.5, 6.5), (0, 6.5)),
    "T": ((0, 0), (7, 0), (7, 2.5), (4.6, 2.5), (4.6, 6), (2.4, 6), (2.4, 2.5), (0, 2.5)),
    "T with a wide stem": ((0, 0), (7, 0), (7, 2), (6, 2), (6, 6), (1, 6), (1, 2), (0, 2)),
    "U": ((0, 0), (7, 0), (7, 5), (4.8, 5), (4.8, 2.2), (2.2, 2.2), (2.2, 5), (0, 5)),
    "U with thin legs": ((0, 0), (6, 0), (6, 6), (5, 6), (5, 3), (1, 3), (1, 6), (0, 6)),
    "slanted": ((0, 0), (5, 0), (6, 2), (5, 5), (1, 4.5)),
    "slanted L": ((0, 0), (6, 1), (5.6, 3.5), (3.2, 3), (3, 5.5), (-0.6, 5)),
}


def turned(plan: Plan, turns: int, mirrored: bool) -> Plan:
    for _ in range(turns):
        plan = tuple((-y, x) for x, y in plan)
    if mirrored:
        plan = tuple((-x, y) for x, y in plan)
    x0, y0 = min(x for x, _ in plan), min(y for _, y in plan)
    return tuple((round(x - x0, 6), round(y - y0, 6)) for x, y in plan)


@pytest.mark.parametrize("mirrored", [False, pytest.param(True, marks=pytest.mark.slow)])
@pytest.mark.parametrize("turns", range(4))
@pytest.mark.parametrize("name", PLANS)
def test_everything_is_inside_apart_and_in_sight(name: str, turns: int, mirrored: bool) -> None:
    plan = turned(PLANS[name], turns, mirrored)
    check_plan(plan)
    answers = Answers("trial", plan, 2.5, "rigid", "rigid", "rigid", None, "two-and-subwoofer", 2, "none")
    scene = read_scene_text(first_scene(answers))
    shape, floor = Shape(scene.room), Shape(scene.room).plan.buffer(1e-6)
    for variant in scene.variants:
        things = [thing.at for thing in (*variant.sources, *variant.seats)]
        assert len(things) == 5
        for k, at in enumerate(things):
            assert shape.plan.exterior.distance(shapely.Point(at[:2])) > CLEAR - 0.02
            for other in things[:k]:
                assert math.dist(at[:2], other[:2]) >= APART - 1e-9, (at, other)
                assert floor.covers(LineString([at[:2], other[:2]])), (at, other)


def test_the_main_part_is_the_largest_that_is_no_corridor() -> None:
    def part(plan: Plan) -> tuple[float, ...]:
        return tuple(round(v, 6) for v in main_part(Shape(Room(plan, ((2.5, 0.0, 0.0),)))).bounds)

    assert part(((0, 0), (5, 0), (5, 4), (0, 4))) == (0, 0, 5, 4)
    assert part(PLANS["L with a nook"]) == (0, 0, 5, 4)
    assert part(PLANS["T with a wide stem"]) == (1, 0, 6, 6)
    # 12 m² of corridor against 9 m² of room
    assert part(((0, 0), (12, 0), (12, 1), (3, 1), (3, 3), (0, 3))) == (0, 0, 3, 3)


def test_loudspeakers_with_a_subwoofer_have_a_crossover() -> None:
    def sources(kind: str) -> tuple:
        plan = ((0, 0), (5, 0), (5, 4), (0, 4))
        answers = Answers("trial", plan, 2.5, "rigid", "rigid", "rigid", loudspeakers=kind)
        return read_scene_text(first_scene(answers)).variants[0].sources

    left, right, sub = sources("two-and-subwoofer")
    for main in (left, right):
        assert main.lowpass is None and (main.highpass.frequency, main.highpass.order) == (80.0, 4)
    assert sub.highpass is None and (sub.lowpass.frequency, sub.lowpass.kind) == (80.0, "linkwitz-riley")
    for kind in ("one", "two", "subwoofer"):
        assert all(s.lowpass is None and s.highpass is None for s in sources(kind))
