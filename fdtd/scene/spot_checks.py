"""What is in the way of a unit in one place, and how many surfaces it has around it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import LineString, Point, Polygon, box

from fdtd.scene.schema import Absorber, Patch, Point3, PorousVolume, Spots, ThinPartition, Variant
from fdtd.scene.shape import TOLERANCE, Shape, closed_part, in_box, is_closed_at, overlap
from fdtd.scene.spot_faces import Body, Level, Upright, find_surface, make_body, thin_partition_line
from fdtd.scene.text import number, show

LEAST_AREA = 1e-5
"""m²; a smaller overlap seen from above is rounding."""
LEAST_HEIGHT = 5e-4
"""m; a smaller overlap of heights is rounding."""
PROBE = 0.005
"""m beyond its edge and in front of it, where a surface that rises at the edge of a unit is looked for."""


class Surroundings:
    """The room with everything in it, asked about one place after another."""

    def __init__(self, shape: Shape, variant: Variant, spots: Spots) -> None:
        self.shape, self.variant, self.spots = shape, variant, spots
        self._inside = shape.plan.buffer(TOLERANCE, join_style="mitre")
        self._blocks = [(b, box(*b.lower[:2], *b.upper[:2])) for b in variant.blocks]
        self._clear = [LineString(ends) for ends in spots.keep_clear]
        self._faces = [(a, self._body_of(a)) for a in variant.absorbers]
        self._patches = [(p, self._body_of(p)) for p in variant.patches if spots.avoid is None or p.name in spots.avoid]

    def _body_of(self, thing: Patch | Absorber) -> Body | None:
        surface = find_surface(thing.on, self.shape, self.variant.blocks)
        return make_body(surface, thing.rectangle) if surface else None

    def fault(self, body: Body) -> str:
        """Why a unit can't be there, in words for a list; "" if it can."""
        return self._not_inside(body) or self._covered(body) or self._not_wanted(body)

    def _not_inside(self, body: Body) -> str:
        corners = shapely.get_coordinates(body.footprint)
        if body.deep > 0.0 and isinstance(body.surface, Upright) and min(map(abs, body.surface.along)) > 1e-9:
            return "a cabinet at a slanted wall (cabinets stand square to x and y)"
        if body.footprint.difference(self._inside).area > LEAST_AREA:
            return "outside the room"
        if isinstance(body.surface, Level) and body.surface.height is None:
            (x0, y0), (x1, y1) = body.outer.lower, body.outer.upper
            low = [[a + b * x + c * y for a, b, c in self.shape.room.ceiling] for x in (x0, x1) for y in (y0, y1)]
            if not any(all(h[k] <= min(h) + TOLERANCE for h in low) for k in range(len(low[0]))):
                return "across a bend of the ceiling"
            return "where the ceiling meets the floor" if min(map(min, low)) < 0.1 else ""
        ceiling = min(self.shape.ceiling_at(x, y) for x, y in corners)
        # A face under a slope that falls into the room ends at the ceiling of its wall, not of the air before it.
        slack = TOLERANCE if body.deep > 0.0 else 0.02
        return "above the ceiling" if body.top > ceiling + slack or body.bottom < -TOLERANCE else ""

    def _covered(self, body: Body) -> str:
        for block, plan in self._blocks:
            if _share_height(body, block.lower[2], block.upper[2]) and _share_plan(body.footprint, plan):
                return f"covered by {show(block.name)}"
        for thin_partition in self.variant.thin_partitions:
            if _divides(thin_partition, body):
                return f"divided by {show(thin_partition.name)}"
        for absorber, face in self._faces:
            if _same_place(body, absorber, face):
                return f"at the absorber {show(absorber.name)}"
        return ""

    def _not_wanted(self, body: Body) -> str:
        for patch, face in self._patches:
            if _same_place(body, patch, face):
                return f"over {show(patch.name)}"
        for fill in self.variant.porous_volumes:
            named = self.spots.avoid is not None and fill.name in self.spots.avoid
            if (named or body.deep > 0.0) and _in_porous_volume(fill, body):
                return f"in {show(fill.name)}"
        for name in self.spots.avoid or ():
            if body.surface.on.startswith(f"block {name} "):
                return f"on {show(name)}"
        width = body.outer.upper[0] - body.outer.lower[0]
        if any(body.footprint.distance(line) < 0.5 * width - TOLERANCE for line in self._clear):
            return "in a place to keep clear"
        return self._near_points(body)

    def _near_points(self, body: Body) -> str:
        for seat in self.variant.seats:
            if min(math.dist(seat.at, body.centre), math.dist(seat.at, body.front)) < self.spots.seat_distance:
                return f"nearer than {number(self.spots.seat_distance)} m to the seat {show(seat.name)}"
        for source in self.variant.sources:
            x, y, z = source.at
            if body.deep > 0.0 and body.bottom < z < body.top and body.footprint.contains(Point(x, y)):
                return f"where the source {show(source.name)} is"
        return ""

    def corner(self, body: Body) -> str:
        """'corner' if surfaces rise at neighbouring edges of the unit, 'edge' if at one of them, else 'face'."""
        (u0, v0), (u1, v1) = body.outer.lower, body.outer.upper
        us, vs = _along(u0, u1), _along(v0, v1)
        # Beside the unit a low plinth does not make a corner; a slope above it touches it at one end only.
        beside = [self._rises(body, [(u, v) for v in vs], (s, 0.0)) >= 2 for u, s in ((u0, -1.0), (u1, 1.0))]
        ends = [self._rises(body, [(u, v) for u in us], (0.0, s)) for v, s in ((v0, -1.0), (v1, 1.0))]
        above = [n >= (1 if isinstance(body.surface, Upright) else 2) for n in ends]
        return "corner" if any(beside) and any(above) else "edge" if any(beside + above) else "face"

    def beside(self, body: Body) -> str:
        """The name of a block that stands right beside an upright unit, "" if there is none."""
        (u0, v0), (u1, v1) = body.outer.lower, body.outer.upper
        for u in (u0 - PROBE, u1 + PROBE):
            point = body.surface.point(u, 0.5 * (v0 + v1), PROBE)
            for block in self.variant.blocks:
                if in_box(point, block.lower, block.upper):
                    return block.name
        return ""

    def _rises(self, body: Body, points: Sequence[tuple[float, float]], way: tuple[float, float]) -> int:
        """At how many of the points of an edge a step `way` out of the unit leads into something solid."""
        count = 0
        for u, v in points:
            inner = body.surface.point(u - PROBE * way[0], v - PROBE * way[1], PROBE)
            outer = body.surface.point(u + PROBE * way[0], v + PROBE * way[1], PROBE)
            solid = not self.shape.in_air(outer, self.variant.blocks)
            count += solid or any(_between(s, inner, outer) for s in self.variant.thin_partitions)
        return count


