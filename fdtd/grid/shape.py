"""The shape of a room as the grid sees it: a plan, a ceiling, solid boxes, thin thin partitions."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

TOLERANCE = 1e-9
"""m; coordinates closer together than this are the same plane."""

Point2 = tuple[float, float]
Point3 = tuple[float, float, float]
Box2 = tuple[Point2, Point2]

AXIS_NAMES = "xyz"


@dataclass(frozen=True)
class BoxShape:
    """A solid axis-aligned box, m."""

    name: str
    lower: Point3
    upper: Point3


@dataclass(frozen=True)
class ThinPartitionShape:
    """A thin thin partition in the plane `axis` = `position`; rectangles in the two remaining axes, in x, y, z
    order."""

    name: str
    axis: int
    position: float
    rectangle: Box2
    openings: tuple[Box2, ...] = ()


@dataclass(frozen=True)
class RoomShape:
    """plan : corners, m; ceiling : planes (a, b, c), z = a + b x + c y, the lowest counts.

    marks : per axis, coordinates that are worth a cell edge if there is room for one (edges of patches, fills)
    """

    plan: tuple[Point2, ...]
    ceiling: tuple[tuple[float, float, float], ...]
    boxes: tuple[BoxShape, ...] = ()
    thin_partitions: tuple[ThinPartitionShape, ...] = ()
    marks: tuple[tuple[float, ...], ...] = field(default=((), (), ()))


def ceiling_height(ceiling: tuple[tuple[float, float, float], ...], x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Height of the lowest ceiling plane over (x, y), m; the shape of `x`."""
    return np.min([a + b * np.asarray(x) + c * np.asarray(y) for a, b, c in ceiling], axis=0)
