"""The room as a shape: plan, ceiling, walls; where a point, box or rectangle lies in it. All lengths in m."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from fdtd.scene.schema import Block, Plane, Point2, Point3, Rectangle, Room, ThinPartition

TOLERANCE = 1e-6
"""Slack of every 'inside' test, m: rounding of what a person typed, not a real distance."""

NEAR = 1e-3
"""Distance in m within which two points count as the same place."""

ACROSS = math.sin(math.radians(60.0))
"""Walls count as being at a right angle to each other from 60° up."""


class Shape:
    """Geometry of a room whose plan and ceiling have been checked."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.plan = Polygon(room.plan)
        self._slack = self.plan.buffer(TOLERANCE, join_style="mitre")
        area2 = sum(a[0] * b[1] - b[0] * a[1] for a, b in self.walls)
        self._turn = 1.0 if area2 > 0 else -1.0
        self.top = max((self.ceiling_at(x, y) for x, y in self._ceiling_corners()), default=0.0)

    @property
    def walls(self) -> list[tuple[Point2, Point2]]:
        """First and last corner of every wall."""
        plan = self.room.plan
        return [(plan[i], plan[(i + 1) % len(plan)]) for i in range(len(plan))]

    @property
    def bounds(self) -> tuple[Point3, Point3]:
        """Opposite corners of the bounding box."""
        x0, y0, x1, y1 = self.plan.bounds
        return (x0, y0, 0.0), (x1, y1, self.top)

    def ceiling_at(self, x: float, y: float) -> float:
        """Height of the ceiling above (x, y)."""
        return min(a + b * x + c * y for a, b, c in self.room.ceiling)

    def _ceiling_corners(self) -> list[Point2]:
        """Corners of the parts of the plan over which each plane is the lowest: the highest point is one of them."""
        corners: list[Point2] = []
        x0, y0, x1, y1 = self.plan.bounds
        for plane in self.room.ceiling:
            outline: list[Point2] = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
            for other in self.room.ceiling:
                outline = _clip(outline, (other[0] - plane[0], other[1] - plane[1], other[2] - plane[2]))
            part = _polygon(outline).intersection(self.plan)
            corners += [(float(x), float(y)) for x, y in shapely.get_coordinates(part)]
        return corners

    def wall_outline(self, number: int) -> list[Point2]:
        """Outline of wall `number` (from 1): metres along it, height; empty if the ceiling is at the floor there."""
        (xa, ya), (xb, yb) = self.walls[number - 1]
        length = math.hypot(xb - xa, yb - ya)
        ux, uy = (xb - xa) / length, (yb - ya) / length
        top = max(self.ceiling_bound(), 0.0) + 1.0
        outline: list[Point2] = [(0.0, 0.0), (length, 0.0), (length, top), (0.0, top)]
        for a, b, c in self.room.ceiling:  # keep what is below: a + (b x + c y along the wall) - z >= 0
            outline = _clip(outline, (a + b * xa + c * ya, b * ux + c * uy, -1.0))
        return outline if _polygon(outline).area > TOLERANCE else []

    def ceiling_bound(self) -> float:
        """A height that the ceiling exceeds nowhere on the plan's walls."""
        return (
            max(self.ceiling_at(x, y) for x, y in self.room.plan)
            + max(math.hypot(b, c) for _, b, c in self.room.ceiling) * self.plan.length
        )

    def air_over(self, rectangle: Rectangle, lowest: float) -> float:
        """Area in m² of `rectangle` (x, y) that is inside the plan and has the ceiling above the height `lowest`."""
        outline = [(rectangle.lower[0], rectangle.lower[1]), (rectangle.upper[0], rectangle.lower[1])]
        outline += [(rectangle.upper[0], rectangle.upper[1]), (rectangle.lower[0], rectangle.upper[1])]
        for a, b, c in self.room.ceiling:
            outline = _clip(outline, (a - max(lowest, 0.0) - NEAR, b, c))
        return float(_polygon(outline).intersection(self.plan).area)

    def outside_plan(self, rectangle: Rectangle) -> float:
        """Area in m² of `rectangle` (x, y) that is outside the plan."""
        return float(box(*rectangle.lower, *rectangle.upper).difference(self._slack).area)

    def covers(self, x: float, y: float) -> bool:
        """Whether (x, y) is on the floor, its edge included."""
        return bool(self._slack.covers(Point(x, y)))

    def nearest(self, x: float, y: float) -> Point2:
        """The point of the floor's edge nearest to (x, y)."""
        edge = LineString([*self.room.plan, self.room.plan[0]])
        point = edge.interpolate(edge.project(Point(x, y)))
        return point.x, point.y

    def spans(self, axis: int, at: float) -> list[Point2]:
        """(low, high) of the floor along `axis` (0 or 1) where the other coordinate is `at`; empty if it is nowhere."""
        x0, y0, x1, y1 = self.plan.bounds
        line = LineString([(at, y0), (at, y1)] if axis == 1 else [(x0, at), (x1, at)])
        parts = shapely.get_parts(line.intersection(self.plan))
        return sorted((float(p.bounds[axis]), float(p.bounds[axis + 2])) for p in parts if p.length > NEAR)

    def wall_distance(self, point: Point3) -> float:
        """Distance from a point in the room to its nearest boundary surface (ceiling: straight up)."""
        x, y, z = point
        return min(float(self.plan.exterior.distance(Point(x, y))), z, self.ceiling_at(x, y) - z)

    def walls_near(self, point: Point3) -> tuple[float, ...]:
        """Distances in m from `point` to the floor, the nearest wall, and the nearest wall across that one (if any)."""
        walls = []
        for a, b in self.walls:
            length = math.dist(a, b)
            direction = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
            walls.append((LineString((a, b)).distance(Point(point[:2])), direction))
        nearest, along = min(walls)
        across = [d for d, (ux, uy) in walls if abs(ux * along[1] - uy * along[0]) >= ACROSS]
        return (point[2], nearest, *([min(across)] if across else []))

    def crosses(self, axis: int, position: float, rectangle: Rectangle) -> bool:
        """Whether a thin partition in the plane `axis` = `position` runs through the air of the room."""
        if axis == 2:
            return 0.0 < position and self.air_over(rectangle, position) > TOLERANCE
        (start, low), (end, high) = rectangle.lower, rectangle.upper
        ends = [(position, start), (position, end)] if axis == 0 else [(start, position), (end, position)]
        inside = LineString(ends).intersection(self.plan)
        on_edge = LineString(ends).intersection(self.plan.exterior)
        heights = [self.ceiling_at(x, y) for x, y in shapely.get_coordinates(inside)]
        return inside.length - on_edge.length > NEAR and high > 0.0 and max(heights, default=0.0) > low

    def on_wall(self, number: int, u: float, v: float, off: float) -> Point3:
        """The point `off` in front of wall `number` (from 1), `u` along it and `v` up."""
        (xa, ya), (xb, yb) = self.walls[number - 1]
        length = math.hypot(xb - xa, yb - ya)
        ux, uy = (xb - xa) / length, (yb - ya) / length
        return xa + u * ux - off * uy * self._turn, ya + u * uy + off * ux * self._turn, v

    def in_air(self, point: Point3, blocks: Sequence[Block]) -> bool:
        """Whether a point is in the room and in no block."""
        x, y, z = point
        inside = self.covers(x, y) and -TOLERANCE <= z <= self.ceiling_at(x, y) + TOLERANCE
        return inside and not any(in_box(point, b.lower, b.upper) for b in blocks)


