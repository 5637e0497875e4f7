"""Many modes on one sheet, each small, in plan and section."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure

from fdtd.analysis.mode_shapes import ModeShape, ModeShapes
from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene, Variant
from fdtd.show.labels import note, on_paper
from fdtd.show.layout import colour_bar, heading, heading_height, legend_below
from fdtd.show.mode_shape_views import SCALE, draw_view, views, where
from fdtd.show.page import Frame, room_frame
from fdtd.show.style import BESIDE, FULL_WIDTH, SMALL, TINY, figure_style, frequency_text, look, new_figure, safe_text
from fdtd.show.things import Mark, legend_entries, tag_things

MODES_A_PAGE = 16
"""Most mode shapes on one overview."""
TALLEST = 2.2
"""Height of plan and section together over the width of a column, at most."""


def draw_mode_shape_page(
    scene: Scene,
    cells: CellGrid,
    mode_shapes: ModeShapes,
    variant_index: int = 0,
    width: float = FULL_WIDTH,
    first: int = 0,
) -> Figure:
    """Up to 16 small mode shapes from index `first` on, plan above section, with the shares of sources and seats."""
    with figure_style():
        variant, chosen = scene.variants[variant_index], mode_shapes.modes[first : first + MODES_A_PAGE]
        plan, section = views(scene, variant)
        columns = min(4 if width >= BESIDE else 2, max(len(chosen), 1))
        rows = -(-max(len(chosen), 1) // columns)
        frames = [room_frame(scene, view) for view in (plan, section)]
        tall = _heights(frames, width / columns - 0.12)
        figure = new_figure(width, rows * (sum(tall) + 0.4) + 0.70 + heading_height())
        grid = figure.subplots(2 * rows, columns, squeeze=False, height_ratios=tall * rows)
        tags = tag_things([variant])
        image, marks = None, []
        figure.set_layout_engine("constrained", h_pad=0.025, hspace=0.0)
        for k in range(rows * columns):
            top, low = grid[2 * (k // columns), k % columns], grid[2 * (k // columns) + 1, k % columns]
            if k >= len(chosen):
                top.set_visible(False)
                low.set_visible(False)
                continue
            one = chosen[k]
            for axes, view, frame in ((top, plan, frames[0]), (low, section, frames[1])):
                _frame(axes, frame)
                image = draw_view(axes, scene, variant, cells, one, view, small=True)[0] or image
            top.set_anchor("S")
            low.set_anchor("N")
            marks = _small_tags(top, variant, tags)
            top.set_title(_short_title(one), pad=2.0, loc="left", fontsize=SMALL)
            low.set_xlabel(_shares(one, mode_shapes, tags), fontsize=TINY, labelpad=2, color=look().muted)
        if image is not None:
            place: dict[str, Any] = {"location": "bottom", "shrink": 0.5, "aspect": 45, "pad": 0.01}
            colour_bar(figure, image, SCALE, ax=list(grid.flat), **place)
        entries = legend_entries(marks, tags)
        if entries[1]:
            legend_below(figure, *entries, width)
        every = len(mode_shapes.modes)
        more = f" {first + 1}–{first + len(chosen)} of {every}" if len(chosen) < every else ""
        heading(figure, f"Modes{more}: plan {where(plan)}, section {where(section)}")
        return figure


def _heights(frames: list[Frame], small: float) -> list[float]:
    """Inches of each drawing, all in one scale, in columns `small` inches wide."""
    wide, tall = np.array([np.subtract(upper, lower) for lower, upper in frames]).T
    return list(tall * min(small / float(wide.max()), TALLEST * small / float(tall.sum())))


def _frame(axes: Any, frame: Frame) -> None:
    """The room with a thin margin, in an even scale, without marks on the axes."""
    lower, upper = np.array(frame)
    margin = 0.012 * float((upper - lower).max())
    axes.set_xlim(lower[0] - margin, upper[0] + margin)
    axes.set_ylim(lower[1] - margin, upper[1] + margin)
    axes.set_aspect("equal")
    axes.set_xticks([])
    axes.set_yticks([])
    for side in axes.spines.values():
        side.set_visible(False)


def _small_tags(axes: Any, variant: Variant, tags: dict[tuple[str, str], str]) -> list[Mark]:
    marks = []
    for kind, things in (("source", variant.sources), ("seat", variant.seats)):
        for thing in things:
            at = (thing.at[0], thing.at[1])
            tag = tags.get((kind, thing.name), "")
            beside = {"ha": "left", "va": "baseline", "in_layout": True}
            note(axes, tag, at, (3.5, 2.5), TINY, bbox=on_paper(0.05), **beside)
            marks.append(Mark(thing.name, kind, at))
    return marks


def _short_title(one: ModeShape) -> str:
    seconds = f", {one.decay_time:.2f} s" if 0.0 < one.decay_time < 1000.0 else ""
    twin = ", mixes with " + ", ".join(str(n) for n in one.family if n != one.number) if len(one.family) > 1 else ""
    return f"{one.number}: {frequency_text(one.frequency)}{seconds}{twin}"


def _shares(one: ModeShape, mode_shapes: ModeShapes, tags: dict[tuple[str, str], str]) -> str:
    """'■1: 90 · ●1: 20 %' for the first few sources and seats."""
    text = []
    share = one.share if len(one.family) == 1 else one.together
    for k in [*mode_shapes.rows("source")[:3], *mode_shapes.rows("seat")[:2]]:
        place = mode_shapes.places[k]
        text.append(f"{tags.get((place.kind, place.name)) or safe_text(place.name, 8)}: {100.0 * share[k]:.0f}")
    return " · ".join(text) + " %" if text else ""