def _along(low: float, high: float) -> list[float]:
    return [low + share * (high - low) for share in (0.05, 0.5, 0.95)]


def share_space(a: Body, b: Body) -> bool:
    """Whether two bodies take up the same space."""
    return _share_height(a, b.bottom, b.top) and _share_plan(a.footprint, b.footprint)


def _share_height(body: Body, low: float, high: float) -> bool:
    return min(body.top, high) - max(body.bottom, low) > LEAST_HEIGHT


def _share_plan(a: Polygon, b: Polygon) -> bool:
    return bool(a.intersection(b).area > LEAST_AREA)


def _same_place(body: Body, thing: Patch | Absorber, face: Body | None) -> bool:
    """Whether a unit covers a patch or absorber, with its face or its cabinet."""
    if thing.on == body.surface.on:
        return overlap(body.outer, thing.rectangle) > TOLERANCE
    return body.deep > 0.0 and face is not None and share_space(body, face)


def _in_porous_volume(fill: PorousVolume, body: Body) -> bool:
    plan = box(*fill.lower[:2], *fill.upper[:2])
    return _share_height(body, fill.lower[2], fill.upper[2]) and _share_plan(body.footprint, plan)


def _divides(thin_partition: ThinPartition, body: Body) -> bool:
    if thin_partition.axis == 2:
        inside = body.bottom + LEAST_HEIGHT < thin_partition.position < body.top - LEAST_HEIGHT
        return inside and _share_plan(body.footprint, closed_part(thin_partition))
    cut = body.footprint.buffer(-1e-4, join_style="mitre").intersection(thin_partition_line(thin_partition))
    if cut.is_empty:
        return False
    along = [p[1 - thin_partition.axis] for p in shapely.get_coordinates(cut)]
    crossed = box(min(along), body.bottom, max(along), body.top)
    return bool(crossed.intersection(closed_part(thin_partition)).area > 1e-3 * crossed.area)


def _between(thin_partition: ThinPartition, a: Point3, b: Point3) -> bool:
    """Whether the closed part of a thin partition stands between two points."""
    before, after = a[thin_partition.axis] - thin_partition.position, b[thin_partition.axis] - thin_partition.position
    if before * after > 0.0 or before == after:
        return False
    t = before / (before - after)
    x, y, z = (p + t * (q - p) for p, q in zip(a, b, strict=True))
    return is_closed_at(thin_partition, (x, y, z))
