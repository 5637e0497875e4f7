"""Surfaces that things can be on: finding one by name, whether a rectangle lies inside it, what is in front of it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.schema import Block, Point3, Rectangle
from fdtd.scene.shape import NEAR, TOLERANCE, Shape, cover
from fdtd.scene.text import did_you_mean, number, numbers, show

_WALL = re.compile(r"wall ([1-9][0-9]{0,3})")
_BLOCK = re.compile(r"block (.+) ([+-])([xyz])")
ORDINAL = ("first", "second")


@dataclass(frozen=True)
class Face:
    """A surface: 'floor', 'ceiling', a wall (number from 1) or the face of a block (axis, side +1 or -1)."""

    on: str
    wall: int = 0
    block: Block | None = None
    axis: int = 2
    side: int = 0

    def spot(self, shape: Shape, u: float, v: float) -> Point3:
        """The point just in front of (u, v) on the surface."""
        if self.wall:
            return shape.on_wall(self.wall, u, v, NEAR)
        if self.block is None:
            return u, v, NEAR if self.on == "floor" else shape.ceiling_at(u, v) - NEAR
        plane = (self.block.upper if self.side > 0 else self.block.lower)[self.axis] + self.side * NEAR
        point = [u, v]
        point.insert(self.axis, plane)
        return point[0], point[1], point[2]

    def share_in_air(self, shape: Shape, rectangle: Rectangle, blocks: Sequence[Block]) -> float:
        """Share of nine points spread over `rectangle` that have air in front of them."""
        (u0, v0), (u1, v1) = rectangle.lower, rectangle.upper
        steps = (0.02, 0.5, 0.98)
        spots = [self.spot(shape, u0 + s * (u1 - u0), v0 + t * (v1 - v0)) for s in steps for t in steps]
        return sum(shape.in_air(p, blocks) for p in spots) / len(spots)


def wall_number(surface: str) -> int:
    """3 of 'wall 3', 0 of any other surface."""
    found = _WALL.fullmatch(surface)
    return int(found[1]) if found else 0


def block_side(surface: str) -> tuple[str, str]:
    """('shelf', '+x') of 'block shelf +x', ('', '') of any other surface."""
    found = _BLOCK.fullmatch(surface)
    return (found[1], found[2] + found[3]) if found else ("", "")


def find_face(on: str, shape: Shape, blocks: Sequence[Block], unsure: set[str]) -> Face | str:
    """The surface called `on`; if there is none, a remedy.

    unsure : names of blocks that exist but have mistakes of their own; their faces give the remedy "".
    """
    if on in ("floor", "ceiling"):
        return Face(on)
    wall, block = _WALL.fullmatch(on), _BLOCK.fullmatch(on)
    count = len(shape.room.plan)
    if wall:
        n = int(wall[1])
        return Face(on, wall=n) if n <= count else f'the plan has {count} walls, so it is "wall 1" to "wall {count}"'
    if block:
        name, sign, axis = block.groups()
        for b in blocks:
            if b.name == name:
                return Face(on, block=b, axis="xyz".index(axis), side=1 if sign == "+" else -1)
        return (
            ""
            if name in unsure
            else f"there is no block {show(name)} here; "
            + did_you_mean(name, [b.name for b in blocks], "blocks")
            + " (where a variant leaves its block out, leave this out as well)"
        )
    forms = f'give "floor", "ceiling", "wall 1" to "wall {count}", or a block\'s face such as "block NAME +x"'
    return f"there is no such surface; {forms}"


def check_inside(entry: Entry, face: Face, rectangle: Rectangle, shape: Shape, report: Report) -> bool:
    """Report a rectangle that is empty or sticks out of its surface; True if it is right."""
    sides = [b - a for a, b in zip(rectangle.lower, rectangle.upper, strict=True)]
    if min(sides) < NEAR:
        remedy = "they must be opposite corners of a rectangle, at least 1 mm apart both ways"
        found = f'found "from" {show(entry.values["from"])} and "to" {show(entry.values["to"])}'
        report.mistake(entry, "to", f"{found}; {remedy}")
        return False
    if face.wall:
        return _on_wall(entry, face, rectangle, shape, report)
    if face.block:
        axes = [a for a in range(3) if a != face.axis]
        low = [face.block.lower[a] for a in axes]
        high = [face.block.upper[a] for a in axes]
        ends = zip(axes, low, high, strict=True)
        names = [f"{face.on} runs from {number(a)} to {number(b)} m in {'xyz'[i]}" for i, a, b in ends]
        return _within(entry, low, high, names, report)
    x0, y0, x1, y1 = shape.plan.bounds
    names = [f"the plan runs from {number(a)} to {number(b)} m in {c}" for a, b, c in ((x0, x1, "x"), (y0, y1, "y"))]
    if not _within(entry, [x0, y0], [x1, y1], names, report):
        return False
    outside = shape.outside_plan(rectangle)
    if outside > TOLERANCE:
        remedy = f"{outside:.2g} m² of the rectangle is outside the plan; move its corners inside"
        report.mistake(entry, "to", f"found {numbers(rectangle.lower)} to {numbers(rectangle.upper)}; {remedy}")
    return outside <= TOLERANCE


def _on_wall(entry: Entry, face: Face, rectangle: Rectangle, shape: Shape, report: Report) -> bool:
    outline = shape.wall_outline(face.wall)
    if not outline:
        report.mistake(entry, "on", f"found {show(face.on)}; that wall has no height: the ceiling meets the floor")
        return False
    length, height = max(u for u, _ in outline), max(v for _, v in outline)
    names = [f"{face.on} is {number(length)} m long", f"{face.on} is {number(height)} m high"]
    if not _within(entry, [0.0, 0.0], [length, height], names, report):
        return False
    if cover(outline, rectangle):
        return True
    ends = [max((v for u, v in outline if abs(u - at) < NEAR), default=0.0) for at in (0.0, length)]
    remedy = (
        f"the sloped ceiling cuts it off: {face.on} is {number(ends[0])} m high at its first corner "
        f"and {number(ends[1])} m at its second"
    )
    report.mistake(entry, "to", f"found {numbers(rectangle.lower)} to {numbers(rectangle.upper)}; {remedy}")
    return False


def _within(entry: Entry, low: list[float], high: list[float], names: list[str], report: Report) -> bool:
    good = True
    for key in ("from", "to"):
        found = entry.values[key]
        for i in (0, 1):
            over, under = found[i] > high[i] + TOLERANCE, found[i] < low[i] - TOLERANCE
            if over or under:
                limit = f"at most {number(high[i])}" if over else f"at least {number(low[i])}"
                remedy = f"{names[i]}, so the {ORDINAL[i]} number must be {limit}"
                report.mistake(entry, key, f"found {show(found)}; {remedy}")
                good = False
    return good
