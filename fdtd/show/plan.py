"""The room as drawn: plan and one section, every named thing labelled, walls numbered, dimensions in metres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass, field
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from fdtd.scene.schema import Absorber, Block, Patch, PorousVolume, Scene, Seat, Source, Variant
from fdtd.show.ceiling import draw_ceiling, sloped, write_heights
from fdtd.show.geometry import View, ceiling_height, plan_view, scene_section
from fdtd.show.labels import Boxes, Label, no_boxes, place_labels
from fdtd.show.page import lay_out, name_axes, room_frame
from fdtd.show.section import draw_cut_line, section_axes, section_title
from fdtd.show.style import FULL_WIDTH, figure_style, safe_text
from fdtd.show.things import Mark, all_lines, draw_room, name_labels
from fdtd.show.walls import outside, write_walls

NARROW = 5.0
"""Inches; in narrower figures names are cut shorter."""


@dataclass(frozen=True)
class PlanDrawing:
    """What `plan_axes` has drawn and can still be labelled. heights : (m, line on the plan) of a sloped ceiling."""

    view: View
    marks: list[Mark]
    heights: list[tuple[float, NDArray[np.float64]]] = field(default_factory=list)
    boxes: Boxes = field(default_factory=no_boxes)


def draw_plan(scene: Scene, variant_index: int = 0, width: float = FULL_WIDTH) -> Figure:
    """Plan at ear height and the scene's most telling section of one variant, all its things named; width : inches."""
    with figure_style():
        variant = scene.variants[variant_index]
        view, cut = plan_view(variant), scene_section(scene)
        frames = [room_frame(scene, view), room_frame(scene, cut)]
        page = lay_out(width, frames, safe_text(scene.title or "room", 80), _which(scene, variant))
        limit = letters(width)
        plan_axes(page.axes[0], scene, variant, cut=cut, limit=limit)
        page.axes[0].set_title(plan_title(scene, view), fontsize=6.5 if width < NARROW else None)
        section_axes(page.axes[1], scene, variant, cut, limit=limit)
        page.axes[1].set_title(section_title(cut), fontsize=6.5 if width < NARROW else None)
        return page.figure


def plan_axes(
    axes: Any,
    scene: Scene,
    variant: Variant,
    *,
    labels: bool = True,
    cut: View | None = None,
    tinted: bool = True,
    limit: int = 26,
) -> PlanDrawing:
    """Draw the plan of one variant on `axes`, whose limits are set already (`page.lay_out`), in metres.

    labels : write names, wall numbers and heights of the ceiling; without, `write_plan` can do so later. Either needs a
    figure that is laid out (`layout.settle`, if the layout is one of constraints)
    cut : a section whose place is marked
    tinted : furniture has a light colour, not only an outline through which a map below is seen, which
    has no lines of the ceiling on it either
    limit : longest name, letters
    """
    view = plan_view(variant)
    heights = draw_ceiling(axes, scene.room) if tinted else []
    marks = draw_room(axes, scene, variant, view, patches=True, walls=True, tinted=tinted)
    axes.set_aspect("equal")
    name_axes(axes, view)
    boxes = draw_cut_line(axes, scene.room, cut) if cut is not None else no_boxes()
    drawing = PlanDrawing(view, marks, heights, boxes)
    if labels:
        write_plan(axes, scene, drawing, limit=limit)
    return drawing


def write_plan(
    axes: Any,
    scene: Scene,
    drawing: PlanDrawing,
    *,
    first: Sequence[Label] = (),
    taken: Boxes | None = None,
    limit: int = 26,
    without: Sequence[str] = (),
    beyond: float = 0.0,
) -> Boxes:
    """Write on a plan the numbers and lengths of walls, `first`, the names of things, heights of the ceiling.

    taken : boxes in pixels that are kept free; without : kinds of things that are not named; beyond : points by which
    numbers of walls may stand farther outside. Returns all boxes taken.
    """
    boxes = np.vstack([drawing.boxes, no_boxes() if taken is None else taken])
    boxes = np.vstack([boxes, write_walls(axes, scene.room, boxes, beyond)])
    named = [mark for mark in drawing.marks if mark.kind not in without]
    labels = [*first, *name_labels(named, limit)]
    lines = np.vstack([all_lines(axes, scene, drawing.view, named), outside(axes, scene.room, drawing.view)])
    boxes = place_labels(axes, labels, boxes, lines)
    return np.vstack([boxes, write_heights(axes, drawing.heights, boxes)])


def letters(width: float) -> int:
    """Longest name in a figure `width` inches wide."""
    return 18 if width < NARROW else 26


def plan_title(scene: Scene, view: View) -> str:
    """What a plan says above itself."""
    if sloped(scene.room):
        above = "thin lines: height of the ceiling"
    else:
        above = f"ceiling {ceiling_height(scene.room.ceiling, *scene.room.plan[0]):.2f} m"
    return f"Plan, {view.position:.2f} m above the floor; {above}"


def _which(scene: Scene, variant: Variant) -> str:
    """The variant's name, unless all of them look the same."""
    if all(_drawn(other) == _drawn(variant) for other in scene.variants):
        return ""
    return f"as in the variant “{safe_text(variant.name, 40)}”"


def _drawn(variant: Variant) -> tuple[Any, ...]:
    """What a drawing shows of a variant."""
    ends: tuple[Source | Seat, ...] = (*variant.sources, *variant.seats)
    covers: tuple[Patch | Absorber, ...] = (*variant.patches, *variant.absorbers)
    points = [(one.name, one.at) for one in ends]
    faces = [(one.name, one.on, astuple(one.rectangle)) for one in covers]
    bodies: tuple[Block | PorousVolume, ...] = (*variant.blocks, *variant.porous_volumes)
    boxes = [(one.name, one.lower, one.upper) for one in bodies]
    return points, faces, boxes, variant.thin_partitions
