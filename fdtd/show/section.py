"""A vertical section of the room: the true line of the ceiling, what is cut, what lies beyond, and heights."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdtd.scene.schema import Room, Scene, Variant
from fdtd.show.geometry import View, outlines
from fdtd.show.labels import Boxes, line_boxes, no_boxes, note, place_labels, text_box
from fdtd.show.page import name_axes
from fdtd.show.style import look
from fdtd.show.things import Mark, all_lines, draw_room, name_labels
from fdtd.show.walls import outside, wall_thickness


def section_axes(
    axes: Any, scene: Scene, variant: Variant, view: View, *, labels: bool = True, limit: int = 26
) -> list[Mark]:
    """Draw a section on axes that are framed, in a figure that is laid out; limit : longest name, letters."""
    marks = draw_room(axes, scene, variant, view, patches=True, walls=True, beyond=True)
    name_axes(axes, view)
    if labels:
        taken = _write_sizes(axes, scene.room, view)
        lines = np.vstack([all_lines(axes, scene, view, marks), outside(axes, scene.room, view)])
        place_labels(axes, name_labels(marks, limit), taken, lines)
    return marks


def section_title(view: View) -> str:
    """What a section says above itself."""
    way = f"{'+' if view.looks > 0 else '-'}{'xyz'[view.normal]}".replace("-", "\u2212")
    return f"Section A–A at {'xyz'[view.normal]} = {view.position:.2f} m, looking towards {way}"


def draw_cut_line(axes: Any, room: Room, view: View) -> Boxes:
    """Mark on a plan where a section is cut and which way it looks; returns the boxes of the marks."""
    colour, points = look().muted, axes.figure.dpi / 72.0
    across, along = view.normal, 1 - view.normal
    plan = np.array(room.plan)
    reach = wall_thickness(room)
    ends = np.empty((2, 2))
    ends[:, across] = view.position
    ends[:, along] = plan[:, along].min() - reach, plan[:, along].max() + reach
    axes.plot(*ends.T, color=colour, linewidth=0.5, linestyle=(0, (8, 2, 1.2, 2)), zorder=2.3)
    way = np.zeros(2)
    way[across] = view.looks
    boxes = [line_boxes(axes, ends, 3.0)]
    for end, sign in zip(ends, (-1.0, 1.0), strict=True):
        out = np.zeros(2)
        out[along] = sign
        at = axes.transData.transform(end) + 7.0 * points * out
        to_data = axes.transData.inverted().transform
        stub = to_data([at - 4.0 * points * out, at + 4.0 * points * out])
        axes.plot(*stub.T, color=look().ink, linewidth=1.4, solid_capstyle="butt", zorder=9, clip_on=False)
        arrow = {"arrowstyle": "-|>", "color": look().ink, "linewidth": 0.8, "mutation_scale": 6.0}
        ends_at_tip = {"arrowprops": arrow | {"shrinkA": 0, "shrinkB": 0}, "zorder": 9, "annotation_clip": False}
        axes.annotate("", to_data(at + 9.0 * points * way), to_data(at), in_layout=False, **ends_at_tip)
        where = to_data(at - 6.0 * points * way)
        text = note(axes, "A", where, fontweight="bold", zorder=9, annotation_clip=False)
        tip = at + 9.0 * points * way
        corners = np.array([at - 4.0 * points * out, at + 4.0 * points * out, tip])
        boxes += [text_box(text), np.array([[*(corners.min(axis=0) - 2), *(corners.max(axis=0) + 2)]])]
    return np.vstack(boxes)


def _write_sizes(axes: Any, room: Room, view: View) -> Boxes:
    """Heights of the ceiling at its bends and ends, and the length of the floor, outside the solid parts."""
    boxes, thick = [no_boxes()], wall_thickness(room)
    for piece in outlines(room, view):
        (left, _), (right, _) = piece[0], piece[1]
        notes = [(0.5 * (left + right), -thick, f"{right - left:.2f} m", (0.0, -6.0), 0.0)]
        top = _bends(piece[2:])
        level = [k for k in range(len(top) - 1) if abs(top[k, 1] - top[k + 1, 1]) < 1e-6]
        for k in level:
            middle = 0.5 * (top[k, 0] + top[k + 1, 0])
            notes.append((middle, top[k, 1] + thick, f"{top[k, 1]:.2f} m high", (0.0, 6.0), 0.0))
        for k in set(range(len(top))) - {end for start in level for end in (start, start + 1)}:
            # Stations run from right to left. Ends are told along the wall, bends above them.
            if 0 < k < len(top) - 1:
                notes.append((top[k, 0], top[k, 1] + thick, f"{top[k, 1]:.2f} m high", (0.0, 7.0), 0.0))
            elif top[k, 1] > 1e-6:
                out = 1.0 if k == 0 else -1.0
                at = top[k, 0] + out * thick, 0.5 * top[k, 1]
                notes.append((*at, f"{top[k, 1]:.2f} m high", (6.0 * out, 0.0), 90.0))
        for x, z, content, offset, angle in notes:
            text = note(axes, content, (x, z), offset, rotation=angle, color=look().muted)
            boxes.append(text_box(text))
    return np.vstack(boxes)


def _bends(top: NDArray[np.float64]) -> NDArray[np.float64]:
    """The ends of a ceiling line and the points where it changes its slope."""
    slopes = np.diff(top[:, 1]) / np.minimum(np.diff(top[:, 0]), -1e-12)
    keep = np.concatenate([[True], np.abs(np.diff(slopes)) > 1e-6, [True]])
    return top[keep]
