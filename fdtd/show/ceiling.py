"""A sloped ceiling on the plan: lines of equal height with their heights, and the lines where it bends."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from fdtd.scene.schema import Plane, Room
from fdtd.show.labels import Boxes, no_boxes, note, on_paper, overlap, text_box
from fdtd.show.style import TINY, look

STEPS = (0.25, 0.5, 1.0, 2.0)
"""m between lines; the first one that makes no more than `MOST` is taken."""
MOST = 4
GRAZING = 0.02
"""m; a line so close to the lowest or highest ceiling would only trace it."""
SHARES = (0.5, 0.42, 0.58, 0.35, 0.65, 0.27, 0.73, 0.2, 0.8, 0.15, 0.85, 0.1, 0.9, 0.05, 0.95)
"""Of a line of equal height, where the height is tried."""
FAR = 1e4
"""m, larger than any room."""

Line = NDArray[np.float64]


def sloped(room: Room) -> bool:
    """Whether the ceiling is higher in one part of the plan than in another."""
    low, high = _range(room)
    return high - low > 1e-3


def contours(room: Room) -> list[tuple[float, Line]]:
    """(height in m, (corner, 2) in m) of every line on the plan above which the ceiling has a round height."""
    low, high = _range(room)
    plan = Polygon(room.plan)
    for step in STEPS:
        heights = step * np.arange(np.floor(low / step) + 1, np.ceil(high / step))
        heights = heights[(heights > low + GRAZING) & (heights < high - GRAZING)]
        if len(heights) <= MOST:
            break
    found = []
    for height in heights:
        region = plan
        for a, b, c in room.ceiling:
            region = region.intersection(_half_plane((a - height, b, c)))
        found += [(float(height), line) for line in _inner_lines(region, plan)]
    return found


def bends(room: Room) -> list[Line]:
    """(2, 2) ends in m of every line on the plan where two planes of the ceiling meet."""
    plan, lines = Polygon(room.plan), []
    for number, (a, b, c) in enumerate(room.ceiling):
        region = plan
        for other, (d, e, f) in enumerate(room.ceiling):
            if other != number:
                region = region.intersection(_half_plane((d - a, e - b, f - c)))
        lines += _inner_lines(region, plan)
    # Each line is the edge of two regions.
    kept: list[Line] = []
    for line in lines:
        middle = shapely.Point(line.mean(axis=0))
        if all(shapely.LineString(other).distance(middle) > 1e-4 for other in kept):
            kept.append(line)
    return kept


def draw_ceiling(axes: Any, room: Room) -> list[tuple[float, Line]]:
    """Draw both kinds of lines; returns the lines of equal height. Nothing is drawn under a level ceiling."""
    if not sloped(room):
        return []
    colours = look()
    for line in bends(room):
        axes.plot(*line.T, color=colours.muted, linewidth=0.7, linestyle=(0, (7, 2, 1.2, 2)), zorder=2.2)
    lines = contours(room)
    for _, line in lines:
        axes.plot(*line.T, color=colours.faint, linewidth=0.7, zorder=2.1)
    return lines


def write_heights(axes: Any, lines: list[tuple[float, Line]], taken: Boxes) -> Boxes:
    """Write the height on every line, where it covers least; returns the boxes of the texts."""
    boxes = [no_boxes()]
    for height, line in lines:
        string = shapely.LineString(line)
        style: dict[str, Any] = {"color": look().muted, "zorder": 9, "bbox": on_paper(0.08, alpha=1.0)}
        text = note(axes, f"{height:.2f} m", (0.0, 0.0), size=TINY, **style)
        costs = []
        for share in SHARES:
            text.xy = string.interpolate(share, normalized=True).coords[0]
            costs.append((overlap(text_box(text)[0], np.vstack([taken, *boxes])) + 0.1 * abs(share - 0.5), text.xy))
        text.xy = min(costs, key=lambda one: one[0])[1]
        boxes.append(text_box(text))
    return np.vstack(boxes)


def _range(room: Room) -> tuple[float, float]:
    """Lowest and highest ceiling over the corners of the plan and the bends, m; 0 where it is below the floor."""
    points = [*room.plan, *(tuple(end) for line in bends(room) for end in line)]
    heights = [max(0.0, min(a + b * x + c * y for a, b, c in room.ceiling)) for x, y in points]
    return min(heights), max(heights)


def _half_plane(plane: Plane) -> Any:
    """Where a + b x + c y >= 0, as a very large polygon."""
    a, b, c = plane
    size = float(np.hypot(b, c))
    if size < 1e-12:
        return shapely.box(-FAR, -FAR, FAR, FAR) if a >= 0.0 else Polygon()
    normal, across = np.array([b, c]) / size, np.array([-c, b]) / size
    foot = -a / size * normal
    corners = [foot - FAR * across, foot + FAR * across, foot + FAR * (across + normal), foot + FAR * (normal - across)]
    return Polygon(corners)


def _inner_lines(region: Any, plan: Any) -> list[Line]:
    """The edges of `region` that are not walls."""
    if region.is_empty:
        return []
    lines = region.boundary.difference(plan.boundary.buffer(1e-5))
    merged = shapely.line_merge(lines) if lines.geom_type.startswith("Multi") else lines
    return [np.asarray(part.coords) for part in shapely.get_parts(merged) if part.length > 0.05]
