"""The text of a first scene file: answers in, `scene.toml.jinja` filled in."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from importlib.resources import files
from typing import Any, NamedTuple

from shapely.geometry import Polygon

from fdtd.errors import FdtdError, SceneError
from fdtd.new_scene.places import APART, at_share, main_part, near
from fdtd.new_scene.units import best_spot, make_unit
from fdtd.scene.locate import Lines
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.room import read_room
from fdtd.scene.schema import Plane, Point2, Point3, Room
from fdtd.scene.shape import Shape
from fdtd.scene.text import number, numbers

LOUDSPEAKERS = {
    "one": ("loudspeaker",),
    "two": ("left loudspeaker", "right loudspeaker"),
    "subwoofer": ("subwoofer",),
    "two-and-subwoofer": ("left loudspeaker", "right loudspeaker", "subwoofer"),
}
"""What plays -> name of each."""
SEATS = ("main seat", "second seat")
_WISHES = {
    "loudspeaker": (0.0, 0.3, 0.9),
    "left loudspeaker": (0.0, 0.25, 0.9),
    "right loudspeaker": (0.0, 0.75, 0.9),
    "subwoofer": (0.0, 0.0, 0.3),
    "main seat": (0.68, 0.5, 1.1),
    "second seat": (0.42, 0.8, 1.1),
}
"""Name -> share of the length, share of the width, height in m (of an acoustic centre, or of the ears)."""
_STEP = 0.25
"""Share of the length by which the second variant moves a loudspeaker where no unit is tried."""


class FirstSceneError(FdtdError):
    """Answers that don't make a room with places in it."""


@dataclass(frozen=True)
class Answers:
    """What `fdtd new` asks. plan : corners in m; height : m; slope : (height over wall 1, distance from wall 1 at which
    the ceiling has its full height), m, for a plan whose first wall lies on y = 0, or None for a flat ceiling
    floor, ceiling, walls : names of the library; loudspeakers : a key of LOUDSPEAKERS; seats : 1 or 2
    unit : "panel", "resonator" or "none"
    """

    title: str
    plan: tuple[Point2, ...]
    height: float
    floor: str
    ceiling: str
    walls: str
    slope: tuple[float, float] | None = None
    loudspeakers: str = "two"
    seats: int = 1
    unit: str = "none"

    @property
    def planes(self) -> tuple[Plane, ...]:
        """The planes z = a + b x + c y of the ceiling; the lowest counts."""
        flat = (self.height, 0.0, 0.0)
        if self.slope is None:
            return (flat,)
        low, reach = self.slope
        return (low, 0.0, (self.height - low) / reach), flat


class _Thing(NamedTuple):
    name: str
    at: Point3


def first_scene(answers: Answers) -> str:
    """The text of a scene file for these answers, with comments; it reads back to them without a warning.

    Raises FirstSceneError if a loudspeaker, a seat or the unit finds no place in the room.
    """
    shape = Shape(Room(answers.plan, answers.planes))
    part, things = _things(shape, answers)
    count = len(LOUDSPEAKERS[answers.loudspeakers])
    sources, seats, taken = things[:count], things[count:], [thing.at for thing in things]
    examples = _examples(shape, part, seats[0].at)
    write = partial(_write, answers=answers, slope=_slope(answers), sources=sources, seats=seats, **examples)
    if answers.unit == "none":
        return write(moved=_moved(shape, part, sources[0], taken))
    x0, y0, x1, y1 = shape.plan.bounds
    unit = make_unit(answers.unit, max(x1 - x0, y1 - y0))
    spot = best_spot(lambda cabinet: write(unit=unit, cabinet=cabinet), taken)
    if spot is None:
        raise FirstSceneError(f"there is no place for the {unit.name} along the walls of this room: choose no unit")
    return write(unit=unit, cabinet=spot.cabinet is not None, spot=spot)


def check_plan(plan: tuple[Point2, ...]) -> None:
    """Raise FirstSceneError unless `plan` is a room with places for loudspeakers and seats."""
    trial = Answers("trial", plan, 2.5, "rigid", "rigid", "rigid", loudspeakers="two-and-subwoofer", seats=2)
    report = Report("plan", Lines(""))
    read_room(Entry(("room",), "", {"plan": [list(corner) for corner in plan], "height": trial.height}), report)
    try:
        report.raise_mistakes(1)
    except SceneError as error:
        raise FirstSceneError(error.problems[0].partition('key "plan": ')[2] or error.problems[0]) from None
    _things(Shape(Room(trial.plan, trial.planes)), trial)


