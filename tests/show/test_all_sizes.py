"""No drawing of a room cuts anything off, however large the room is, and what is written can be read.

No two axes, headings or texts in the same axes cover each other. A text may lie on a line or a mark. What is clipped at
an outline of its own, such as a map at the walls, is not looked at.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.text import Text
from matplotlib.transforms import IdentityTransform

from fdtd.scene.spots import candidates
from fdtd.show.animation_layout import animation_layout
from fdtd.show.animation_still import draw_still
from fdtd.show.best_places import draw_best_places
from fdtd.show.geometry import View
from fdtd.show.loudest import draw_loudest
from fdtd.show.maps import draw_plan_maps, draw_section_maps
from fdtd.show.mode_shape_page import draw_mode_shape_page
from fdtd.show.mode_shapes import draw_mode_shape
from fdtd.show.modes import draw_modes
from fdtd.show.plan import draw_plan
from fdtd.show.sources import draw_places
from fdtd.show.spots import draw_spots
from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH, figure_style

from .room_sizes import (
    WIDTHS,
    sized_animation,
    sized_cells,
    sized_mode_shapes,
    sized_result,
    sized_scene,
    sized_spots,
    sized_surfaces,
)

Draw = Callable[[float, float], Figure]
"""Draws a room so many metres wide, so many inches wide."""
SLACK = 1.5
"""Pixels of rounding, at 100 to an inch."""


def plan(room: float, width: float) -> Figure:
    return draw_plan(sized_scene(room), 1, width)


def spots(room: float, width: float) -> Figure:
    scene = sized_scene(room)
    return draw_spots(scene, candidates(scene), width=width)


def best_places(room: float, width: float) -> Figure:
    scene = sized_scene(room)
    places = candidates(scene)
    return draw_best_places(scene, places, [[0], [0, len(places) // 2], [0, 3, len(places) - 1]], 2, width)


def loudest(room: float, width: float) -> Figure:
    scene = sized_scene(room)
    title = f"{scene.title}: where 24.2 Hz is loudest"
    return draw_loudest(scene, scene.variants[0], *sized_surfaces(room), sized_spots(room), title, width)


def places(room: float, width: float) -> Figure:
    scene = sized_scene(room)
    grid = np.array([(0.1 * room * i, 0.1 * room * j, 1.1) for i in range(1, 6) for j in range(1, 7)])
    return draw_places(
        scene,
        scene.variants[0],
        grid,
        np.linspace(-3.0, 3.0, len(grid)),
        [(29,), (12,), (0,)],
        [seat.at for seat in scene.variants[0].seats],
        "places for the desk",
        0.1 * room,
        width,
    )


def plan_maps(room: float, width: float) -> Figure:
    return draw_plan_maps(sized_result(room), sized_scene(room), 0, note="near the resonance of 24.2 Hz", width=width)


def section_maps(room: float, width: float) -> Figure:
    return draw_section_maps(sized_result(room), sized_scene(room), 0, width=width)


def modes(room: float, width: float) -> Figure:
    found = sized_mode_shapes(room).modes
    shapes = np.array([one.shape for one in found])
    return draw_modes(sized_scene(room), sized_cells(room), [one.frequency for one in found], shapes, width=width)


def mode_shape(room: float, width: float) -> Figure:
    return draw_mode_shape(sized_scene(room), sized_cells(room), sized_mode_shapes(room), 0, 1, width=width)


def mode_shape_page(room: float, width: float) -> Figure:
    return draw_mode_shape_page(sized_scene(room), sized_cells(room), sized_mode_shapes(room), 1, width=width)


def animation(room: float, width: float) -> Figure:
    scene, shown = sized_scene(room), sized_animation(room)
    views = tuple(View(plane.axis, plane.position) for plane in shown.planes[0])
    size = (1080, None) if width == FULL_WIDTH else (480, 640)
    layout = animation_layout(scene, views, len(shown.names), len(shown.seats), size)
    with figure_style():
        figure = Figure(figsize=layout.inches, dpi=layout.dots)
        FigureCanvasAgg(figure)
        draw_still(figure, shown, scene, scene.variants, views, layout)
    return figure


DRAWINGS: tuple[Draw, ...] = (
    plan,
    spots,
    best_places,
    loudest,
    places,
    plan_maps,
    section_maps,
    modes,
    mode_shape,
    mode_shape_page,
    animation,
)


def faults(figure: Figure) -> list[str]:
    """What lies outside the paper or its axes, and which axes, headings and texts cover each other."""
    figure.draw_without_rendering()
    renderer, paper = figure.canvas.get_renderer(), figure.bbox
    found, boxes = [], {}
    for text in seen_texts(figure):
        if not within(text.get_window_extent(renderer), paper):
            found.append(f"text {text.get_text()!r} is off the paper")
    for number, axes in enumerate(a for a in figure.axes if a.get_visible()):
        name = f"axes {number} {axes.get_title(loc='left')!r}"
        boxes[name] = axes.get_tightbbox(renderer)
        if not within(boxes[name], paper):
            found.append(f"{name} is off the paper")
        frame = axes.get_window_extent(renderer)
        for artist in (*axes.lines, *axes.patches, *axes.collections):
            if artist.get_visible() and not whole(artist, frame, paper):
                found.append(f"{artist} of {name} is cut off")
        found += [
            f"{one.get_text()!r} and {other.get_text()!r} in {name} cover each other"
            for one, other in combinations([t for t in axes.texts if t.get_text().strip() and t.get_visible()], 2)
            if covers(*(Text.get_window_extent(t, renderer) for t in (one, other)))
        ]
        for axis in (axes.xaxis, axes.yaxis):
            found += [
                f"{one.get_text()} and {other.get_text()} on {name} cover each other"
                for one, other in combinations(ticks(axis) if axes.axison else [], 2)
                if covers(*extents(renderer, one, other))
            ]
    found += [
        f"{one} and {other} cover each other"
        for one, other in combinations(boxes, 2)
        if covers(boxes[one], boxes[other])
    ]
    heads = [t for t in (*figure.texts, figure._suptitle) if t is not None and t.get_text()]
    for head in heads:
        own = head.get_window_extent(renderer)
        found += [f"{head.get_text()!r} covers {name}" for name, box in boxes.items() if covers(own, box)]
    return found


def seen_texts(figure: Figure) -> list[Text]:
    """Every text that is drawn; of ticks those within the limits."""
    unseen: set[int] = set()
    for axes in figure.axes:
        for part in [axes] if not axes.get_visible() else [axes.xaxis, axes.yaxis]:
            unseen |= {id(text) for text in part.findobj(Text)}
        if axes.get_visible() and axes.axison:
            unseen -= {id(text) for axis in (axes.xaxis, axes.yaxis) for text in (*ticks(axis), axis.label)}
    return [t for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible() and id(t) not in unseen]


def ticks(axis: Any) -> list[Text]:
    low, high = sorted(axis.get_view_interval())
    inside = [tick for tick in axis.get_major_ticks() if low - 1e-9 <= tick.get_loc() <= high + 1e-9]
    return [tick.label1 for tick in inside if tick.label1.get_visible() and tick.label1.get_text()]


def whole(artist: Any, frame: Any, paper: Any) -> bool:
    """Whether an artist is inside its axes, or inside the paper if it may leave them."""
    if artist.get_clip_path() is not None:  # at an outline of its own
        return True
    area = frame if artist.get_clip_on() else paper
    points = ends(artist)
    box = np.vstack([points.min(axis=0), points.max(axis=0)]) if len(points) else None
    return box is None or (
        box[0, 0] >= area.x0 - SLACK
        and box[0, 1] >= area.y0 - SLACK
        and box[1, 0] <= area.x1 + SLACK
        and box[1, 1] <= area.y1 + SLACK
    )


def ends(artist: Any) -> np.ndarray:
    """(point, 2) pixels of the corners of an artist; of marks in a collection their middles."""
    if isinstance(artist, Line2D):
        return artist.get_transform().transform(artist.get_xydata())
    if isinstance(artist, Patch):
        return artist.get_transform().transform_path(artist.get_path()).vertices
    if not isinstance(artist.get_offset_transform(), IdentityTransform):
        return artist.get_offset_transform().transform(artist.get_offsets())
    corners = [path.vertices for path in artist.get_paths()]
    return artist.get_transform().transform(np.vstack(corners)) if corners else np.empty((0, 2))


def extents(renderer: Any, *texts: Text) -> list[Any]:
    return [text.get_window_extent(renderer) for text in texts]


def within(box: Any, paper: Any) -> bool:
    return bool(
        box.x0 >= paper.x0 - SLACK
        and box.y0 >= paper.y0 - SLACK
        and box.x1 <= paper.x1 + SLACK
        and box.y1 <= paper.y1 + SLACK
    )


def covers(one: Any, other: Any) -> bool:
    wide = min(one.x1, other.x1) - max(one.x0, other.x0)
    return bool(wide > SLACK and min(one.y1, other.y1) - max(one.y0, other.y0) > SLACK)


SIZES = [(room, width) for room in WIDTHS for width in (COLUMN_WIDTH, FULL_WIDTH)]
QUICK = [(2.0, COLUMN_WIDTH), (30.0, FULL_WIDTH)]


@pytest.mark.parametrize(("room", "width"), QUICK)
@pytest.mark.parametrize("draw", DRAWINGS, ids=lambda draw: draw.__name__)
def test_nothing_is_cut_off(draw: Draw, room: float, width: float) -> None:
    with figure_style():  # as they are saved
        assert faults(draw(room, width)) == []


@pytest.mark.slow
@pytest.mark.parametrize(("room", "width"), [size for size in SIZES if size not in QUICK])
@pytest.mark.parametrize("draw", DRAWINGS, ids=lambda draw: draw.__name__)
def test_nothing_is_cut_off_at_any_size(draw: Draw, room: float, width: float) -> None:
    with figure_style():  # as they are saved
        assert faults(draw(room, width)) == []
