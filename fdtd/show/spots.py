"""The candidate places of a placement study on the plan, each with its number."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from fdtd.scene.schema import Scene, Variant
from fdtd.scene.spots import Candidate
from fdtd.show.geometry import plan_view
from fdtd.show.labels import Boxes, line_boxes, no_boxes
from fdtd.show.page import lay_out, room_frame
from fdtd.show.plan import letters, plan_axes, write_plan
from fdtd.show.style import FULL_WIDTH, TINY, figure_style, look, safe_text
from fdtd.show.units import draw_unit, footprint, in_columns, into_room, write_beside
from fdtd.show.walls import outside


def draw_spots(
    scene: Scene, candidates: Sequence[Candidate], variant_index: int | None = None, width: float = FULL_WIDTH
) -> Figure:
    """The plan of one variant with the candidates; None: of the room that [spots] starts from, if there is one.

    Places above one another share a label: "7-9" are numbers 7 to 9, the lowest first. width : inches
    """
    with figure_style():
        start = scene.spots.start if scene.spots is not None else scene.variants[0]
        variant = start if variant_index is None else scene.variants[variant_index]
        columns = spot_columns(candidates)
        heading = f"{safe_text(scene.title or 'room', 60)}: {len(candidates)} places for a unit"
        page = lay_out(width, [room_frame(scene, plan_view(variant))], heading, _note(columns), titled=False)
        (axes,) = page.axes
        drawing = plan_axes(axes, scene, variant, labels=False)
        for column in columns:
            draw_unit(axes, scene, variant, column[0], _colour())
        taken = _write_numbers(axes, scene, variant, columns)
        write_plan(axes, scene, drawing, taken=taken, without=("absorber",), limit=letters(width))
        return page.figure


def _colour() -> str:
    return look().line_colours[4]


def spot_columns(candidates: Sequence[Candidate]) -> list[list[Candidate]]:
    """The candidates in groups that are in one place on the plan, each from the bottom up."""
    return in_columns(candidates)


def spot_range(column: Sequence[Candidate]) -> str:
    """The numbers of a column: "7", "7-9" in one piece, or "7, 9"."""
    numbers = [c.number for c in column]
    if len(numbers) > 1 and numbers == list(range(numbers[0], numbers[0] + len(numbers))):
        return f"{numbers[0]}–{numbers[-1]}"
    return ", ".join(str(n) for n in numbers)


def _note(columns: Sequence[Sequence[Candidate]]) -> str:
    kind = "Orange: units as they would stand" if any(c[0].cabinet for c in columns) else "Orange: faces of units"
    stacked = next((c for c in columns if len(c) > 1), None)
    if stacked is None:
        return f"{kind}."
    heights = ", ".join(f"{c.rectangle.lower[1]:.2f}" for c in stacked)
    return f"{kind}. Several numbers: one above another ({spot_range(stacked)} at {heights} m)."


def _write_numbers(axes: Any, scene: Scene, variant: Variant, columns: Sequence[Sequence[Candidate]]) -> Boxes:
    """The numbers of every column in the room before its unit, on the unit if that lies flat; returns their boxes."""
    prints = [footprint(scene, variant, column[0]) for column in columns]
    walls = np.array([*scene.room.plan, scene.room.plan[0]])
    edges = [line_boxes(axes, np.vstack([p, p[:1]]), 1.5) for p in (*prints, walls)]
    taken = np.vstack([no_boxes(), *edges, outside(axes, scene.room, plan_view(variant))])
    boxes = [no_boxes()]
    for column, corners in zip(columns, prints, strict=True):
        way = into_room(scene, column[0])
        # From the face of the unit, whose place the number tells, to the front of its cabinet.
        deep = float(((corners - np.array(column[0].at[:2])) @ way).max())
        pixels = axes.transData.transform([(0.0, 0.0), deep * way])
        start = 2.0 + float(np.hypot(*(pixels[1] - pixels[0]))) * 72.0 / axes.figure.dpi
        # In a cabinet that is large enough the number stands inside, at its front.
        start -= 11.0 if start > 20.0 else 0.0
        box = write_beside(axes, spot_range(column), np.array(column[0].at[:2]), [way], start, taken,
                           fontsize=TINY, color=look().ink)  # fmt: skip
        taken = np.vstack([taken, box])
        boxes.append(box)
    return np.vstack([no_boxes(), *edges, *boxes])
