"""The first scene file of a room: answers in, commented text out."""

from __future__ import annotations

import json
import math
import tomllib
from dataclasses import dataclass
from typing import NamedTuple

from shapely.geometry import Polygon

from fdtd.errors import FdtdError, SceneError
from fdtd.scene.first_places import APART, LOUDSPEAKER_HEIGHT, SEAT_HEIGHT, SUBWOOFER_HEIGHT, at_share, main_part, near
from fdtd.scene.first_text import CROSSOVERS, EXAMPLES, HEAD, MOVED, ROOM, SLOPE, SPOTS, SURFACES, TAIL, UNIT, VARIANTS
from fdtd.scene.first_units import UNITS, Unit, best_place, longest_side
from fdtd.scene.locate import Lines
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.room import read_room
from fdtd.scene.schema import Point2, Point3, Room
from fdtd.scene.shape import Shape
from fdtd.scene.text import number

LOUDSPEAKERS: dict[str, tuple[tuple[str, float, float, float], ...]] = {
    "one": (("loudspeaker", 0.0, 0.3, LOUDSPEAKER_HEIGHT),),
    "two": (
        ("left loudspeaker", 0.0, 0.25, LOUDSPEAKER_HEIGHT),
        ("right loudspeaker", 0.0, 0.75, LOUDSPEAKER_HEIGHT),
    ),
    "subwoofer": (("subwoofer", 0.0, 0.0, SUBWOOFER_HEIGHT),),
    "two-and-subwoofer": (
        ("left loudspeaker", 0.0, 0.25, LOUDSPEAKER_HEIGHT),
        ("right loudspeaker", 0.0, 0.75, LOUDSPEAKER_HEIGHT),
        ("subwoofer", 0.0, 0.0, SUBWOOFER_HEIGHT),
    ),
}
"""What plays -> name, share of the length, share of the width, height in m of each."""
SEATS = (("main seat", 0.68, 0.5), ("second seat", 0.42, 0.8))
STEP = 0.25
"""Share of the length by which the second variant moves a loudspeaker where no unit is tried."""


class FirstSceneError(FdtdError):
    """Answers that don't make a room with places in it."""


