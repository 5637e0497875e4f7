"""Candidate places for units as they would stand on the plan, and numbers in badges on them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from matplotlib.colors import to_rgba
from matplotlib.patches import Polygon
from numpy.typing import NDArray

from fdtd.scene.faces import wall_number
from fdtd.scene.schema import Scene, Variant
from fdtd.scene.spots import ASSUMED_DEPTH, Candidate
from fdtd.show.geometry import outward, surface_corners
from fdtd.show.labels import Boxes, note, text_box
from fdtd.show.style import SMALL, look


def in_columns(candidates: Iterable[Candidate]) -> list[list[Candidate]]:
    """The candidates in groups that are in one place on the plan, each from the bottom up."""
    groups: dict[tuple[Any, ...], list[Candidate]] = {}
    for one in candidates:
        # The floor and the ceiling above it are one place on the plan.
        groups.setdefault(("" if lies(one) else one.on, round(one.at[0], 3), round(one.at[1], 3)), []).append(one)
    return [sorted(group, key=lambda c: c.at[2]) for group in groups.values()]


def lies(one: Candidate) -> bool:
    """Whether the face is level, on the floor, the ceiling or the top of a block."""
    return one.on in ("floor", "ceiling") or one.on.endswith("z")


def into_room(scene: Scene, one: Candidate) -> NDArray[np.float64]:
    """(2,) unit vector on the plan from the surface into the room; 0 0 for a level face."""
    if lies(one):
        return np.zeros(2)
    if wall := wall_number(one.on):
        return -outward(scene.room.plan, wall)
    away = np.zeros(2)
    away["xy".index(one.on[-1])] = 1.0 if one.on[-2] == "+" else -1.0
    return away


def footprint(scene: Scene, variant: Variant, one: Candidate) -> NDArray[np.float64]:
    """(4, 2) corners in m of the unit seen from above: its cabinet, its level face, or its face with a little depth."""
    if one.cabinet is not None:
        (x0, y0, _), (x1, y1, _) = one.cabinet
        return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    corners = surface_corners(scene, variant, one.on, one.rectangle)
    assert corners is not None  # the surface is one of the variant's
    flat = corners[:, :2]
    if lies(one):
        return flat
    deep = 2.0 * ASSUMED_DEPTH * into_room(scene, one)
    return np.array([flat[0], flat[1], flat[1] + deep, flat[0] + deep])


def draw_unit(axes: Any, scene: Scene, variant: Variant, one: Candidate, colour: str, *, strong: bool = False) -> None:
    """Draw a unit where it would stand: a box with its moving face as a thick line; strong : filled with the colour."""
    corners = footprint(scene, variant, one)
    face, thick = to_rgba(colour, 0.9 if strong else 0.16), 1.0 if strong else 0.5
    above = 7.0 if strong else 3.6
    axes.add_patch(Polygon(corners, closed=True, facecolor=face, edgecolor=colour, linewidth=thick, zorder=above))
    if one.cabinet is not None and one.facing[1:] in ("x", "y"):
        axis = "xy".index(one.facing[1])
        front = one.cabinet[1 if one.facing[0] == "+" else 0][axis]
        half = 0.5 * (one.rectangle.upper[0] - one.rectangle.lower[0])
        ends = np.empty((2, 2))
        ends[:, axis], ends[:, 1 - axis] = front, (one.at[1 - axis] - half, one.at[1 - axis] + half)
        width = 3.0 if strong else 1.6
        axes.plot(*ends.T, color=colour, linewidth=width, solid_capstyle="butt", zorder=above + 0.1)


def badge(axes: Any, at: tuple[float, float], text: str, *, colour: str = "", size: float = SMALL) -> Boxes:
    """Write a number in a filled badge, round or as long as its text, data coordinates; returns its box."""
    shape = "circle,pad=0.18" if len(text) < 3 else "round,pad=0.28,rounding_size=0.75"
    around = {"boxstyle": shape, "edgecolor": look().paper, "linewidth": 0.7, "facecolor": colour or look().ink}
    style = {"fontweight": "bold", "color": look().paper, "zorder": 12, "bbox": around, "annotation_clip": False}
    written = note(axes, text, at, (0.0, 0.0), size, **style)
    text_box(written)  # puts it in its place
    written.update_bbox_position_size(axes.figure.canvas.get_renderer())
    return np.array([written.get_bbox_patch().get_window_extent().extents])


def draw_outline(axes: Any, corners: NDArray[np.float64], colour: str) -> None:
    """The outline of a unit, seen even over another that is filled with the same colour."""
    for width, edge in ((2.6, look().paper), (1.2, colour)):
        axes.add_patch(Polygon(corners, closed=True, facecolor="none", edgecolor=edge, linewidth=width, zorder=7.5))
