"""The room as drawn: plan and one section, every named thing labelled, walls numbered, dimensions in metres."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from fdtd.scene.schema import Scene
from fdtd.show.geometry import View, outlines, outward, plan_view, section_view, wall_line
from fdtd.show.labels import Boxes, Label, no_boxes, place_labels, text_box
from fdtd.show.style import (
    ABSORBER_COLOUR,
    FULL_WIDTH,
    PATCH_COLOUR,
    SEAT_COLOUR,
    SOURCE_COLOUR,
    figure_style,
    new_figure,
    safe_text,
)
from fdtd.show.things import Mark, all_lines, draw_room

_COLOURS = {"source": SOURCE_COLOUR, "seat": SEAT_COLOUR, "absorber": ABSORBER_COLOUR, "patch": PATCH_COLOUR}


def draw_plan(scene: Scene, variant_index: int = 0) -> Figure:
    """Plan at ear height and vertical section of one variant with all its things named."""
    with figure_style():
        variant = scene.variants[variant_index]
        views = [plan_view(variant), section_view(variant)]
        extents = [np.ptp(np.vstack(outlines(scene.room, view)), axis=0) for view in views]
        wide = max(float(e[0]) for e in extents)
        scale = (FULL_WIDTH - 1.0) / (1.25 * wide)
        heights = [scale * (float(e[1]) + 0.25 * wide) for e in extents]
        figure = new_figure(FULL_WIDTH, float(np.clip(sum(heights) + 0.9, 4.0, 11.0)))
        grid = figure.subplots(2, 1, height_ratios=heights, squeeze=False)[:, 0]
        titles = [
            f"plan, {views[0].position:.2f} m above the floor",
            f"section at {'xyz'[views[1].normal]} = {views[1].position:.2f} m (hollow marks: off the plane)",
        ]
        marks = []
        for axes, view, title in zip(grid, views, titles, strict=True):
            marks.append(draw_room(axes, scene, variant, view, patches=True))
            _frame(axes, scene, view, wide)
            axes.set_title(title)
        heading = scene.title or "room"
        if len(scene.variants) > 1:
            heading = f"{heading}: {variant.name}"
        figure.suptitle(safe_text(heading, 80))
        figure.draw_without_rendering()
        boxes = [_wall_labels(grid[0], scene), _section_sizes(grid[1], scene, views[1])]
        for axes, view, drawn, taken in zip(grid, views, marks, boxes, strict=True):
            place_labels(axes, _labels(drawn), taken, all_lines(axes, scene, view, drawn))
        return figure


def _labels(marks: list[Mark]) -> list[Label]:
    # Points first: they are small, and their labels must stand close by.
    ordered = sorted(marks, key=lambda mark: mark.kind not in ("source", "seat", "absorber"))
    return [
        Label(
            safe_text(mark.name, 26),
            mark.at,
            _COLOURS.get(mark.kind, "black"),
            inside=mark.kind not in ("source", "seat") and not mark.line,
        )
        for mark in ordered
    ]


def _frame(axes: Any, scene: Scene, view: View, wide: float) -> None:
    corners = np.vstack(outlines(scene.room, view))
    lower, upper = corners.min(axis=0), corners.max(axis=0)
    middle, margin = 0.5 * (lower + upper), 0.1 * wide
    axes.set_xlim(middle[0] - 0.5 * wide - margin, middle[0] + 0.5 * wide + margin)
    axes.set_ylim(lower[1] - margin, upper[1] + margin)
    axes.set_aspect("equal")
    axes.set_xlabel(f"{'xyz'[view.axes[0]]} in m", labelpad=1)
    axes.set_ylabel(f"{'xyz'[view.axes[1]]} in m", labelpad=1)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _wall_labels(axes: Any, scene: Scene) -> Boxes:
    """Number and length of each wall along its outside; two lines or the bare number where there is less room."""
    boxes = []
    for number in range(1, len(scene.room.plan) + 1):
        start, direction, length = wall_line(scene.room.plan, number)
        away = outward(scene.room.plan, number)
        first, last = axes.transData.transform([start, start + length * direction])
        room_for = float(np.hypot(*(last - first)))
        angle = float(np.degrees(np.arctan2(direction[1], direction[0])))
        angle = (angle + 90.0) % 180.0 - 90.0 if abs(abs(angle) - 90.0) > 1e-6 else 90.0
        one_line = f"wall {number}  {length:.2f} m"
        for content in (one_line, f"wall {number}\n{length:.2f} m", f"{number}"):
            bare = content == f"{number}"
            gap = 5.5 if bare else 12.0 if "\n" in content else 9.0
            text = axes.annotate(
                content,
                start + 0.5 * length * direction,
                xytext=tuple(gap * away),
                textcoords="offset points",
                rotation=0.0 if bare else angle,
                rotation_mode="anchor",
                ha="center",
                va="center",
                fontsize=6.5,
                color="#404040",
                linespacing=1.0,
            )
            text.set_in_layout(False)
            if bare or _drawn_length(text) < room_for:
                break
            text.remove()
        boxes.append(text_box(text))
    return np.vstack([no_boxes(), *boxes])


def _drawn_length(text: Any) -> float:
    """Length of a text along its own direction, pixels."""
    turned = text.get_rotation()
    text.set_rotation(0.0)
    left, _, right, _ = text_box(text)[0]
    text.set_rotation(turned)
    return right - left


def _section_sizes(axes: Any, scene: Scene, view: View) -> Boxes:
    """Heights of the ceiling at its bends and ends, and the length of the floor."""
    boxes = []
    for piece in outlines(scene.room, view):
        (left, _), (right, _) = piece[0], piece[1]
        notes = [(0.5 * (left + right), 0.0, f"{right - left:.2f} m", (0.0, -8.0), "center")]
        top = _bends(piece[2:])
        level = [k for k in range(len(top) - 1) if abs(top[k, 1] - top[k + 1, 1]) < 1e-6]
        notes += [
            (0.5 * (top[k, 0] + top[k + 1, 0]), top[k, 1], f"{top[k, 1]:.2f} m high", (0.0, 7.0), "center")
            for k in level
        ]
        for k in set(range(len(top))) - {end for start in level for end in (start, start + 1)}:
            side = "left" if k == 0 else "right" if k == len(top) - 1 else "center"
            offset = {"left": (3.0, 3.0), "right": (-3.0, 3.0), "center": (0.0, 7.0)}[side]
            notes.append((top[k, 0], top[k, 1], f"{top[k, 1]:.2f} m high", offset, side))
        for x, z, content, offset, side in notes:
            look = {"ha": side, "va": "center", "fontsize": 6.5, "color": "#404040"}
            text = axes.annotate(content, (x, z), xytext=offset, textcoords="offset points", **look)
            text.set_in_layout(False)
            boxes.append(text_box(text))
    return np.vstack([no_boxes(), *boxes])


def _bends(top: NDArray[np.float64]) -> NDArray[np.float64]:
    """The ends of a ceiling line and the points where it changes its slope."""
    slopes = np.diff(top[:, 1]) / np.minimum(np.diff(top[:, 0]), -1e-12)
    keep = np.concatenate([[True], np.abs(np.diff(slopes)) > 1e-6, [True]])
    return top[keep]
