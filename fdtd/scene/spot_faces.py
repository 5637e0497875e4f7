"""Surfaces as places for units: where a rectangle of a given size can lie, flush with every corner and edge. In m."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import shapely
from shapely.geometry import Polygon, box

from fdtd.scene.faces import find_face
from fdtd.scene.schema import Block, Point2, Point3, Rectangle, Spots, ThinPartition, Variant
from fdtd.scene.shape import NEAR, TOLERANCE, Shape

THIN = 0.002
"""Depth of air in front of a face without a cabinet that must be free."""


@dataclass(frozen=True)
class Upright:
    """A wall or the side of a block, seen from the room.

    origin : the plan point of coordinate 0; along, inward : plan directions of its first coordinate and into the room
    start, end, bottom, top : where it begins and ends in its two coordinates
    """

    on: str
    origin: Point2
    along: Point2
    inward: Point2
    start: float
    end: float
    bottom: float
    top: float

    def plan_point(self, u: float, off: float = 0.0) -> Point2:
        """The point of the plan at `u`, `off` in front of the surface."""
        (x, y), (ax, ay), (nx, ny) = self.origin, self.along, self.inward
        return x + u * ax + off * nx, y + u * ay + off * ny

    def point(self, u: float, v: float, off: float = 0.0) -> Point3:
        """The point at (u, v), `off` in front of the surface."""
        return (*self.plan_point(u, off), v)

    def footprint(self, u0: float, u1: float, deep: float) -> Polygon:
        """What stands on u0..u1 and is `deep`, seen from above."""
        ends = ((u0, 0.0), (u1, 0.0), (u1, deep), (u0, deep))
        return Polygon([self.plan_point(u, off) for u, off in ends])

    def touched(self, thing: Polygon | shapely.LineString, deep: float) -> tuple[float, float] | None:
        """The range of u in which something in the plan comes nearer than `deep`; None if it does not."""
        part = shapely.intersection(thing, self.footprint(self.start, self.end, deep))
        (x, y), (ax, ay) = self.origin, self.along
        found = [(px - x) * ax + (py - y) * ay for px, py in shapely.get_coordinates(part)]
        return (float(min(found)), float(max(found))) if found else None


@dataclass(frozen=True)
class Level:
    """The floor, the ceiling, or the upper or lower side of a block; its coordinates are x and y.

    height : m, None for the ceiling; upward : +1 if the air is above it, else -1; area : in the plan
    """

    on: str
    height: float | None
    upward: int
    area: Polygon
    shape: Shape

    def at(self, x: float, y: float) -> float:
        """Its height over (x, y)."""
        return self.shape.ceiling_at(x, y) if self.height is None else self.height

    def point(self, u: float, v: float, off: float = 0.0) -> Point3:
        """The point at (u, v), `off` in front of the surface."""
        return u, v, self.at(u, v) + self.upward * off


Surface: TypeAlias = Upright | Level


@dataclass(frozen=True)
class Body:
    """A unit in one place: its face on the surface, and the space that it takes up in front.

    rectangle : the face; outer : the cabinet's outline on the surface (the face itself without one)
    footprint : seen from above; bottom, top : heights; deep : of the cabinet, 0 without one
    """

    surface: Surface
    rectangle: Rectangle
    outer: Rectangle
    footprint: Polygon
    bottom: float
    top: float
    deep: float

    @property
    def centre(self) -> Point3:
        """The centre of the face."""
        (u0, v0), (u1, v1) = self.rectangle.lower, self.rectangle.upper
        return self.surface.point(0.5 * (u0 + u1), 0.5 * (v0 + v1))

    @property
    def cabinet(self) -> tuple[Point3, Point3] | None:
        """Lower and upper corner of the cabinet before a wall; None without one."""
        if self.deep <= 0.0:
            return None
        x0, y0, x1, y1 = (round(v, 9) for v in self.footprint.bounds)
        return (x0, y0, self.bottom), (x1, y1, self.top)

    @property
    def front(self) -> Point3:
        """The same point on the front of the cabinet."""
        (u0, v0), (u1, v1) = self.rectangle.lower, self.rectangle.upper
        return self.surface.point(0.5 * (u0 + u1), 0.5 * (v0 + v1), self.deep)


def make_body(
    surface: Surface, outer: Rectangle, face: Point2 | None = None, deep: float = 0.0, thin: float = THIN
) -> Body:
    """The body whose outline on `surface` is `outer`; face : size of its face, in the middle (all of it for None)."""
    (u0, v0), (u1, v1) = outer.lower, outer.upper
    rectangle = outer
    if face is not None:
        u, v = 0.5 * (u0 + u1 - face[0]), 0.5 * (v0 + v1 - face[1])
        rectangle = Rectangle((_clean(u), _clean(v)), (_clean(u + face[0]), _clean(v + face[1])))
    thick = max(deep, thin)
    if isinstance(surface, Upright):
        return Body(surface, rectangle, outer, surface.footprint(u0, u1, thick), v0, v1, deep)
    heights = [surface.at(x, y) for x in (u0, u1) for y in (v0, v1)]
    bottom = min(heights) - (thick if surface.upward < 0 else 0.0)
    top = max(heights) + (thick if surface.upward > 0 else 0.0)
    return Body(surface, rectangle, outer, box(u0, v0, u1, v1), bottom, top, deep)


def _clean(length: float) -> float:
    """`length` without the rounding of sums, so that edges meant to be flush are."""
    return round(length, 9)


def find_surface(on: str, shape: Shape, blocks: Sequence[Block], deep: float = 0.0) -> Surface | None:
    """The surface called `on`, None if there is none; deep : of what shall stand before it, for sharp corners."""
    face = find_face(on, shape, blocks, set())
    if isinstance(face, str):
        return None
    if face.wall:
        return _wall(face.wall, shape, deep)
    if face.block is None:
        return Level(on, 0.0 if on == "floor" else None, 1 if on == "floor" else -1, shape.plan, shape)
    low, high = face.block.lower, face.block.upper
    plane = (high if face.side > 0 else low)[face.axis]
    if face.axis == 2:
        return Level(on, plane, face.side, box(*low[:2], *high[:2]).intersection(shape.plan), shape)
    other = 1 - face.axis
    origin, along, inward = [0.0, 0.0], [0.0, 0.0], [0.0, 0.0]
    origin[face.axis], along[other], inward[face.axis] = plane, 1.0, float(face.side)
    (x, y), (ax, ay), (nx, ny) = origin, along, inward
    side = Upright(on, (x, y), (ax, ay), (nx, ny), low[other], high[other], max(low[2], 0.0), high[2])
    inside = side.touched(shape.plan, THIN)
    return None if inside is None else replace(side, start=inside[0], end=inside[1])


def _wall(number: int, shape: Shape, deep: float) -> Upright | None:
    outline = shape.wall_outline(number)
    if not outline:
        return None
    a, b = shape.walls[number - 1]
    length = math.dist(a, b)
    along = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
    x, y, _ = shape.on_wall(number, 0.0, 0.0, 1.0)
    inward = (x - a[0], y - a[1])
    start = _sharp(a, shape.walls[number - 2][0], along, inward, deep)
    end = _sharp(b, shape.walls[number % len(shape.walls)][1], (-along[0], -along[1]), inward, deep)
    return Upright(f"wall {number}", a, along, inward, start, length - end, 0.0, max(v for _, v in outline))


def _sharp(corner: Point2, beyond: Point2, along: Point2, inward: Point2, deep: float) -> float:
    """How far from a corner of less than 90 degrees something `deep` has to stand; beyond : the next wall's far end."""
    dx, dy = beyond[0] - corner[0], beyond[1] - corner[1]
    forward, into = dx * along[0] + dy * along[1], dx * inward[0] + dy * inward[1]
    return deep * forward / into if into > 0.0 and forward > 0.0 else 0.0


