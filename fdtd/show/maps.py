"""Pressure maps in plan and section: the first variant, each other variant, and the difference between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from numpy.typing import NDArray

from fdtd.results.result import RunResult
from fdtd.scene.schema import Scene
from fdtd.show.geometry import View, outlines, plan_view, scene_section
from fdtd.show.labels import Label, no_boxes, note, on_paper, place_labels
from fdtd.show.layout import colour_bar, heading, heading_height, legend_below, legend_height, settle
from fdtd.show.levels import map_levels, map_raster, scene_variant
from fdtd.show.style import (
    BESIDE,
    COLUMN_WIDTH,
    FULL_WIDTH,
    TINY,
    figure_style,
    frequency_text,
    look,
    new_figure,
    safe_text,
    signed_limit,
)
from fdtd.show.things import Mark, all_lines, draw_room, frame_room, legend_entries, room_path, tag_things

LEVEL_RANGE = 40.0
"""Depth of the level scale below the maximum, dB."""
NAMES = "xyz"


def draw_plan_maps(
    result: RunResult,
    scene: Scene,
    frequency_index: int,
    note: str = "",
    width: float | None = None,
) -> Figure:
    """Plan pressure maps at `result.map_frequency[frequency_index]`: first variant, other variants, differences.

    Levels are dB relative to the highest level of all variants in the plane, on one colour scale; differences are other
    variant minus first variant.

    note : second line of the heading, which resonance the map is of
    width : inches; below 5 the maps stand below each other; None: across the page, one map alone in a column
    """
    view = plan_view(scene.variants[0])
    where = f"{view.position:.2f} m above the floor"
    return _draw_maps(result, scene, frequency_index, view, (where, note), width)


def draw_section_maps(
    result: RunResult, scene: Scene, frequency_index: int, note: str = "", width: float | None = None
) -> Figure:
    """The same as `draw_plan_maps` for the scene's section, the one beside its plan. Hollow marks are off the plane."""
    view = scene_section(scene)
    where = f"section at {NAMES[view.normal]} = {view.position:.2f} m"
    notes = (where, f"{note}; hollow marks: off the plane" if note else "hollow marks: off the plane")
    return _draw_maps(result, scene, frequency_index, view, notes, width)


@dataclass(frozen=True, eq=False)
class _Panel:
    """One map: its axes, values, the variant whose room is drawn, its title; `signed`: a difference."""

    axes: Any
    values: NDArray[np.float64]
    variant: int
    title: str
    signed: bool = False


def _draw_maps(
    result: RunResult, scene: Scene, number: int, view: View, notes: tuple[str, str], width: float | None
) -> Figure:
    with figure_style():
        levels = map_levels(result, scene, number, view)
        differences = [level - levels[0] for level in levels[1:]]
        width = width or (FULL_WIDTH if differences else COLUMN_WIDTH)
        rows, columns = _grid(len(differences), width)
        there = [scene_variant(scene, v, k) for k, v in enumerate(result.variants)]
        tags = tag_things(there)
        key = [f"{tag} {safe_text(name, 24)}" for (_, name), tag in tags.items()] or ["source"] * 4
        size = _size(scene, view, rows, columns, width)
        figure = new_figure(width, size + legend_height([*key, "porous fill", "block"], width) + heading_height(1))
        grid = figure.subplots(rows, columns, squeeze=False, sharex=True, sharey=True)
        panels = _panels(grid, levels, differences, [v.name for v in result.variants])
        limit, raster = signed_limit(differences), map_raster(scene, view)
        images: dict[bool, Any] = {}
        marks: list[tuple[Any, list[Mark]]] = []
        for one in panels:
            images[one.signed] = _draw_panel(one.axes, scene, view, raster, one.values, limit if one.signed else None)
            marks.append((one.axes, draw_room(one.axes, scene, there[one.variant], view)))
            one.axes.set_title(one.title, pad=2.0)
        for signed, image in images.items():
            _bar(figure, image, panels, signed, columns)
        entries = legend_entries([mark for _, drawn in marks for mark in drawn], tags)
        heading(figure, f"{frequency_text(result.map_frequency[number])}, {notes[0]}", notes[1])
        legend_below(figure, *entries, width)
        _write_tags(figure, scene, view, marks, tags)
        return figure


def _grid(others: int, width: float) -> tuple[int, int]:
    """Rows and columns of maps: beside each other first, other, difference; in a column one below the other."""
    if not others:
        return 1, 1
    return (others, 3) if width >= BESIDE else (1 + 2 * others, 1)


