"""Portraits of modes: the shape in plan and section with its nodal lines, and what couples to it beside."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from fdtd.analysis.mode_shapes import Portrait, Portraits, best_first
from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene, Variant
from fdtd.show.geometry import View
from fdtd.show.labels import Label, no_boxes, place_labels
from fdtd.show.layout import heading, settle
from fdtd.show.portrait_bars import draw_bars, rows_of
from fdtd.show.portrait_views import SCALE, cut_marks, draw_view, ratio, views
from fdtd.show.style import BESIDE, FULL_WIDTH, SMALL, TINY, figure_style, frequency_text, look, new_figure, safe_text
from fdtd.show.things import Mark, all_lines, tag_things

NOTE_WIDTH = 42
"""Characters in a line of the note below the bars."""
SPOTS_SHOWN = 3
"""Candidate places that are numbered on the plan."""


def draw_portrait(
    scene: Scene, cells: CellGrid, portraits: Portraits, index: int, variant_index: int = 0,
    height: float | None = None, width: float = FULL_WIDTH,
) -> Figure:  # fmt: skip
    """Plan, section and coupling of the mode `portraits.modes[index]`.

    height : m above the floor, by default the mean height of the seats; width : inches; narrow figures have the bars
    below the pictures
    """
    with figure_style():
        one, variant = portraits.modes[index], scene.variants[variant_index]
        plan, section = views(scene, variant, height)
        rows = rows_of(one, portraits, tag_things([variant]))
        beside = width >= BESIDE
        pictures = width * (0.55 if beside else 1.0) - 0.45
        tall = [ratio(scene, view) * pictures for view in (plan, section)]
        bars, maps = 0.155 * len(rows) + 0.4, sum(tall) + 1.3
        whole = (max(maps, bars) if beside else maps + bars) + 0.3
        figure = new_figure(width, whole)
        if beside:
            left, right = figure.subfigures(1, 2, squeeze=False, width_ratios=[0.55, 0.45]).ravel()
        else:
            left, right = figure.subfigures(2, 1, squeeze=False, height_ratios=[maps, bars]).ravel()
        heading(figure, _title(one))
        top, low = left.subplots(2, 1, height_ratios=tall, sharex=plan.axes[0] == section.axes[0])
        image = None
        for axes, view in ((top, plan), (low, section)):
            image = draw_view(axes, scene, variant, cells, one, view) or image
        if plan.axes[0] == section.axes[0]:
            top.set_xlabel("")
        cut_marks(top, scene, plan, section)
        cut_marks(low, scene, section, plan)
        if image is not None:
            bar = left.colorbar(image, ax=[top, low], location="bottom", shrink=0.8, aspect=35, pad=0.02)
            bar.set_label(SCALE, labelpad=1)
            bar.set_ticks([-1.0, -0.5, 0.0, 0.5, 1.0])
            bar.outline.set_linewidth(0.4)
        draw_bars(_bar_axes(right, bars, whole if beside else bars, _note(one)), rows)
        settle(figure)
        _write_tags(top, scene, variant, plan, one, portraits)
        _write_tags(low, scene, variant, section, one, portraits)
        return figure


def _bar_axes(half: Any, needed: float, there: float, note: str) -> Any:
    """Axes at the top of a subfigure `there` inches high, `needed` inches of it; the note below, if it has room."""
    if there < 1.05 * needed:
        return half.subplots()
    axes, below = half.subplots(2, 1, height_ratios=[needed, there - needed])
    below.set_axis_off()
    lines = textwrap.wrap(note, NOTE_WIDTH)
    if there - needed > 0.12 * len(lines) + 0.2:
        text = "\n".join(safe_text(line, NOTE_WIDTH) for line in lines)
        place = below.text(0.0, 0.95, text, transform=below.transAxes, va="top", fontsize=SMALL, linespacing=1.35)
        place.set_in_layout(False)
    return axes


def _note(one: Portrait) -> str:
    """Where it is loudest and what blurs the picture."""
    told = f"Loudest {one.loudest}." if one.loudest else ""
    if len(one.family) > 1:
        told += (
            f" It has nearly the frequency of {', '.join(str(n) for n in one.family if n != one.number)}: any mix of "
            "them is a mode, and the picture shows one of many. The bars are of all of them together."
        )
    if one.travelling >= 0.1:
        told += f" {100.0 * one.travelling:.0f} % of its energy travels: its nodal lines are blurred."
    return told.strip()


def _write_tags(axes: Any, scene: Scene, variant: Variant, view: View, one: Portrait, portraits: Portraits) -> None:
    """■1, ●1, ▬1 beside their marks, and the numbers of the best candidate places on the plan."""
    tags = tag_things([variant])
    ink = look().ink
    labels, marks = [], []
    for kind, things in (("source", variant.sources), ("seat", variant.seats)):
        for thing in things:
            at = (thing.at[view.axes[0]], thing.at[view.axes[1]])
            marks.append(Mark(thing.name, kind, at))
            if (kind, thing.name) in tags:
                labels.append(Label(tags[kind, thing.name], at, ink))
    for k in portraits.rows("absorber"):
        place = portraits.places[k]
        if ("absorber", place.name) in tags:
            labels.append(Label(tags["absorber", place.name], (place.at[view.axes[0]], place.at[view.axes[1]]), ink))
    if view.normal == 2:
        share = one.share if len(one.family) == 1 else one.together
        columns: dict[tuple[float, float], list[str]] = {}
        for k in best_first(share, portraits.rows("spot"))[:SPOTS_SHOWN]:
            place = portraits.places[k]
            key = (round(place.at[0], 2), round(place.at[1], 2))
            columns.setdefault(key, []).append(place.name.removeprefix("spot "))
        for at, names in columns.items():
            axes.plot(*at, "s", markersize=4.0, color=look().line_colours[4], markeredgecolor=ink,
                      markeredgewidth=0.5, zorder=9, clip_on=False)  # fmt: skip
            labels.append(Label(", ".join(names), at, ink))
    place_labels(axes, labels, no_boxes(), all_lines(axes, scene, view, marks), size=TINY)


def _title(one: Portrait) -> str:
    return f"Mode {one.number}: {frequency_text(one.frequency)}{_decay(one)}"


def _decay(one: Portrait) -> str:
    if np.isnan(one.decay_time):
        return ", rigid walls"
    if not 0.0 < one.decay_time < 1000.0:
        return ", does not decay" if one.decay_time > 0.0 else ", growing"
    return f", 60 dB down in {one.decay_time:.2f} s"