@dataclass(frozen=True)
class Answers:
    """What `fdtd new` asks. plan : corners in m; height : m; slope : (height over wall 1, distance from wall 1 at which
    the ceiling has its full height), m, for a plan whose first wall lies on y = 0, or None for a flat ceiling
    floor, ceiling, walls : names of the library; loudspeakers : a key of LOUDSPEAKERS; seats : 1 or 2
    unit : a key of UNITS, or "none"
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
    def planes(self) -> tuple[tuple[float, float, float], ...]:
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
    sources, seats = things[:count], things[count:]
    title = HEAD.format(title=toml_string(answers.title))
    head = "\n".join([title, _room(answers), _surfaces(answers), _examples(shape, part, seats[0].at)])
    crossed = any("subwoofer" in s.name for s in sources) and count > 1
    for s in sources:
        head += _listed("sources", s, "acoustic centre: x, y and height above the floor")
        head += CROSSOVERS["lowpass" if s.name == "subwoofer" else "highpass"] if crossed else ""
    head += "".join(_listed("seats", s, "centre of the head") for s in seats)
    if answers.unit == "none":
        return head + _moved(shape, part, sources, things) + TAIL
    unit = UNITS[answers.unit](longest_side(shape))
    return head + _with_unit(head, unit, things) + TAIL


def check_plan(plan: tuple[Point2, ...]) -> None:
    """Raise FirstSceneError unless `plan` is a room with places for loudspeakers and seats."""
    trial = Answers("trial", plan, 2.5, "rigid", "rigid", "rigid", loudspeakers="two-and-subwoofer", seats=2)
    text = _room(trial)
    report = Report("plan", Lines(text))
    read_room(Entry(("room",), "", tomllib.loads(text)["room"]), report)
    try:
        report.raise_mistakes(1)
    except SceneError as error:
        raise FirstSceneError(error.problems[0].partition('key "plan": ')[2] or error.problems[0]) from None
    _things(Shape(Room(trial.plan, trial.planes)), trial)


def toml_string(text: str) -> str:
    """`text` as a basic string of TOML (the escapes of JSON are a part of those of TOML, but for the last one)."""
    clean = text.encode("utf-8", "replace").decode("utf-8")
    return json.dumps(clean, ensure_ascii=False).replace("\x7f", "\\u007f")


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
    wanted = [(name, at_share(part, a, b), z) for name, a, b, z in LOUDSPEAKERS[answers.loudspeakers]]
    wanted += [(name, at_share(part, a, b), SEAT_HEIGHT) for name, a, b in SEATS[: answers.seats]]
    things: list[_Thing] = []
    for name, wish, height in wanted:
        at = near(shape, part, wish, height, [thing.at for thing in things])
        if at is None:
            raise FirstSceneError(
                f"there is no place for the {name} at a height of {number(height)} m: the room is too low or too narrow"
            )
        things.append(_Thing(name, at))
    return things


def _room(answers: Answers) -> str:
    corners = ", ".join(_point(p) for p in answers.plan)
    top = f"height = {_number(answers.height)}                      # flat ceiling, metres above the floor"
    if answers.slope is not None:
        xs, ys = [p[0] for p in answers.plan], [p[1] for p in answers.plan]
        (low, reach), x0, x1, y1 = answers.slope, min(xs), max(xs), max(ys)
        slope = [(x0, 0.0, low), (x1, 0.0, low), (x0, reach, answers.height)]
        flat = [(x0, 0.0, answers.height), (x1, 0.0, answers.height), (x0, y1, answers.height)]
        top = SLOPE.format(slope=_points(slope), flat=_points(flat)).rstrip()
    return ROOM.format(plan=corners, top=top)


def _surfaces(answers: Answers) -> str:
    names = {"floor": answers.floor, "ceiling": answers.ceiling, "walls": answers.walls}
    lines = "\n".join(f"{key} = {toml_string(name)}" for key, name in names.items())
    return SURFACES.format(lines=lines, last=len(answers.plan))


def _examples(shape: Shape, part: Polygon, seat: Point3) -> str:
    """Lines to take the comment marks off: a window in the wall with the most room, a chest, a sofa at the `seat`."""

    def clear(number: int) -> tuple[float, float]:
        a, b = shape.walls[number - 1]
        return math.dist(a, b), min(shape.ceiling_at(*a), shape.ceiling_at(*b))

    wall = max(range(1, len(shape.walls) + 1), key=lambda n: (min(clear(n)[1], 2.0), clear(n)[0]))
    length, high = clear(wall)
    start, end = 0.25 * length, min(0.75 * length, 0.25 * length + 1.4)
    lower, upper = _point((round(start, 2), 0.9)), _point((round(end, 2), round(min(2.0, high - 0.1), 2)))
    x, y = at_share(part, 0.42, 0.45)
    boxes = {
        "chest_lower": (x - 0.4, y - 0.3, 0.0),
        "chest_upper": (x + 0.4, y + 0.3, 0.5),
        "sofa_lower": (seat[0] - 0.45, seat[1] - 0.45, 0.1),
        "sofa_upper": (seat[0] + 0.45, seat[1] + 0.45, 0.7),
    }
    written = {key: _point(tuple(round(v, 2) for v in corner)) for key, corner in boxes.items()}
    return EXAMPLES.format(wall=wall, lower=lower, upper=upper, **written)


def _listed(kind: str, thing: _Thing, meaning: str) -> str:
    return f"\n[[{kind}]]\nname = {toml_string(thing.name)}\nat = {_point(thing.at)}    # {meaning}\n"


def _moved(shape: Shape, part: Polygon, sources: list[_Thing], things: list[_Thing]) -> str:
    """Two variants that differ in where the first loudspeaker stands."""
    first = sources[0]
    x, y = at_share(part, 0.0, 0.0)
    far_x, far_y = at_share(part, STEP, 0.0)
    wish = first.at[0] + far_x - x, first.at[1] + far_y - y
    at = near(shape, part, wish, first.at[2], [thing.at for thing in things])
    return MOVED.format(name=toml_string(first.name), at=_point(at or first.at))


def _with_unit(head: str, unit: Unit, things: list[_Thing]) -> str:
    """The unit at the best of its candidate places, two variants, and the places to try."""

    def spots(face: str) -> str:
        return SPOTS.format(name=unit.name, high=_number(unit.cabinet[2]), face=face)

    place = best_place(head, lambda face: unit.device + spots(face), unit, [thing.at for thing in things])
    if place is None:
        raise FirstSceneError(f"there is no place for the {unit.name} along the walls of this room: choose no unit")
    tried = UNIT.format(name=unit.name, place=place.lines, device=unit.device)
    return tried + VARIANTS.format(name=unit.name) + spots(place.spots)


def _number(value: float) -> str:
    return number(value) if "." in number(value) or "e" in number(value) else f"{number(value)}.0"


def _point(values: tuple[float, ...]) -> str:
    return "[" + ", ".join(_number(v) for v in values) + "]"


def _points(points: list[Point3]) -> str:
    return "[" + ", ".join(_point(p) for p in points) + "]"
