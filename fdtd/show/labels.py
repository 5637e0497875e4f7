"""Put labels beside what they name, where they cover as little as possible."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.show.style import SMALL, look

Boxes = NDArray[np.float64]
"""(box, 4): left, bottom, right, top in pixels."""

_DIRECTIONS = [(1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1)]
_DISTANCES = (4.5, 9.0, 16.0, 25.0, 36.0)
"""Points between the thing and its label; the nearest free place wins."""
_LEADER_FROM = 12.0
"""Points; a label farther away than this gets a line to its thing."""


@dataclass(frozen=True)
class Label:
    """Text that belongs to the point `at` (data coordinates); `inside`: it may stand on the point itself.

    colour : "" is that of text; gap : points around the point that are taken by its mark
    """

    text: str
    at: tuple[float, float]
    colour: str = ""
    inside: bool = False
    gap: float = 0.0


def note(
    axes: Any, text: str, at: ArrayLike, offset: tuple[float, float] = (0.0, 0.0), size: float = SMALL, **style: Any
) -> Any:
    """Write `text`, its middle `offset` points from `at` (data coordinates); style : of `Axes.annotate`."""
    usual: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": size, "in_layout": False}
    return axes.annotate(text, at, xytext=offset, textcoords="offset points", **usual | style)


def on_paper(pad: float = 0.1, alpha: float = 0.75) -> dict[str, Any]:
    """The box behind a text (`bbox`) that keeps it legible over lines and colours."""
    return {"boxstyle": f"square,pad={pad:g}", "facecolor": look().paper, "edgecolor": "none", "alpha": alpha}


def no_boxes() -> Boxes:
    """Nothing taken."""
    return np.empty((0, 4))


def text_box(text: Any) -> Boxes:
    """(1, 4) where a text stands on the canvas."""
    extent = text.get_window_extent(text.figure.canvas.get_renderer())
    return np.array([[extent.x0, extent.y0, extent.x1, extent.y1]])


def line_boxes(axes: Any, corners: ArrayLike, width: float = 2.0) -> Boxes:
    """Small boxes along a line through `corners` (corner, 2) in data coordinates, `width` points across."""
    half = 0.5 * width * axes.figure.dpi / 72.0
    places = axes.transData.transform(np.asarray(corners, dtype=float))
    boxes = []
    for start, end in zip(places[:-1], places[1:], strict=True):
        count = max(2, int(np.hypot(*(end - start)) / (2.0 * half)) + 1)
        middle = start + np.linspace(0.0, 1.0, count)[:, None] * (end - start)
        boxes.append(np.hstack([middle - half, middle + half]))
    return np.vstack(boxes) if boxes else no_boxes()


def overlap(box: NDArray[np.float64], others: Boxes) -> float:
    """Area of `box` that lies on the others, pixels²."""
    width = np.minimum(box[2], others[:, 2]) - np.maximum(box[0], others[:, 0])
    height = np.minimum(box[3], others[:, 3]) - np.maximum(box[1], others[:, 1])
    return float(np.sum(np.maximum(width, 0.0) * np.maximum(height, 0.0)))


def place_labels(axes: Any, labels: list[Label], taken: Boxes, lines: Boxes, size: float = SMALL) -> Boxes:
    """Write `labels` near their points, off the boxes `taken`, off each other and, if there is room, off `lines`.

    The figure must have been laid out before (`layout.settle`). Returns all boxes now taken.
    """
    points_to_pixels = axes.figure.dpi / 72.0
    spots = axes.transData.transform(np.array([label.at for label in labels]).reshape(-1, 2))
    half = 3.2 * points_to_pixels
    marks = np.hstack([spots - half, spots + half])
    solid = np.array([not label.inside for label in labels], dtype=bool)
    frame = axes.get_window_extent()
    canvas = np.array([[frame.x0, frame.y0, frame.x1, frame.y1]])
    boxes, air = taken, np.array([-2.5, 0.0, 2.5, 0.0]) * points_to_pixels
    for label, spot in zip(labels, spots, strict=True):
        extent = _text_size(axes, label, size)
        area = float(np.prod(extent))
        best: tuple[float, float, NDArray[np.float64]] | None = None
        for distance, centre in _places(spot, extent, points_to_pixels, label):
            if (extent <= canvas[0, 2:] - canvas[0, :2]).all():
                centre = np.clip(centre, canvas[0, :2] + 0.5 * extent, canvas[0, 2:] - 0.5 * extent)
            box = np.concatenate([centre - 0.5 * extent, centre + 0.5 * extent])
            # A little air at the sides, so that two names in a row don't read as one.
            cost = 3.0 * (area - overlap(box, canvas)) + 5.0 * overlap(box, boxes) + overlap(box + air, boxes)
            cost += 2.0 * overlap(box, marks[solid]) + 1.5 * overlap(box, lines) + 0.01 * area * distance
            if best is None or cost < best[0]:
                best = (cost, distance, box)
        assert best is not None
        _write(axes, label, best[2], size, leader=best[1] > _LEADER_FROM, boxed=best[1] > 0.0)
        boxes = np.vstack([boxes, best[2]])
    return boxes


def _places(
    spot: NDArray[np.float64], extent: NDArray[np.float64], points_to_pixels: float, label: Label
) -> list[tuple[float, NDArray[np.float64]]]:
    """(distance in points, centre of the label in pixels) of every place that is tried."""
    places = [(0.0, spot)] if label.inside else []
    for distance in _DISTANCES:
        for dx, dy in _DIRECTIONS:
            direction = np.array([dx, dy], dtype=float)
            gap = (distance + label.gap) * points_to_pixels / float(np.hypot(dx, dy))
            places.append((distance, spot + direction * (gap + 0.5 * extent)))
    return places


def _text_size(axes: Any, label: Label, size: float) -> NDArray[np.float64]:
    """Width and height of a label in pixels."""
    text = axes.text(*label.at, label.text, fontsize=size)
    left, bottom, right, top = text_box(text)[0]
    text.remove()
    pad = 0.1 * size * axes.figure.dpi / 72.0
    return np.array([right - left + 2 * pad, top - bottom + 2 * pad])


def _write(axes: Any, label: Label, box: NDArray[np.float64], size: float, leader: bool, boxed: bool) -> None:
    points_to_pixels = axes.figure.dpi / 72.0
    spot = axes.transData.transform(label.at)
    offset = (0.5 * (box[:2] + box[2:]) - spot) / points_to_pixels
    line = {"arrowstyle": "-", "linewidth": 0.4, "color": label.colour or look().muted, "shrinkA": 0, "shrinkB": 2}
    style = {"color": label.colour or look().ink, "zorder": 10, "bbox": on_paper() if boxed else None}
    note(axes, label.text, label.at, tuple(offset), size, arrowprops=line if leader else None, **style)
