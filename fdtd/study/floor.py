"""Places that a loudspeaker or a chair may be moved to: a grid over the free floor, and where a place is in words."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from fdtd.scene.schema import Block, Point2, Point3, PorousVolume, Scene, ThinPartition, Variant
from fdtd.scene.shape import Shape

UNDER_CEILING = 0.1
"""m of air that is left above a place."""
DOOR = 0.5
"""m before a part of the plan that [spots] keeps clear."""
SLACK = 1e-6
"""m, rounding."""


def stations(marks: NDArray[np.float64], spacing: float) -> NDArray[np.float64]:
    """Rising positions along an axis that hold the first, the last and the well-separated `marks`, at most `spacing`
    (m) from one to the next."""
    ends = np.unique(np.round(marks, 9))
    kept = [float(ends[0])]
    for mark in ends[1:-1]:
        if mark - kept[-1] >= spacing / 2.0 and ends[-1] - mark >= spacing / 2.0:
            kept.append(float(mark))
    if ends[-1] > kept[-1]:
        kept.append(float(ends[-1]))
    pieces = [np.array(kept[:1])]
    for low, high in zip(kept[:-1], kept[1:], strict=True):
        count = max(1, int(np.ceil((high - low) / spacing - 1e-9)))
        pieces.append(np.linspace(low, high, count + 1)[1:])
    return np.concatenate(pieces)


def free_floor(scene: Scene, variant: Variant, from_wall: float, low: float, high: float) -> BaseGeometry:
    """The part of the plan at least `from_wall` (m) from walls and from all that stands between two heights (m)."""
    free = Shape(scene.room).plan.buffer(-from_wall, join_style="mitre")
    solids: tuple[Block | PorousVolume, ...] = (*variant.blocks, *variant.porous_volumes)
    for thing in solids:
        if thing.lower[2] < high - SLACK and thing.upper[2] > low + SLACK:
            solid = box(*thing.lower[:2], *thing.upper[:2])
            free = free.difference(solid.buffer(from_wall - SLACK, join_style="mitre"))
    for thin_partition in variant.thin_partitions:
        line = _foot(thin_partition, low, high)
        if line is not None:
            free = free.difference(line.buffer(from_wall - SLACK, cap_style="flat"))
    for ends in scene.spots.keep_clear if scene.spots is not None else ():
        free = free.difference(LineString(ends).buffer(DOOR - SLACK))
    return free


def _foot(thin_partition: ThinPartition, low: float, high: float) -> LineString | None:
    """An upright thin partition on the plan, doorways and all; None if it does not stand between the two heights."""
    if (
        thin_partition.axis == 2
        or thin_partition.rectangle.lower[1] >= high
        or thin_partition.rectangle.upper[1] <= low
    ):
        return None
    start, end = thin_partition.rectangle.lower[0], thin_partition.rectangle.upper[0]
    if thin_partition.axis == 0:
        return LineString([(thin_partition.position, start), (thin_partition.position, end)])
    return LineString([(start, thin_partition.position), (end, thin_partition.position)])


def floor_places(
    scene: Scene,
    variant: Variant,
    height: float,
    *,
    spacing: float,
    from_wall: float,
    apart: tuple[Point2, ...] = (),
    distance: float = 0.5,
    body: tuple[float, float] = (0.15, 0.15),
) -> NDArray[np.float64]:
    """(place, 3) m, at `height`, row by row. Places at the least distance from each wall are always among them.

    apart : points of the plan kept at `distance` (m); body : m below and above `height` in which nothing may stand.
    """
    shape = Shape(scene.room)
    free = free_floor(scene, variant, from_wall, height - body[0], height + body[1])
    for point in apart:
        free = free.difference(Point(point).buffer(distance - SLACK, 32))
    room = shape.plan.buffer(-from_wall, join_style="mitre")
    if free.is_empty or room.is_empty:
        return np.zeros((0, 3))
    corners = np.vstack([shapely.get_coordinates(part) for part in _parts(room)])
    roomy = free.buffer(2.0 * SLACK, join_style="mitre")
    found = [
        (float(x), float(y), height)
        for y in stations(corners[:, 1], spacing)
        for x in stations(corners[:, 0], spacing)
        if roomy.covers(Point(x, y)) and shape.ceiling_at(float(x), float(y)) >= height + UNDER_CEILING
    ]
    return np.array(found).reshape(-1, 3)


def points_of(places: NDArray[np.float64]) -> list[Point3]:
    """`places`, (place, 3) m, as points."""
    return [(float(x), float(y), float(z)) for x, y, z in places]


def _parts(geometry: BaseGeometry) -> list[Polygon]:
    return [part for part in getattr(geometry, "geoms", [geometry]) if isinstance(part, Polygon)]
