"""Where everything stands in the pictures of an animation, in inches from the lower left corner."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fdtd.scene.schema import Scene
from fdtd.show.geometry import View, outlines

WIDTH = 1080
"""Pixels, width of a picture when no size is asked for."""
SMALLEST, LARGEST = 320, 4096
"""Pixels, to one side."""
NARROW, LOW = 4.3, 4.1
"""Inches that the width and the height are taken to be at least, so that text is as large as in a figure of a page."""
EDGE, LEFT, GAP = 0.10, 0.36, 0.14
"""Inches: to the edges, for the marks of the axes, between columns."""
HEAD, TITLE, TICKS = 0.39, 0.18, 0.38
"""Inches: heading with the clock, title of a column, marks and name of an axis below a panel."""
BAR, FOOT = 0.40, 0.25
"""Inches: colour scale with its text, footer."""
TRACE, TRACE_GAP = 0.66, 0.36
"""Inches: height of a seat's trace, and what is below it."""
MARGIN = 0.04
"""Share of the room's larger extent that is left around it."""
MOST_SEATS = 4
"""Seats whose traces are drawn."""

Box = tuple[float, float, float, float]
"""left, bottom, width, height."""


@dataclass(frozen=True)
class Layout:
    """pixels : width and height; dots : pixels an inch; panels : [variant][view] boxes; scale : inches a metre
    limits : of each view (left, right, bottom, top) in m; traces, bar : boxes; heading : upper edge of the columns."""

    pixels: tuple[int, int]
    dots: float
    panels: tuple[tuple[Box, ...], ...]
    limits: tuple[tuple[float, float, float, float], ...]
    traces: tuple[Box, ...]
    bar: Box
    heading: float

    @property
    def inches(self) -> tuple[float, float]:
        return self.pixels[0] / self.dots, self.pixels[1] / self.dots


def animation_layout(
    scene: Scene, views: tuple[View, ...], variants: int, seats: int, size: tuple[int, int | None] | None
) -> Layout:
    """The layout for pictures of `size` pixels (width, height; no height: as high as needed).

    Plan and section stand below each other, or side by side where that makes them larger.
    """
    wide, tall = size or (WIDTH, None)
    limits = tuple(_limits(scene, view) for view in views)
    spans = [(right - left, top - bottom) for left, right, bottom, top in limits]
    rows = -(-min(seats, MOST_SEATS) // 2)
    below = rows * (TRACE + TRACE_GAP) + BAR + FOOT
    if tall is None:
        dots = wide / NARROW
        column = column_width(NARROW, variants)
        scale = column / max(span for span, _ in spans)
        high = HEAD + TITLE + below + sum(scale * h for _, h in spans) + TICKS * len(views)
        tall = 2 * round(high * dots / 2.0)
    dots = min(wide / NARROW, tall / LOW)
    width, height = wide / dots, tall / dots
    column, room = column_width(width, variants), height - HEAD - TITLE - below
    stacked = min(column / max(w for w, _ in spans), max(room - TICKS * len(views), 0.1) / sum(h for _, h in spans))
    beside = min(
        (column - LEFT * (len(views) - 1)) / sum(w for w, _ in spans), max(room - TICKS, 0.1) / max(h for _, h in spans)
    )
    top = height - HEAD - TITLE
    panels = tuple(
        _boxes(spans, LEFT + EDGE + k * (column + GAP), column, top, max(stacked, beside), beside > stacked)
        for k in range(variants)
    )
    lowest = min(box[1] for column_boxes in panels for box in column_boxes) - TICKS
    bar = (LEFT + EDGE, lowest - 0.09, width - LEFT - 2 * EDGE, 0.07)
    spare = max(lowest - below, 0.0) / max(rows, 1)
    return Layout((wide, tall), dots, panels, limits, _traces(width, seats, TRACE + min(spare, TRACE)), bar, top)


def column_width(width: float, variants: int) -> float:
    """Inches that each variant has across a picture `width` inches wide."""
    return (width - LEFT - 2 * EDGE - GAP * (variants - 1)) / variants


def _limits(scene: Scene, view: View) -> tuple[float, float, float, float]:
    corners = np.vstack(outlines(scene.room, view))
    lower, upper = corners.min(axis=0), corners.max(axis=0)
    margin = MARGIN * float((upper - lower).max())
    return lower[0] - margin, upper[0] + margin, lower[1] - margin, upper[1] + margin


def _boxes(
    spans: list[tuple[float, float]], left: float, column: float, top: float, scale: float, beside: bool
) -> tuple[Box, ...]:
    """Boxes of the views of one variant, in the middle of its column."""
    boxes = []
    if beside:
        used = scale * sum(w for w, _ in spans) + LEFT * (len(spans) - 1)
        at = left + 0.5 * (column - used)
        for w, h in spans:
            boxes.append((at, top - scale * h, scale * w, scale * h))
            at += scale * w + LEFT
        return tuple(boxes)
    for w, h in spans:
        boxes.append((left + 0.5 * (column - scale * w), top - scale * h, scale * w, scale * h))
        top -= scale * h + TICKS
    return tuple(boxes)


def _traces(width: float, seats: int, high: float) -> tuple[Box, ...]:
    """Boxes of the traces, `high` with their gap, two a row, the lowest row above the footer."""
    count = min(seats, MOST_SEATS)
    columns = min(count, 2)
    rows = -(-count // 2)
    boxes = []
    for k in range(count):
        row, column = divmod(k, 2)
        wide = (width - LEFT - 2 * EDGE - (GAP + 0.1) * (columns - 1)) / columns
        low = FOOT + TRACE_GAP - 0.08 + (rows - 1 - row) * (high + TRACE_GAP)
        boxes.append((LEFT + EDGE + column * (wide + GAP + 0.1), low, wide, high - 0.06))
    return tuple(boxes)
