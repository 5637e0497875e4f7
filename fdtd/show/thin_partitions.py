"""Draw thin partitions in any view: cut, seen from the front, with their openings."""

from __future__ import annotations

from typing import Any

from matplotlib.colors import to_rgba
from matplotlib.patches import Polygon

from fdtd.scene.schema import Rectangle, ThinPartition
from fdtd.show.geometry import View, thin_partition_span
from fdtd.show.style import look

Range = tuple[float, float]
THIN = {"linewidth": 0.6, "linestyle": (0, (2, 2))}
"""Of what the plane does not cut."""


def cut_sheet_look(thin_partition: ThinPartition | None = None) -> dict[str, Any]:
    """How a cut partition is drawn: a thick line, broken for one that is partly open."""
    dashed = thin_partition is not None and thin_partition.open_fraction > 0.0
    style: dict[str, Any] = {"linestyle": (0, (1.6, 0.8))} if dashed else {"solid_capstyle": "butt"}
    return {"color": look().ink, "linewidth": 1.6, **style}


def draw_thin_partition(axes: Any, thin_partition: ThinPartition, view: View) -> tuple[Range, tuple[Range, ...]]:
    """Draw one; returns where its name belongs and its line, empty if it is seen from the front."""
    if thin_partition.axis == view.normal:
        return _draw_front(axes, thin_partition, view), ()
    along = next(k for k in view.axes if k != thin_partition.axis)
    lower, upper = thin_partition_span(thin_partition, thin_partition.rectangle, along)
    cut = view.cuts(*thin_partition_span(thin_partition, thin_partition.rectangle, view.normal))
    gaps = [
        thin_partition_span(thin_partition, o, along)
        for o in thin_partition.openings
        if view.cuts(*thin_partition_span(thin_partition, o, view.normal))
    ]
    pieces = _without(lower, upper, gaps) if cut else []
    for start, end in [(lower, upper)] if not cut else gaps:
        axes.plot(*_line(view, thin_partition, start, end), zorder=4, color=look().muted, **THIN)
    for start, end in pieces:
        axes.plot(*_line(view, thin_partition, start, end), zorder=5, **cut_sheet_look(thin_partition))
    # The name stands by the longest piece.
    start, end = max(pieces, key=lambda p: p[1] - p[0]) if pieces else (lower, upper)
    (x0, x1), (y0, y1) = _line(view, thin_partition, start, end)
    whole = tuple(zip(*_line(view, thin_partition, lower, upper), strict=True))
    return (0.5 * (x0 + x1), 0.5 * (y0 + y1)), whole


def _draw_front(axes: Any, thin_partition: ThinPartition, view: View) -> Range:
    """A partition across the way one looks: tinted if it is beyond the plane, in dashes if it is before it."""
    colours, seen = look(), view.beyond(thin_partition.position, thin_partition.position)
    style: dict[str, Any] = {"linewidth": 0.6} if seen else THIN
    for number, part in enumerate((thin_partition.rectangle, *thin_partition.openings)):
        face = "none" if not seen else to_rgba(colours.solid, 0.3) if number == 0 else colours.paper
        corners = _corners(part)
        axes.add_patch(Polygon(corners, closed=True, facecolor=face, edgecolor=colours.muted, zorder=2.4, **style))
    (x0, y0), (x1, y1) = thin_partition.rectangle.lower, thin_partition.rectangle.upper
    return 0.5 * (x0 + x1), 0.5 * (y0 + y1)


def _corners(part: Rectangle) -> list[Range]:
    (x0, y0), (x1, y1) = part.lower, part.upper
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def _line(view: View, thin_partition: ThinPartition, start: float, end: float) -> tuple[list[float], list[float]]:
    across = [thin_partition.position, thin_partition.position]
    return (across, [start, end]) if view.axes[0] == thin_partition.axis else ([start, end], across)


def _without(lower: float, upper: float, gaps: list[Range]) -> list[Range]:
    """The range lower..upper less the gaps."""
    pieces, start = [], lower
    for gap_start, gap_end in sorted(gaps):
        if gap_start > start + 1e-9:
            pieces.append((start, gap_start))
        start = max(start, gap_end)
    if upper > start + 1e-9:
        pieces.append((start, upper))
    return pieces