def _panels(grid: Any, levels: list[NDArray], differences: list[NDArray], names: list[str]) -> list[_Panel]:
    """What is drawn where; beside each other the first variant stands at the head of every row."""
    shown = [safe_text(name, 24) for name in names]
    beside = grid.shape[1] > 1
    panels = [_Panel(grid[0, 0], levels[0], 0, shown[0])]
    for k, difference in enumerate(differences):
        if beside and k:
            panels.append(_Panel(grid[k, 0], levels[0], 0, shown[0]))
        other, change = (grid[k, 1], grid[k, 2]) if beside else (grid[2 * k + 1, 0], grid[2 * k + 2, 0])
        title = f"{safe_text(names[k + 1], 14)} minus {safe_text(names[0], 14)}"
        panels += [
            _Panel(other, levels[k + 1], k + 1, shown[k + 1]),
            _Panel(change, difference, k + 1, title, signed=True),
        ]
    return panels


def _size(scene: Scene, view: View, rows: int, columns: int, width: float) -> float:
    """Inches that the maps and their scales need."""
    corners = np.vstack(outlines(scene.room, view))
    wide, tall = np.ptp(corners, axis=0)
    panel = (width - 0.4) / columns - 0.1 if columns > 1 else width - 1.1
    height = float(np.clip(panel * tall / wide, 0.5, 1.6 * panel))
    return rows * (height + 0.26) + (0.75 if columns > 1 else 0.35)


def _draw_panel(
    axes: Any, scene: Scene, view: View, raster: Any, values: NDArray[np.float64], limit: float | None
) -> Any:
    """One map; `limit` gives a signed scale of that half-width, None the level scale."""
    scale: dict[str, Any] = (
        {"cmap": look().level_colours, "vmin": -LEVEL_RANGE, "vmax": 0.0}
        if limit is None
        else {"cmap": look().signed_colours, "vmin": -limit, "vmax": limit}
    )
    masked = np.ma.masked_invalid(values.T)
    image = axes.pcolormesh(raster[0], raster[1], masked, rasterized=True, zorder=1, **scale)
    # A slanted wall or ceiling cuts the pixels.
    image.set_clip_path(PathPatch(room_path(scene, view), transform=axes.transData))
    frame_room(axes, scene, view)
    axes.tick_params(length=0.0)  # the walls are the axes
    axes.xaxis.labelpad = axes.yaxis.labelpad = 3.0
    return image


def _bar(figure: Figure, image: Any, panels: list[_Panel], signed: bool, columns: int) -> None:
    """Below the maps that it belongs to where they stand beside each other, otherwise at their right."""
    axes = [one.axes for one in panels if one.signed == signed]
    extend = "both" if signed else "min"
    if columns > 1:
        place: dict[str, Any] = {"location": "bottom", "shrink": 0.86 if signed else 0.6, "aspect": 30, "pad": 0.03}
    else:
        place = {"location": "right", "shrink": 0.86, "aspect": 18, "pad": 0.02}
    text = "change in dB" if signed else "level in dB re maximum"
    bar = colour_bar(figure, image, text, 2.0, ax=axes, extend=extend, **place)
    low, high = image.get_clim()
    bar.set_ticks(list(np.linspace(low, high, 7 if signed and low % 2.0 else 5)))


def _write_tags(
    figure: Figure, scene: Scene, view: View, marks: list[tuple[Any, list[Mark]]], tags: dict[tuple[str, str], str]
) -> None:
    """Tags beside their marks, on every map at the same place: where they fit on the last, which has all things."""
    if not tags:
        return
    settle(figure)
    axes, drawn = marks[-1]
    tagged = _tagged(drawn, tags)
    labels = [Label(tag, at, look().ink) for tag, at in tagged]
    before = len(axes.texts)
    place_labels(axes, labels, no_boxes(), all_lines(axes, scene, view, drawn), size=TINY)
    placed = {text.get_text(): text.get_position() for text in axes.texts[before:]}
    for axes, drawn in marks[:-1]:
        other = _tagged(drawn, tags)
        same = [one for one in other if one in tagged]
        for tag, at in same:
            note(axes, tag, at, placed[tag], TINY, zorder=10, bbox=on_paper())
        rest = [Label(tag, at, look().ink) for tag, at in other if (tag, at) not in same]
        place_labels(axes, rest, no_boxes(), all_lines(axes, scene, view, drawn), size=TINY)


def _tagged(drawn: list[Mark], tags: dict[tuple[str, str], str]) -> list[tuple[str, tuple[float, float]]]:
    """Tag and place of each tagged mark; things one behind the other share a tag, "■1, ■2"."""
    groups: dict[tuple[float, float], tuple[list[str], tuple[float, float]]] = {}
    for mark in drawn:
        if (mark.kind, mark.name) in tags:
            key = round(mark.at[0], 1), round(mark.at[1], 1)
            groups.setdefault(key, ([], mark.at))[0].append(tags[mark.kind, mark.name])
    return [(", ".join(text), at) for text, at in groups.values()]
