"""The room and the air: checks of plan, ceiling and conditions that go beyond single values."""

from __future__ import annotations

import math
from typing import Any

from shapely.geometry import LineString, Polygon

from fdtd.physics import air as physics
from fdtd.scene.intake import complete, made, only_one, read_table
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.schema import Air, Plane, Point2, Room, RunSettings
from fdtd.scene.shape import NEAR, Shape
from fdtd.scene.tables import TABLES
from fdtd.scene.text import number, numbers, show

MOST_CORNERS = 200


def read_air(entry: Entry, report: Report) -> Air | None:
    """The air, or None after a mistake."""
    values = read_table(entry, TABLES["air"], report)
    given = [key for key in ("speed_of_sound", "density") if key in entry.values]
    if len(given) == 1:
        other = "density" if given[0] == "speed_of_sound" else "speed_of_sound"
        remedy = f'"{other}" must be given with it; or leave both out, and temperature, humidity and pressure count'
        report.mistake(entry, given[0], f"found {show(entry.values[given[0]])} alone; {remedy}")
        return None
    if not complete(values, TABLES["air"]):
        return None
    if given:
        return Air(values["speed_of_sound"], values["density"])
    t, h, p = values["temperature"], values["humidity"], values["pressure"]
    if not 0.0 <= t <= 30.0:
        report.warning(entry, "temperature", f"found {number(t)}; the speed of sound is known best from 0 to 30 °C")
    if not 75.0 <= p <= 102.0 and "pressure" in entry.values:
        report.warning(entry, "pressure", f"found {number(p)}; the speed of sound is known best from 75 to 102 kPa")
    return Air(physics.speed_of_sound(t, h, p), physics.density(t, h, p), t, h, p)


def read_run(entry: Entry, air: Air | None, report: Report) -> RunSettings | None:
    """The run settings, or None after a mistake."""
    values = read_table(entry, TABLES["run"], report)
    if not complete(values, TABLES["run"]):
        return None
    grid, highest = values["grid"], values["max_frequency"]
    if air and grid > air.speed_of_sound / highest / 5.0:
        longest = air.speed_of_sound / highest / 5.0
        # two digits, rounded down: a number that a person would write, and that passes
        shown = number(math.floor(longest * 1000.0) / 1000.0)
        report.mistake(
            entry,
            "grid" if "grid" in entry.values else "max_frequency",
            f"found a grid of {number(grid)} m for {number(highest)} Hz; a cell must be at most a fifth of the "
            f"shortest wavelength: a grid of at most {shown} m, or a max_frequency of at most "
            f"{number(math.floor(air.speed_of_sound / grid / 5.0))} Hz",
        )
        return None
    return made(RunSettings, values)


def read_room(entry: Entry, report: Report) -> Shape | None:
    """The room's shape, or None after a mistake."""
    values = read_table(entry, TABLES["room"], report)
    plan = values.get("plan")
    good = plan is not None and _check_plan(entry, plan, report)
    ceiling = _read_ceiling(entry, values, report)
    if plan is None or not good or not ceiling:
        return None
    shape = Shape(Room(plan, ceiling))
    if shape.top < NEAR:
        key = "height" if "height" in entry.values else "ceiling"
        report.mistake(entry, key, f"found {show(entry.values[key])}; the ceiling is nowhere above the floor (z = 0)")
        return None
    return shape


def _check_plan(entry: Entry, plan: tuple[Point2, ...], report: Report) -> bool:
    def wrong(text: str, *item: int) -> bool:
        report.mistake(entry, "plan", text, item)
        return False

    count = len(plan)
    if count > MOST_CORNERS:
        return wrong(f"found {count} corners; at most {MOST_CORNERS} are taken")
    for i in range(count):
        for j in range(i):
            if math.dist(plan[i], plan[j]) < NEAR:
                closing = j == 0 and i == count - 1
                hint = (
                    "the last corner joins the first by itself: leave it out" if closing else "give every corner once"
                )
                return wrong(f"found {numbers(plan[i])}, the same place as corner {j + 1}; {hint}", i)
    sides = [LineString((plan[i], plan[(i + 1) % count])) for i in range(count)]
    for i in range(count):
        if _turns_back(plan[i - 1], plan[i], plan[(i + 1) % count]):
            return wrong(f"found {numbers(plan[i])}; the outline turns straight back there: leave that corner out", i)
    for i in range(count):
        for j in range(i + 2, count - (i == 0)):
            if sides[i].distance(sides[j]) < NEAR:
                place = sides[i].intersection(sides[j]).centroid
                at = "" if place.is_empty else f" at {numbers((place.x, place.y))}"
                remedy = "list the corners in the order in which you walk round the room"
                fault = f"found an outline that crosses or touches itself: wall {i + 1} and wall {j + 1} meet{at}"
                return wrong(f"{fault}; {remedy}")
    if Polygon(plan).area < NEAR**2:
        return wrong("found corners that enclose no area; give the corners of the floor in order")
    return True


def _turns_back(before: Point2, here: Point2, after: Point2) -> bool:
    ax, ay, bx, by = before[0] - here[0], before[1] - here[1], after[0] - here[0], after[1] - here[1]
    angle = math.atan2(abs(ax * by - ay * bx), ax * bx + ay * by)
    return angle < 1e-3


def _read_ceiling(entry: Entry, values: dict[str, Any], report: Report) -> tuple[Plane, ...]:
    missing = 'key "height" is missing; give the height of a flat ceiling in m, or "ceiling" planes'
    given = only_one(entry, ("height", "ceiling"), report, missing)
    if given is None or values.get(given) is None:
        return ()
    if given == "height":
        return ((values["height"], 0.0, 0.0),)
    planes = []
    for i, points in enumerate(values["ceiling"]):
        plane = _plane(points)
        if plane is None:
            remedy = "the three points must not lie on one line when seen from above: a ceiling plane is not vertical"
            report.mistake(entry, "ceiling", f"found {show([list(p) for p in points])}; {remedy}", (i,))
        else:
            planes.append(plane)
    return tuple(planes) if len(planes) == len(values["ceiling"]) else ()


def _plane(points: Any) -> Plane | None:
    """z = a + b x + c y through three points, or None if it is vertical or they are on a line."""
    (x0, y0, z0), (x1, y1, z1), (x2, y2, z2) = points
    ux, uy, uz, vx, vy, vz = x1 - x0, y1 - y0, z1 - z0, x2 - x0, y2 - y0, z2 - z0
    area2 = ux * vy - uy * vx
    if abs(area2) < 1e-3 * max(math.hypot(ux, uy), math.hypot(vx, vy), NEAR) ** 2 or abs(area2) < NEAR**2:
        return None
    b, c = (uz * vy - uy * vz) / area2, (ux * vz - uz * vx) / area2
    return z0 - b * x0 - c * y0, b, c
