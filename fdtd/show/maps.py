"""Pressure maps in plan and section: the first variant, each other variant, and the difference between them."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from numpy.typing import NDArray

from fdtd.analysis.response import combined_map
from fdtd.results.result import RunResult, VariantResult
from fdtd.scene.schema import Scene, Variant
from fdtd.show.geometry import View, outlines, plan_view, section_view
from fdtd.show.labels import Label, no_boxes, place_labels
from fdtd.show.slices import cell_slice, common_raster, on_raster
from fdtd.show.style import (
    COLUMN_WIDTH,
    FULL_WIDTH,
    LEVEL_COLOURS,
    SIGNED_COLOURS,
    figure_style,
    frequency_text,
    new_figure,
    safe_text,
)
from fdtd.show.things import Mark, all_lines, draw_room, frame_room, legend_entries, room_path, tag_things

LEVEL_RANGE = 40.0
"""Depth of the level scale below the maximum, dB."""
NAMES = "xyz"


def scene_variant(scene: Scene, variant: VariantResult, number: int) -> Variant:
    """The scene's variant of that name; by number if the name is not there."""
    return next(
        (v for v in scene.variants if v.name == variant.name), scene.variants[min(number, len(scene.variants) - 1)]
    )


def draw_plan_maps(result: RunResult, scene: Scene, frequency_index: int, height: float | None = None) -> Figure:
    """Plan pressure maps at `result.map_frequency[frequency_index]`: first variant, other variants, differences.

    height : m above the floor, by default the mean height of the seats. Levels are dB relative to the highest level of
    all variants in the plane, on one colour scale; differences are other variant minus first variant.
    """
    view = plan_view(scene.variants[0], height)
    return _draw_maps(result, scene, frequency_index, view, f"{view.position:.2f} m above the floor")


def draw_section_maps(result: RunResult, scene: Scene, frequency_index: int) -> Figure:
    """The same as `draw_plan_maps` for the vertical section through the first seat towards the first source.

    The section lies along x or y, whichever separates the two more. Hollow marks are off the plane.
    """
    view = section_view(scene.variants[0])
    return _draw_maps(
        result,
        scene,
        frequency_index,
        view,
        f"section at {NAMES[view.normal]} = {view.position:.2f} m (hollow marks: off the plane)",
    )


def _slice_levels(result: RunResult, number: int, view: View) -> list[NDArray[np.float64]]:
    """Level in dB (any reference) of each variant on the common raster."""
    raster = common_raster([v.cells for v in result.variants], view.normal)
    first, second = view.axes
    levels = []
    for variant in result.variants:
        pressure = combined_map(variant.maps[:, [number]], variant.map_playback[:, [number]])[0]
        plane = np.abs(cell_slice(variant.cells, pressure, view.normal, view.position))
        level = 20.0 * np.log10(np.maximum(plane, 1e-12))
        edges = variant.cells.edges[first], variant.cells.edges[second]
        levels.append(np.asarray(on_raster(edges, level, raster), dtype=float))
    return levels


def _difference_limit(differences: list[NDArray[np.float64]]) -> float:
    """Half-width of the difference scale, dB: covers 98 % of the pixels, between 3 and 24 in steps of 3."""
    values = np.abs(np.concatenate([d[np.isfinite(d)] for d in differences]))
    wanted = float(np.quantile(values, 0.98)) if values.size else 3.0
    return float(np.clip(3.0 * np.ceil(wanted / 3.0), 3.0, 24.0))


