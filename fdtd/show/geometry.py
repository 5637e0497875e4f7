"""Where things are in a plan or section: outlines of the room, corners of faces, views."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fdtd.scene.faces import block_side, wall_number
from fdtd.scene.schema import Plane, Point2, Point3, Rectangle, Room, Scene, ThinPartition, Variant


@dataclass(frozen=True)
class View:
    """A plane through the room: `normal` axis (2: plan, 0 or 1: vertical section) and its `position`, m."""

    normal: int
    position: float

    @property
    def axes(self) -> tuple[int, int]:
        """The axis drawn to the right and the one drawn upwards."""
        first, second = (k for k in range(3) if k != self.normal)
        return first, second

    def cuts(self, lower: float, upper: float) -> bool:
        """Whether the plane goes through the range lower..upper of its normal axis."""
        return min(lower, upper) - 1e-9 <= self.position <= max(lower, upper) + 1e-9

    @property
    def looks(self) -> int:
        """+1 or -1: the way along the normal in which one looks. With the first axis to the right and the second one
        upwards, a plan is seen from above, a section along y from the side of small y, one along x from large x."""
        return 1 if self.normal == 1 else -1

    def beyond(self, lower: float, upper: float) -> bool:
        """Whether the range lower..upper lies wholly on the far side of the plane: it is seen, but not cut."""
        near = min(lower, upper) if self.looks > 0 else -max(lower, upper)
        return near > self.looks * self.position + 1e-9


def plan_view(variant: Variant, height: float | None = None) -> View:
    """The plan at `height`, m; by default at the mean height of the seats (1.2 m without any)."""
    if height is None:
        height = float(np.mean([seat.at[2] for seat in variant.seats])) if variant.seats else 1.2
    return View(2, height)


def section_view(variant: Variant) -> View:
    """The vertical section through the first seat, along the axis on which the first source is farther from it.

    Without a seat or source, the section lies along x through whatever there is, or through y = 0.
    """
    points = [thing[0].at for thing in (variant.seats, variant.sources) if thing]
    if not points:
        return View(1, 0.0)
    seat, source = points[0], points[-1]
    along = 0 if abs(seat[0] - source[0]) >= abs(seat[1] - source[1]) else 1
    return View(1 - along, float(seat[1 - along]))


def telling_section(room: Room, *variants: Variant) -> View:
    """The vertical section that shows most: the ceiling's slopes first, then how many things it cuts or passes.

    It goes through a seat or a source if there is one. `section_view` is taken where no other one shows more. Of
    several variants the one that shows most of all of them together.
    """
    usual = section_view(variants[0])
    places = dict.fromkeys(at for variant in variants for at in _points(variant))
    views = [usual, *(View(normal, float(at[normal])) for at in places for normal in (1, 0))]
    return max(views, key=lambda view: sum(_text(room, variant, view) for variant in variants))


def scene_section(scene: Scene) -> View:
    """The one section that all plans, maps and mode shapes of a scene show."""
    return telling_section(scene.room, *scene.variants)


def _text(room: Room, variant: Variant, view: View) -> float:
    heights = np.concatenate([piece[2:, 1] for piece in outlines(room, view)])
    axis = view.normal
    boxes = [(b.lower, b.upper) for b in variant.blocks] + [(f.lower, f.upper) for f in variant.porous_volumes]
    bodies = sum(view.cuts(lower[axis], upper[axis]) for lower, upper in boxes)
    across = [thin_partition for thin_partition in variant.thin_partitions if thin_partition.axis != axis]
    thin_partitions = sum(
        view.cuts(*thin_partition_span(thin_partition, thin_partition.rectangle, axis)) for thin_partition in across
    )
    doors = sum(
        view.cuts(*thin_partition_span(thin_partition, opening, axis))
        for thin_partition in across
        for opening in thin_partition.openings
    )
    seats = sum(abs(seat.at[axis] - view.position) <= 0.3 for seat in variant.seats)
    sources = sum(abs(source.at[axis] - view.position) <= 0.3 for source in variant.sources)
    # A pair of loudspeakers tells less than the seat they are heard at.
    return float(round(4.0 * np.ptp(heights), 6) + bodies + thin_partitions + 0.5 * doors + seats + 0.4 * sources)


def _points(variant: Variant) -> list[Point3]:
    return [seat.at for seat in variant.seats] + [source.at for source in variant.sources]


def thin_partition_span(thin_partition: ThinPartition, rectangle: Rectangle, axis: int) -> tuple[float, float]:
    """Range of a rectangle of the sheet along one of the sheet's own two axes."""
    number = [k for k in range(3) if k != thin_partition.axis].index(axis)
    return rectangle.lower[number], rectangle.upper[number]


def ceiling_height(ceiling: tuple[Plane, ...], x: float, y: float) -> float:
    """Height of the ceiling over (x, y), m: the lowest of its planes."""
    return float(min(a + b * x + c * y for a, b, c in ceiling))


