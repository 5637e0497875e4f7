"""Mode shapes of modes: the shape in plan and section with its nodal lines, and what couples to it beside."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from fdtd.analysis.mode_shapes import ModeShape, ModeShapes, best_first
from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene
from fdtd.scene.shape import Shape
from fdtd.show.labels import Label, place_labels
from fdtd.show.layout import colour_bar
from fdtd.show.mode_shape_bars import bars_height, draw_bars, rows_of
from fdtd.show.mode_shape_views import SCALE, cut_marks, draw_view, views
from fdtd.show.page import Page, lay_out, room_frame
from fdtd.show.style import BESIDE, FULL_WIDTH, SMALL, TINY, figure_style, frequency_text, look, safe_text
from fdtd.show.things import Mark, all_lines, tag_things
from fdtd.wording.mode_shapes import loudest_text

NOTE_WIDTH = 42
"""Characters in a line of the note below the bars."""
BARS, BAR = 0.44, 0.46
"""Share of a wide figure's width that the bars have; inches that the scale of colours has."""
SPOTS_SHOWN = 3
"""Candidate places that are numbered on the plan."""


def draw_mode_shape(
    scene: Scene,
    cells: CellGrid,
    mode_shapes: ModeShapes,
    index: int,
    variant_index: int = 0,
    width: float = FULL_WIDTH,
) -> Figure:
    """Plan, section and coupling of the mode `mode-shapes.modes[index]`.

    width : inches; narrow figures have the bars below the pictures
    """
    with figure_style():
        one, variant = mode_shapes.modes[index], scene.variants[variant_index]
        shown = views(scene, variant)
        rows = rows_of(one, mode_shapes, tag_things([variant]))
        text = textwrap.wrap(_note(one, Shape(scene.room)), NOTE_WIDTH)
        beside = width >= BESIDE
        bars = bars_height(rows)
        column = bars + 0.12 * len(text) + 0.2
        foot = BAR + (0.0 if beside else bars)
        page = lay_out(
            width,
            [room_frame(scene, view) for view in shown],
            _title(one),
            foot=foot,
            tallest=7.0 + foot,
            side=BARS * width if beside else 0.0,
            least=column if beside else 0.0,
        )
        image, drawn = None, []
        for axes, view, other in zip(page.axes, shown, reversed(shown), strict=True):
            field, marks = draw_view(axes, scene, variant, cells, one, view)
            image = field or image
            drawn.append((marks, cut_marks(axes, scene, view, other, page.scale)))
        if image is not None:
            _scale(page, image)
        left, _, wide, high = page.side if beside else (0.0, 0.0, width, bars)
        draw_bars(page, (left, high - bars, wide, bars), rows)
        if beside and text:
            _write_note(page, text, left, high - bars - 0.1)
        for axes, view, (marks, taken) in zip(page.axes, shown, drawn, strict=True):
            labels = _tags(marks, tag_things([variant]))
            labels += _best_spots(axes, one, mode_shapes) if view.normal == 2 else []
            place_labels(axes, labels, taken, all_lines(axes, scene, view, marks), size=TINY)
        return page.figure


def _scale(page: Page, image: Any) -> None:
    """The scale of colours, just below the drawings."""
    left, low, wide, high = page.foot
    axes = page.add_axes((left + 0.14 * wide, low + high - 0.17, 0.76 * wide, 0.09))
    colour_bar(page.figure, image, SCALE, cax=axes, orientation="horizontal", ticks=[-1.0, -0.5, 0.0, 0.5, 1.0])


def _write_note(page: Page, lines: list[str], left: float, top: float) -> None:
    wide, tall = page.figure.get_size_inches()
    text = "\n".join(safe_text(line, NOTE_WIDTH) for line in lines)
    page.figure.text(left / wide, top / tall, text, va="top", fontsize=SMALL, linespacing=1.35)


def _note(one: ModeShape, shape: Shape) -> str:
    """Where it is loudest and what blurs the picture."""
    text = loudest_text(shape, one.loudest)
    text = f"Loudest {text}." if text else ""
    if len(one.family) > 1:
        text += (
            f" It has nearly the frequency of {', '.join(str(n) for n in one.family if n != one.number)}: any mix of "
            "them is a mode, and the picture shows one of many. The bars are of all of them together."
        )
    if one.travelling >= 0.1:
        text += f" {100.0 * one.travelling:.0f} % of its energy travels: its nodal lines are blurred."
    return text.strip()


def _tags(marks: list[Mark], tags: dict[tuple[str, str], str]) -> list[Label]:
    """■1, ●1, ▬1 for what is drawn."""
    return [Label(tags[m.kind, m.name], m.at, look().ink) for m in marks if (m.kind, m.name) in tags]


def _best_spots(axes: Any, one: ModeShape, mode_shapes: ModeShapes) -> list[Label]:
    """Mark the best candidate places on the plan; returns their numbers."""
    share = one.share if len(one.family) == 1 else one.together
    columns: dict[tuple[float, float], list[str]] = {}
    for k in best_first(share, mode_shapes.rows("spot"))[:SPOTS_SHOWN]:
        place = mode_shapes.places[k]
        key = (round(place.at[0], 2), round(place.at[1], 2))
        columns.setdefault(key, []).append(str(place.number))
    for at in columns:
        edge = {"markeredgecolor": look().ink, "markeredgewidth": 0.5}
        axes.plot(*at, "s", markersize=4.0, color=look().line_colours[4], zorder=9, clip_on=False, **edge)
    return [Label(", ".join(names), at, look().ink) for at, names in columns.items()]


def _title(one: ModeShape) -> str:
    return f"Mode {one.number}: {frequency_text(one.frequency)}{_decay(one)}"


def _decay(one: ModeShape) -> str:
    if np.isnan(one.decay_time):
        return ", rigid walls"
    if not 0.0 < one.decay_time < 1000.0:
        return ", does not decay" if one.decay_time > 0.0 else ", growing"
    return f", 60 dB down in {one.decay_time:.2f} s"
