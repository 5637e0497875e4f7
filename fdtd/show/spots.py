"""The candidate places of a placement study on the plan, each with its number."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure

from fdtd.scene.schema import Scene
from fdtd.scene.spots import Candidate
from fdtd.show.geometry import plan_view
from fdtd.show.page import BORDER, lay_out, room_frame
from fdtd.show.plan import letters, plan_axes, write_plan
from fdtd.show.spot_numbers import numbers_width, write_numbers
from fdtd.show.style import FULL_WIDTH, figure_style, look, safe_text
from fdtd.show.units import draw_unit, in_columns
from fdtd.wording.places import height_text


def draw_spots(
    scene: Scene, candidates: Sequence[Candidate], variant_index: int | None = None, width: float = FULL_WIDTH
) -> Figure:
    """The plan of one variant with the candidates; None: of the room that [spots] starts from, if there is one.

    Places above one another share a label: "7–9" are numbers 7 to 9, the lowest first. width : inches
    """
    with figure_style():
        start = scene.spots.start if scene.spots is not None else scene.variants[0]
        variant = start if variant_index is None else scene.variants[variant_index]
        columns = in_columns(candidates)
        heading = f"{safe_text(scene.title or 'room', 60)}: {len(candidates)} places for a unit"
        beyond = numbers_width(columns) + 4.0
        page = lay_out(
            width,
            [room_frame(scene, plan_view(variant))],
            heading,
            _note(columns),
            titled=False,
            border=BORDER - 0.08 + beyond / 72.0,
        )
        (axes,) = page.axes
        drawing = plan_axes(axes, scene, variant, labels=False)
        for column in columns:
            draw_unit(axes, scene, variant, column[0], look().line_colours[4])
        taken = write_numbers(axes, scene, variant, columns)
        write_plan(axes, scene, drawing, taken=taken, without=("absorber",), limit=letters(width), beyond=beyond)
        return page.figure


def _note(columns: Sequence[Sequence[Candidate]]) -> str:
    kind = "Orange: units as they would stand" if any(c[0].cabinet for c in columns) else "Orange: faces of units"
    stacked = max(columns, key=len, default=())
    if len(stacked) < 2:
        return f"{kind}."
    low, high = (f"{one.number}: {height_text(one)}" for one in (stacked[0], stacked[-1]))
    return f"{kind}. Several numbers: one above another, from the lowest ({low}) to the highest ({high})."
