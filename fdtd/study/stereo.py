"""Pairs of loudspeaker places that suit two channels: alike for the main seat, in front of it, in the same room."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon, box

from fdtd.scene import shape
from fdtd.scene.schema import Point3, Scene, ThinPartition, Variant
from fdtd.study.floor import points_of

TOLERANCE = 0.2
"""m by which the two distances to the main seat may differ (ours: a millisecond is 0.34 m, and shifts the image)."""
ANGLE = (40.0, 90.0)
"""degrees between the two loudspeakers, seen from the main seat; 60 is common practice (ITU-R BS.775)."""
DISTANCE = (1.2, 4.5)
"""m from the main seat to either loudspeaker (ours)."""
TURN = 20.0
"""degrees by which the middle of the two may lie to the side of where the loudspeakers are now, which is where one
looks (ours)."""
HALF_OPEN = 0.5
"""Open share from which one looks through a thin partition."""


def main_seat(scene: Scene, variant: Variant) -> int:
    """Number of the seat with the largest weight; of equals the first."""
    return int(np.argmax(scene.seat_weights(variant.seats)))


def stereo_pairs(
    scene: Scene, variant: Variant, places: NDArray[np.float64], tolerance: float = TOLERANCE
) -> list[tuple[int, int]]:
    """Pairs of `places` ((place, 3) m) that suit the main seat of `variant`, which has at least one source and seat;
    tolerance : m, see `TOLERANCE`."""
    seat, points = variant.seats[main_seat(scene, variant)].at, points_of(places)
    floor = _floor(scene)
    ahead = np.mean([source.at for source in variant.sources], axis=0)[:2] - seat[:2]
    away = places[:, :2] - seat[:2]
    apart = np.linalg.norm(away, axis=1)
    near = (apart >= DISTANCE[0]) & (apart <= DISTANCE[1])
    seen = [k for k in np.flatnonzero(near) if _in_sight(floor, variant, points[k], seat)]
    return [
        (int(i), int(j))
        for i, j in combinations(seen, 2)
        if abs(apart[i] - apart[j]) <= tolerance
        and ANGLE[0] <= _angle(away[i], away[j]) <= ANGLE[1]
        and _angle(away[i] / apart[i] + away[j] / apart[j], ahead) <= TURN
        and _in_sight(floor, variant, points[i], points[j])
    ]


def in_sight(scene: Scene, variant: Variant, one: Point3, other: Point3) -> bool:
    """Whether a straight line between two points meets no wall, block or closed thin partition."""
    return _in_sight(_floor(scene), variant, one, other)


def _floor(scene: Scene) -> Polygon:
    """The plan, its edge included."""
    return shape.Shape(scene.room).plan.buffer(shape.TOLERANCE)


def _in_sight(floor: Polygon, variant: Variant, one: Point3, other: Point3) -> bool:
    line = LineString([one[:2], other[:2]])
    if not floor.covers(line):
        return False
    low, high = min(one[2], other[2]), max(one[2], other[2])
    if any(
        b.upper[2] > high and b.lower[2] < low and line.crosses(box(*b.lower[:2], *b.upper[:2])) for b in variant.blocks
    ):
        return False
    return not any(_crosses(part, one, other) for part in variant.thin_partitions)


def _crosses(part: ThinPartition, one: Point3, other: Point3) -> bool:
    """Whether the line meets a thin partition where it is closed."""
    axis = part.axis
    before, after = one[axis] - part.position, other[axis] - part.position
    if before * after >= 0.0 or part.open_fraction >= HALF_OPEN:
        return False
    at = [a + (b - a) * before / (before - after) for a, b in zip(one, other, strict=True)]
    u, v = (at[k] for k in range(3) if k != axis)
    inside = [r.lower[0] <= u <= r.upper[0] and r.lower[1] <= v <= r.upper[1] for r in (part.rectangle, *part.openings)]
    return inside[0] and not any(inside[1:])


def _angle(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """degrees between two directions"""
    cosine = float(one @ other) / max(float(np.linalg.norm(one) * np.linalg.norm(other)), 1e-12)
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