def _write(**given: Any) -> str:
    from jinja2 import Environment

    environment = Environment(trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True)
    environment.filters |= {"text": _text, "number": _number, "point": _point, "points": _points, "short": numbers}
    template = files("fdtd.new_scene").joinpath("scene.toml.jinja").read_text(encoding="utf-8")
    return environment.from_string(template).render(given)


def _things(shape: Shape, answers: Answers) -> tuple[Polygon, list[_Thing]]:
    """The part of the plan that everything is in, and everything: loudspeakers first, then seats.

    All of it is in the main part of the plan; where that is too small, anywhere in sight of each other.
    """
    part = main_part(shape)
    if not part.is_empty:
        try:
            things = _placed(shape, part, answers)
        except FirstSceneError:  # too small, or the ceiling is too low there
            things = []
        gaps = [math.dist(a.at[:2], b.at[:2]) for i, a in enumerate(things) for b in things[:i]]
        if things and min(gaps, default=APART) >= APART:
            return part, things
    return shape.plan, _placed(shape, shape.plan, answers)


def _placed(shape: Shape, part: Polygon, answers: Answers) -> list[_Thing]:
    """Loudspeakers first, then seats, in `part` of the plan."""
    things: list[_Thing] = []
    for name in (*LOUDSPEAKERS[answers.loudspeakers], *SEATS[: answers.seats]):
        along, across, height = _WISHES[name]
        at = near(shape, part, at_share(part, along, across), height, [thing.at for thing in things])
        if at is None:
            raise FirstSceneError(
                f"there is no place for the {name} at a height of {number(height)} m: the room is too low or too narrow"
            )
        things.append(_Thing(name, at))
    return things


def _slope(answers: Answers) -> dict[str, list[Point3]] | None:
    """Three points of each of the two parts of a sloped ceiling."""
    if answers.slope is None:
        return None
    xs, ys = [p[0] for p in answers.plan], [p[1] for p in answers.plan]
    (low, reach), x0, x1, y1, top = answers.slope, min(xs), max(xs), max(ys), answers.height
    return {
        "rising": [(x0, 0.0, low), (x1, 0.0, low), (x0, reach, top)],
        "flat": [(x0, 0.0, top), (x1, 0.0, top), (x0, y1, top)],
    }


def _examples(shape: Shape, part: Polygon, seat: Point3) -> dict[str, Any]:
    """Lines to take the comment marks off: a window in the wall with the most room, a chest, a sofa at the `seat`."""

    def clear(number: int) -> tuple[float, float]:
        a, b = shape.walls[number - 1]
        return math.dist(a, b), min(shape.ceiling_at(*a), shape.ceiling_at(*b))

    def box(centre: Point2, half: Point2, bottom: float, top: float) -> list[list[float]]:
        ends = ((-1.0, bottom), (1.0, top))
        return [[round(centre[0] + s * half[0], 2), round(centre[1] + s * half[1], 2), z] for s, z in ends]

    wall = max(range(1, len(shape.walls) + 1), key=lambda n: (min(clear(n)[1], 2.0), clear(n)[0]))
    length, high = clear(wall)
    lower = round(0.25 * length, 2), 0.9
    upper = round(min(0.75 * length, 0.25 * length + 1.4), 2), round(min(2.0, high - 0.1), 2)
    return {
        "window": {"wall": wall, "lower": lower, "upper": upper},
        "chest": box(at_share(part, 0.42, 0.45), (0.4, 0.3), 0.0, 0.5),
        "sofa": box(seat[:2], (0.45, 0.45), 0.1, 0.7),
    }


def _moved(shape: Shape, part: Polygon, first: _Thing, taken: Sequence[Point3]) -> Point3:
    """Another place for the first loudspeaker, farther into the room."""
    (x, y), (far_x, far_y) = at_share(part, 0.0, 0.0), at_share(part, _STEP, 0.0)
    wish = first.at[0] + far_x - x, first.at[1] + far_y - y
    return near(shape, part, wish, first.at[2], taken) or first.at


def _text(text: str) -> str:
    """`text` as a basic string of TOML (the escapes of JSON are a part of those of TOML, but for the last one)."""
    clean = text.encode("utf-8", "replace").decode("utf-8")
    return json.dumps(clean, ensure_ascii=False).replace("\x7f", "\\u007f")


def _number(value: float) -> str:
    return number(value) if "." in number(value) or "e" in number(value) else f"{number(value)}.0"


def _point(values: Iterable[float]) -> str:
    return f"[{', '.join(map(_number, values))}]"


def _points(points: Iterable[Sequence[float]]) -> str:
    return f"[{', '.join(map(_point, points))}]"