def in_box(point: Point3, lower: Point3, upper: Point3, margin: float = 0.0) -> bool:
    """Whether a point is more than `margin` inside a box."""
    return all(a + margin < p < b - margin for p, a, b in zip(point, lower, upper, strict=True))


def closed_part(thin_partition: ThinPartition) -> Polygon:
    """The part of a thin partition that is not an opening, in its two coordinates; empty if all of it is open."""
    if thin_partition.open_fraction >= 1.0:
        return Polygon()
    whole = box(*thin_partition.rectangle.lower, *thin_partition.rectangle.upper)
    return whole.difference(shapely.union_all([box(*o.lower, *o.upper) for o in thin_partition.openings]))


def is_closed_at(thin_partition: ThinPartition, point: Point3) -> bool:
    """Whether the closed part of a thin partition holds a point of its plane."""
    u, v = (p for axis, p in enumerate(point) if axis != thin_partition.axis)

    def holds(r: Rectangle) -> bool:
        return r.lower[0] <= u <= r.upper[0] and r.lower[1] <= v <= r.upper[1]

    closed = thin_partition.open_fraction < 1.0 and holds(thin_partition.rectangle)
    return closed and not any(holds(opening) for opening in thin_partition.openings)


def cover(outline: list[Point2], rectangle: Rectangle) -> bool:
    """Whether an outline holds a rectangle."""
    slack = _polygon(outline).buffer(TOLERANCE, join_style="mitre")
    return bool(slack.covers(box(*rectangle.lower, *rectangle.upper)))


def overlap(a: Rectangle, b: Rectangle) -> float:
    """Common area of two rectangles of one surface, m²."""
    width = min(a.upper[0], b.upper[0]) - max(a.lower[0], b.lower[0])
    height = min(a.upper[1], b.upper[1]) - max(a.lower[1], b.lower[1])
    return max(width, 0.0) * max(height, 0.0)


def _polygon(outline: Sequence[Point2]) -> Polygon | MultiPolygon:
    return Polygon(outline) if len(outline) >= 3 else Polygon()


def _clip(outline: list[Point2], half_plane: Plane) -> list[Point2]:
    """The part of a convex outline where a + b x + c y >= 0 (Sutherland and Hodgman)."""
    a, b, c = half_plane
    value = [a + b * x + c * y for x, y in outline]
    kept: list[Point2] = []
    for i, (point, here) in enumerate(zip(outline, value, strict=True)):
        before, there = outline[i - 1], value[i - 1]
        if (here >= 0.0) != (there >= 0.0):
            t = there / (there - here)
            kept.append((before[0] + t * (point[0] - before[0]), before[1] + t * (point[1] - before[1])))
        if here >= 0.0:
            kept.append(point)
    return kept