def _draw_maps(result: RunResult, scene: Scene, number: int, view: View, where: str) -> Figure:
    with figure_style():
        levels = _slice_levels(result, number, view)
        finite = [level[np.isfinite(level)] for level in levels]
        highest = max((float(f.max()) for f in finite if f.size), default=0.0)
        levels = [level - highest for level in levels]
        differences = [level - levels[0] for level in levels[1:]]
        others = len(differences)
        rows, columns = max(others, 1), 3 if others else 1
        raster = common_raster([v.cells for v in result.variants], view.normal)
        figure = new_figure(*_size(scene, view, rows, columns))
        grid = figure.subplots(rows, columns, squeeze=False, sharex=True, sharey=True)
        there = [scene_variant(scene, v, k) for k, v in enumerate(result.variants)]
        panels = [(grid[0, 0], levels[0], 0, False)] if not others else []
        for row in range(others):
            panels += [
                (grid[row, 0], levels[0], 0, False),
                (grid[row, 1], levels[row + 1], row + 1, False),
                (grid[row, 2], differences[row], row + 1, True),
            ]
        limit = _difference_limit(differences) if others else 3.0
        tags = tag_things(there)
        marks: list[tuple[Any, list[Mark]]] = []
        for axes, values, k, signed in panels:
            image = _draw_panel(axes, scene, view, raster, values, limit if signed else None)
            marks.append((axes, draw_room(axes, scene, there[k], view)))
            axes.set_title("difference" if signed else safe_text(result.variants[k].name, 26))
            if signed:
                signed_image = image
            else:
                level_image = image
        everything = [mark for _, drawn in marks for mark in drawn]
        _bar(
            figure,
            level_image,
            list(grid[:, : min(columns, 2)].flat),
            "level in dB re maximum",
            narrow=columns == 1,
            rows=rows,
        )
        if others:
            _bar(figure, signed_image, list(grid[:, 2]), "change in dB", narrow=True, rows=rows)
        heading = f"{frequency_text(result.map_frequency[number])}, {where}"
        figure.suptitle(heading)
        entries = legend_entries(everything, tags)
        if entries[1]:
            figure.legend(*entries, loc="outside lower center", ncols=4 if columns == 3 else 2)
        _write_tags(figure, scene, view, marks, tags)
        return figure


def _size(scene: Scene, view: View, rows: int, columns: int) -> tuple[float, float]:
    corners = np.vstack(outlines(scene.room, view))
    wide, tall = np.ptp(corners, axis=0)
    width = FULL_WIDTH if columns == 3 else COLUMN_WIDTH
    panel = (width - 0.6) / columns - 0.15
    height = float(np.clip(panel * tall / wide, 0.5, 2.2 * panel))
    return width, rows * (height + 0.35) + 1.35


def _draw_panel(
    axes: Any, scene: Scene, view: View, raster: Any, values: NDArray[np.float64], limit: float | None
) -> Any:
    """One map; `limit` gives a signed scale of that half-width, None the level scale."""
    scale: dict[str, Any] = (
        {"cmap": LEVEL_COLOURS, "vmin": -LEVEL_RANGE, "vmax": 0.0}
        if limit is None
        else {"cmap": SIGNED_COLOURS, "vmin": -limit, "vmax": limit}
    )
    masked = np.ma.masked_invalid(values.T)
    image = axes.pcolormesh(raster[0], raster[1], masked, rasterized=True, zorder=1, **scale)
    # Cells that a slanted wall or ceiling cuts reach beyond it; the picture must not.
    image.set_clip_path(PathPatch(room_path(scene, view), transform=axes.transData))
    frame_room(axes, scene, view)
    return image


def _bar(figure: Figure, image: Any, axes: list[Any], text: str, narrow: bool, rows: int) -> None:
    extend = "both" if "change" in text else "min"
    shrink = 0.9 if narrow else 0.6
    bar = figure.colorbar(image, ax=axes, location="bottom", shrink=shrink, aspect=30, extend=extend, pad=0.02 / rows)
    bar.set_label(text, labelpad=1)
    bar.outline.set_linewidth(0.4)


def _write_tags(
    figure: Figure, scene: Scene, view: View, marks: list[tuple[Any, list[Mark]]], tags: dict[tuple[str, str], str]
) -> None:
    if not tags:
        return
    figure.draw_without_rendering()
    for axes, drawn in marks:
        labels = [Label(tags[m.kind, m.name], m.at) for m in drawn if (m.kind, m.name) in tags]
        place_labels(axes, labels, no_boxes(), all_lines(axes, scene, view, drawn), size=6.0)
