"""The candidate places of a placement study on the plan, each with its number."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from fdtd.scene.schema import Scene, Variant
from fdtd.scene.spots import Candidate
from fdtd.show.geometry import outlines, outward, plan_view, surface_corners, wall_line
from fdtd.show.labels import Boxes, Label, line_boxes, no_boxes, place_labels, text_box
from fdtd.show.style import (
    BLACK,
    FULL_WIDTH,
    ORANGE,
    PATCH_COLOUR,
    SEAT_COLOUR,
    SOURCE_COLOUR,
    figure_style,
    new_figure,
    safe_text,
)
from fdtd.show.things import Mark, all_lines, draw_room

_COLOURS = {"source": SOURCE_COLOUR, "seat": SEAT_COLOUR, "patch": PATCH_COLOUR}
_STEPS = (5.0, 11.0, 17.0, 23.0, 29.0)
"""Points from a face to its number; the nearest free place wins."""


def draw_spots(scene: Scene, candidates: Sequence[Candidate], variant_index: int | None = None) -> Figure:
    """The plan of one variant with the candidates; None: of the room that [spots] starts from, if there is one.

    Places above one another share a label: "7-9" are numbers 7 to 9, the lowest first.
    """
    with figure_style():
        start = scene.spots.start if scene.spots is not None else scene.variants[0]
        variant = start if variant_index is None else scene.variants[variant_index]
        view = plan_view(variant)
        corners = np.vstack(outlines(scene.room, view))
        wide, high = np.ptp(corners, axis=0)
        margin = 0.07 * max(wide, high)
        height = (FULL_WIDTH - 0.6) * (high + 2 * margin) / (wide + 2 * margin) + 0.9
        figure = new_figure(FULL_WIDTH, float(np.clip(height, 3.0, 10.0)))
        axes = figure.add_subplot()
        marks = draw_room(axes, scene, variant, view, patches=True)
        columns = spot_columns(candidates)
        places = [_draw_face(axes, scene, variant, column[0]) for column in columns]
        _frame(axes, corners, margin)
        axes.set_title(_title(columns), pad=3.0)
        figure.suptitle(safe_text(f"{scene.title or 'room'}: {len(candidates)} places for a unit", 90))
        figure.draw_without_rendering()
        lines = [np.vstack([piece, piece[:1]]) for piece in outlines(scene.room, view)]
        lines += [flat for _, _, flat in places if len(flat) == 2]
        taken = np.vstack([no_boxes(), *(line_boxes(axes, line, 3.0) for line in lines)])
        for column, (at, away, _) in zip(columns, places, strict=True):
            taken = np.vstack([taken, _write(axes, spot_range(column), at, away, taken)])
        taken = np.vstack([taken, _wall_names(axes, scene)])
        things = [mark for mark in marks if mark.kind != "absorber"]
        place_labels(axes, _labels(things), taken, all_lines(axes, scene, view, things))
        return figure


def spot_columns(candidates: Sequence[Candidate]) -> list[list[Candidate]]:
    """The candidates in groups that are in one place on the plan, each from the bottom up."""
    groups: dict[tuple[Any, ...], list[Candidate]] = {}
    for one in candidates:
        key = (one.on, round(one.at[0], 3), round(one.at[1], 3))
        groups.setdefault(key, []).append(one)
    return [sorted(group, key=lambda c: c.at[2]) for group in groups.values()]


def spot_range(column: Sequence[Candidate]) -> str:
    """The numbers of a column: "7", "7-9" in one piece, or "7, 9"."""
    numbers = [c.number for c in column]
    if len(numbers) > 1 and numbers == list(range(numbers[0], numbers[0] + len(numbers))):
        return f"{numbers[0]}–{numbers[-1]}"
    return ", ".join(str(n) for n in numbers)


def _title(columns: Sequence[Sequence[Candidate]]) -> str:
    stacked = next((c for c in columns if len(c) > 1), None)
    if stacked is None:
        return "plan; thick: the face of a unit"
    heights = ", ".join(f"{c.rectangle.lower[1]:.2f}" for c in stacked)
    return f"plan; orange: faces of units; several numbers: one above another ({spot_range(stacked)} at {heights} m)"


def _draw_face(
    axes: Any, scene: Scene, variant: Variant, one: Candidate
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Draw a face; returns where it is in the plan, the way to its number, and its corners: two of an upright one.

    The way is 0 0 where the number stands on the face itself.
    """
    corners = surface_corners(scene, variant, one.on, one.rectangle)
    assert corners is not None  # the surface is one of the variant's
    flat = corners[:, :2]
    if one.cabinet is not None:
        (x0, y0, _), (x1, y1, _) = one.cabinet
        axes.fill([x0, x1, x1, x0], [y0, y0, y1, y1], facecolor="#fff1d6", edgecolor=ORANGE, linewidth=0.5, zorder=3.5)
    if one.on in ("floor", "ceiling") or one.on.endswith("z"):
        axes.fill(flat[:, 0], flat[:, 1], facecolor="none", edgecolor=ORANGE, linewidth=0.8, zorder=6)
        return flat.mean(axis=0), np.zeros(2), flat
    axes.plot(flat[:, 0], flat[:, 1], color=ORANGE, linewidth=3.0, solid_capstyle="butt", zorder=6)
    if one.on.startswith("wall "):
        return np.array(one.at[:2]), outward(scene.room.plan, int(one.on[5:])), flat[:2]
    away = np.zeros(2)
    away["xy".index(one.on[-1])] = 1.0 if one.on[-2] == "+" else -1.0
    return np.array(one.at[:2]), away, flat[:2]