def positions(low: float, high: float, width: float, spacing: float, breaks: Iterable[float]) -> list[float]:
    """Lower edges of a `width` between `low` and `high`: flush with both ends and both sides of each of `breaks`,
    and between those at equal steps of at most `spacing`; empty if it does not fit."""
    last = high - width
    if last < low - TOLERANCE:
        return []
    flush = [low]
    for p in sorted(p for b in breaks for p in (b, b - width) if low < p < last):
        if p - flush[-1] > NEAR:
            flush.append(p)
    if last - flush[-1] > NEAR:
        flush.append(last)
    elif len(flush) > 1:
        flush[-1] = last
    found = [flush[0]]
    for a, b in zip(flush[:-1], flush[1:], strict=True):
        count = max(1, math.ceil((b - a) / spacing - 1e-6))
        found += [a + (b - a) * k / count for k in range(1, count + 1)]
    return [_clean(p) for p in found]


def bodies(surface: Surface, shape: Shape, variant: Variant, spots: Spots) -> Iterator[Body]:
    """Every place on a surface that is tried, whatever stands there, column by column from the bottom up."""
    face, spacing = spots.size, spots.spacing
    outer, deep = ((spots.cabinet[0], spots.cabinet[2]), spots.cabinet[1]) if spots.cabinet else (face, 0.0)
    if isinstance(surface, Level):
        yield from _level_bodies(surface, shape, variant, face, outer, spacing)
        return
    thick = max(deep, THIN)
    plans = [(b, box(*b.lower[:2], *b.upper[:2])) for b in variant.blocks if f"block {b.name} " not in surface.on]
    lines = [thin_partition_line(s) for s in variant.thin_partitions if s.axis != 2]
    reached = [surface.touched(thing, thick) for thing in (*(p for _, p in plans), *lines)]
    breaks = [u for span in reached if span for u in span]
    low, high = spots.height or (0.0, math.inf)
    for u in positions(surface.start, surface.end, outer[0], spacing, breaks):
        ends = [surface.plan_point(p, off) for p in (u, u + outer[0]) for off in {0.0, deep}]
        top = min([surface.top, high, *(shape.ceiling_at(x, y) for x, y in ends)])
        column = surface.footprint(u, u + outer[0], thick)
        near = [v for b, p in plans if shapely.intersects(p, column) for v in (b.lower[2], b.upper[2])]
        for v in positions(max(surface.bottom, low), top, outer[1], spacing, near):
            rectangle = Rectangle((u, v), (_clean(u + outer[0]), _clean(v + outer[1])))
            yield make_body(surface, rectangle, face, deep)


def _level_bodies(
    surface: Level, shape: Shape, variant: Variant, face: Point2, outer: Point2, spacing: float
) -> Iterator[Body]:
    if surface.area.is_empty:
        return
    x0, y0, x1, y1 = surface.area.bounds
    breaks: list[list[float]] = [[], []]
    for axis in (0, 1):
        breaks[axis] = [p[axis] for p in shape.room.plan]
        breaks[axis] += [v for b in variant.blocks for v in (b.lower[axis], b.upper[axis])]
        breaks[axis] += [s.position for s in variant.thin_partitions if s.axis == axis]
    for u in positions(x0, x1, outer[0], spacing, breaks[0]):
        for v in positions(y0, y1, outer[1], spacing, breaks[1]):
            rectangle = Rectangle((u, v), (_clean(u + outer[0]), _clean(v + outer[1])))
            yield make_body(surface, rectangle, face)


def thin_partition_line(thin_partition: ThinPartition) -> shapely.LineString:
    """An upright thin partition seen from above."""
    a, b = thin_partition.rectangle.lower[0], thin_partition.rectangle.upper[0]
    at = thin_partition.position
    return shapely.LineString([(at, a), (at, b)] if thin_partition.axis == 0 else [(a, at), (b, at)])