def outlines(room: Room, view: View) -> list[NDArray[np.float64]]:
    """Closed outlines of the room in `view`, each (corner, 2) in m: one for a plan, one per piece for a section."""
    if view.normal == 2:
        return [np.array(room.plan, dtype=float)]
    return [_section_piece(room, view, lower, upper) for lower, upper in _intervals(room.plan, view)]


def _intervals(plan: tuple[Point2, ...], view: View) -> list[tuple[float, float]]:
    """Ranges along the section that are inside the plan."""
    across, along = view.normal, 1 - view.normal
    corners = np.array(plan, dtype=float)
    # A plane exactly along a wall is moved inwards by less than any drawing shows.
    span = corners[:, across].min(), corners[:, across].max()
    position = float(np.clip(view.position, span[0], span[1]))
    nudge = 1e-7 * (span[1] - span[0])
    position += nudge if position < 0.5 * (span[0] + span[1]) else -nudge
    crossings = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if (start[across] > position) != (end[across] > position):
            share = (position - start[across]) / (end[across] - start[across])
            crossings.append(float(start[along] + share * (end[along] - start[along])))
    crossings.sort()
    return list(zip(crossings[0::2], crossings[1::2], strict=True))


def _section_piece(room: Room, view: View, lower: float, upper: float) -> NDArray[np.float64]:
    across, along = view.normal, 1 - view.normal
    start, way = np.zeros(2), np.zeros(2)
    start[across], way[along] = view.position, 1.0
    top = ceiling_line(room.ceiling, start, way, lower, upper)[::-1]
    return np.vstack([[(lower, 0.0), (upper, 0.0)], top])


def ceiling_line(
    ceiling: tuple[Plane, ...], start: NDArray[np.float64], way: NDArray[np.float64], lower: float, upper: float
) -> NDArray[np.float64]:
    """(point, 2) m along the line start + s way of the plan, and height of the ceiling there, from s = lower to upper.

    start, way : (2,) m and unit vector; points are the ends and the bends; height 0 where a plane meets the floor
    """
    lines = [(a + b * start[0] + c * start[1], b * way[0] + c * way[1]) for a, b, c in ceiling]
    bends = [lower, upper]
    for (height_1, slope_1), (height_2, slope_2) in combinations(lines, 2):
        if abs(slope_1 - slope_2) > 1e-12:
            bends.append((height_2 - height_1) / (slope_1 - slope_2))
    # Where a plane meets the floor the room ends, too.
    bends += [-height / slope for height, slope in lines if abs(slope) > 1e-12]
    stations = sorted({s for s in bends if lower <= s <= upper})
    tops = [max(0.0, min(height + slope * s for height, slope in lines)) for s in stations]
    return np.column_stack([stations, tops]).astype(float)


def surface_corners(scene: Scene, variant: Variant, on: str, rectangle: Rectangle) -> NDArray[np.float64] | None:
    """(4, 3) corners in m of a rectangle on a surface ('floor', 'ceiling', 'wall n', 'block NAME +x').

    None if the surface is a block that the variant does not have.
    """
    (low_1, low_2), (high_1, high_2) = rectangle.lower, rectangle.upper
    flat = [(low_1, low_2), (high_1, low_2), (high_1, high_2), (low_1, high_2)]
    if on in ("floor", "ceiling"):
        ceiling = scene.room.ceiling
        return np.array([(x, y, 0.0 if on == "floor" else ceiling_height(ceiling, x, y)) for x, y in flat])
    if wall := wall_number(on):
        start, direction, _ = wall_line(scene.room.plan, wall)
        return np.array([(*(start + along * direction), height) for along, height in flat])
    name, face = block_side(on)
    block = next((b for b in variant.blocks if b.name == name), None)
    if block is None:
        return None
    axis = "xyz".index(face[1])
    depth = (block.upper if face[0] == "+" else block.lower)[axis]
    corners = np.insert(np.array(flat, dtype=float), axis, depth, axis=1)
    return np.asarray(corners)


def wall_line(plan: tuple[Point2, ...], number: int) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Start (2,) m, direction (2,) and length m of wall `number`, counted from 1."""
    start, end = np.array(plan[number - 1], dtype=float), np.array(plan[number % len(plan)], dtype=float)
    length = float(np.hypot(*(end - start)))
    return start, (end - start) / length, length


def outward(plan: tuple[Point2, ...], number: int) -> NDArray[np.float64]:
    """(2,) unit vector out of the room at wall `number`, whichever way round the plan is given."""
    corners = np.array(plan, dtype=float)
    nxt = np.roll(corners, -1, axis=0)
    area = float(np.sum(corners[:, 0] * nxt[:, 1] - nxt[:, 0] * corners[:, 1]))
    _, (dx, dy), _ = wall_line(plan, number)
    return np.array([dy, -dx]) * (1.0 if area > 0 else -1.0)
