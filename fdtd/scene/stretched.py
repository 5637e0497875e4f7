"""The same room a little longer or wider: every coordinate multiplied along its own axis, so that what touched still
touches and what was inside is still inside."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TypeVar

from fdtd.scene.faces import block_side, wall_number
from fdtd.scene.schema import Absorber, Patch, Point2, Point3, Rectangle, Room, Variant

OnSurface = TypeVar("OnSurface", Patch, Absorber)


@dataclass(frozen=True)
class Stretch:
    """room : as it was; factors : along x, y and z, each above 0."""

    room: Room
    factors: Point3

    def stretched_room(self) -> Room:
        """Plan and ceiling: z = a + b x + c y becomes z' = f_z (a + b x'/f_x + c y'/f_y)."""
        x, y, z = self.factors
        plan = tuple(self._pair(corner, (0, 1)) for corner in self.room.plan)
        return Room(plan, tuple((a * z, b * z / x, c * z / y) for a, b, c in self.room.ceiling))

    def variant(self, variant: Variant) -> Variant:
        """`variant` with everything that is in it."""
        blocks = (replace(b, lower=self.point(b.lower), upper=self.point(b.upper)) for b in variant.blocks)
        volumes = (replace(v, lower=self.point(v.lower), upper=self.point(v.upper)) for v in variant.porous_volumes)
        partitions = []
        for one in variant.thin_partitions:
            axes = [axis for axis in range(3) if axis != one.axis]
            rectangle, *openings = (self._rectangle(r, axes) for r in (one.rectangle, *one.openings))
            position = one.position * self.factors[one.axis]
            partitions.append(replace(one, position=position, rectangle=rectangle, openings=tuple(openings)))
        return replace(
            variant,
            patches=tuple(self.on_surface(patch) for patch in variant.patches),
            blocks=tuple(blocks),
            thin_partitions=tuple(partitions),
            porous_volumes=tuple(volumes),
            sources=tuple(replace(source, at=self.point(source.at)) for source in variant.sources),
            seats=tuple(replace(seat, at=self.point(seat.at)) for seat in variant.seats),
            absorbers=tuple(self.on_surface(absorber) for absorber in variant.absorbers),
        )

    def on_surface(self, thing: OnSurface) -> OnSurface:
        """A patch or an absorber where it then is."""
        return replace(thing, rectangle=self._on(thing.on, thing.rectangle))

    def point(self, at: Point3) -> Point3:
        """Where a point then is."""
        x, y, z = (a * factor for a, factor in zip(at, self.factors, strict=True))
        return x, y, z

    def _on(self, surface: str, rectangle: Rectangle) -> Rectangle:
        if number := wall_number(surface):
            ends = (self.room.plan[number - 1], self.room.plan[number % len(self.room.plan)])
            longer = math.dist(*(self._pair(end, (0, 1)) for end in ends)) / math.dist(*ends)
            lower, upper = ((u * longer, v * self.factors[2]) for u, v in (rectangle.lower, rectangle.upper))
            return Rectangle(lower, upper)
        side = block_side(surface)[1]
        return self._rectangle(rectangle, [axis for axis in range(3) if axis != "xyz".index(side[1:] or "z")])

    def _rectangle(self, rectangle: Rectangle, axes: list[int]) -> Rectangle:
        first, second = axes
        return Rectangle(*(self._pair(corner, (first, second)) for corner in (rectangle.lower, rectangle.upper)))

    def _pair(self, corner: Point2, axes: tuple[int, int]) -> Point2:
        return corner[0] * self.factors[axes[0]], corner[1] * self.factors[axes[1]]