def _write(axes: Any, text: str, at: NDArray[np.float64], away: NDArray[np.float64], taken: Boxes) -> Boxes:
    """Write the numbers of a column beside its face, farther off where another stands."""
    look = {"fontsize": 5.5, "ha": "center", "va": "center", "color": BLACK, "zorder": 11}
    across = np.array([-away[1], away[0]])
    best: tuple[float, Any] | None = None
    for step in _STEPS if away.any() else (0.0,):
        for aside in (0.0, 6.0, -6.0, 12.0, -12.0) if away.any() else (0.0,):
            label = axes.annotate(text, at, xytext=(0.0, 0.0), textcoords="offset points", **look)
            label.set_in_layout(False)
            box = text_box(label)[0]
            half = 0.5 * (box[2:] - box[:2]) * 72.0 / axes.figure.dpi
            offset = away * (step + float(np.abs(away) @ half)) + across * aside
            label.set_position(tuple(offset))
            cost = _covered(text_box(label)[0], taken) + 0.01 * (step + abs(aside))
            if best is not None and cost >= best[0]:
                label.remove()
                continue
            if best is not None:
                best[1].remove()
            best = cost, label
        if best is not None and best[0] < 1.0:
            break
    assert best is not None
    return text_box(best[1])


def _covered(box: NDArray[np.float64], others: Boxes) -> float:
    """Area of `box` on the others, pixels²."""
    width = np.minimum(box[2], others[:, 2]) - np.maximum(box[0], others[:, 0])
    height = np.minimum(box[3], others[:, 3]) - np.maximum(box[1], others[:, 1])
    return float(np.sum(np.maximum(width, 0.0) * np.maximum(height, 0.0)))


def _wall_names(axes: Any, scene: Scene) -> Boxes:
    """The number of each wall on its inside."""
    boxes = [no_boxes()]
    for number in range(1, len(scene.room.plan) + 1):
        start, direction, length = wall_line(scene.room.plan, number)
        away = outward(scene.room.plan, number)
        angle = float(np.degrees(np.arctan2(direction[1], direction[0])))
        angle = (angle + 90.0) % 180.0 - 90.0 if abs(abs(angle) - 90.0) > 1e-6 else 90.0
        text = axes.annotate(
            f"wall {number}", start + 0.5 * length * direction, xytext=tuple(-8.0 * away), textcoords="offset points",
            rotation=angle, rotation_mode="anchor", ha="center", va="center", fontsize=6.5, color="#606060", zorder=9,
        )  # fmt: skip
        text.set_in_layout(False)
        boxes.append(text_box(text))
    return np.vstack(boxes)


def _labels(marks: Sequence[Mark]) -> list[Label]:
    """Names of the things in the room; small ones first, their labels must stand close by."""
    ordered = sorted(marks, key=lambda mark: mark.kind not in ("source", "seat"))
    return [
        Label(
            safe_text(m.name, 26),
            m.at,
            _COLOURS.get(m.kind, "black"),
            inside=m.kind not in ("source", "seat") and not m.line,
        )
        for m in ordered
    ]


def _frame(axes: Any, corners: NDArray[np.float64], margin: float) -> None:
    lower, upper = corners.min(axis=0) - margin, corners.max(axis=0) + margin
    axes.set_xlim(lower[0], upper[0])
    axes.set_ylim(lower[1], upper[1])
    axes.set_aspect("equal")
    axes.set_xlabel("x in m", labelpad=1)
    axes.set_ylabel("y in m", labelpad=1)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
