"""What to say of a source or seat that is outside the plan: how far the room reaches there, and what may be meant."""

from __future__ import annotations

from fdtd.scene.schema import Point3
from fdtd.scene.shape import Shape
from fdtd.scene.text import number, numbers

_UNITS = (("cm", 1e-2, 10.0), ("mm", 1e-3, 100.0))
"""Unit, m, and the least number in it that is not more likely one in m."""
_FOOT = 0.3048
_ALONE = 0.1
"""m: nothing that is meant is nearer than this to the floor, a wall or the ceiling."""


def outside_text(at: Point3, shape: Shape) -> str:
    """The remedy for a point outside the plan."""
    x, y, _ = at
    text = f"this is outside the plan; {_reach(x, y, shape)}, and the nearest point of a wall is "
    return text + numbers(shape.nearest(x, y)) + _meant(at, shape)


def _reach(x: float, y: float, shape: Shape) -> str:
    """How far the room reaches at this x, else at this y, else in all."""
    for axis, here in ((1, x), (0, y)):
        spans = shape.spans(axis, here)
        if spans:
            text = " and ".join(f"from {number(low)} to {number(high)} m" for low, high in spans)
            return f"at {'yx'[axis]} = {number(here)} the room runs {text} in {'xy'[axis]}"
    x0, y0, x1, y1 = shape.plan.bounds
    return f"the room runs from {number(x0)} to {number(x1)} m in x and from {number(y0)} to {number(y1)} m in y"


def _meant(at: Point3, shape: Shape) -> str:
    """'; if these are cm, write ..': only where every number looks like one in the unit and the place is a good one."""
    for unit, factor, least in _UNITS:
        point = (at[0] * factor, at[1] * factor, at[2] * factor)
        if all(v >= least for v in at) and _free(point, shape):
            return f"; if these are {unit}, write {numbers(point)}"
    feet = (at[0] * _FOOT, at[1] * _FOOT, at[2] * _FOOT)
    if at[2] > shape.top and _free(feet, shape):
        return f"; if these are feet, write {numbers(round(v, 2) for v in feet)}"
    swapped = (at[1], at[0], at[2])
    return f"; if x and y are swapped, write {numbers(swapped)}" if _free(swapped, shape) else ""


def _free(point: Point3, shape: Shape) -> bool:
    return shape.covers(point[0], point[1]) and shape.wall_distance(point) >= _ALONE
