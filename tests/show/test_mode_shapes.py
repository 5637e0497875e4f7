"""Mode shapes of modes: nodal lines where they belong, none at a sheet, bars as long as the shares, nothing cut off."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.text import Text

from fdtd.analysis.mode_shapes import Loudest, ModeShape, ModeShapes, Place
from fdtd.results.result import CellGrid
from fdtd.scene.schema import Rectangle, Scene, ThinPartition
from fdtd.show.geometry import View
from fdtd.show.mode_shape_drawings import mode_shape_drawings
from fdtd.show.mode_shape_page import draw_mode_shape_page
from fdtd.show.mode_shape_views import quiet, shape_patches
from fdtd.show.mode_shapes import draw_mode_shape
from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH, figure_style, look

from .synthetic import BOX, make_cells, make_scene


@pytest.fixture(scope="module")
def scene() -> Scene:
    return make_scene()


@pytest.fixture(scope="module")
def cells(scene: Scene) -> CellGrid:
    return make_cells(scene)


def centres(cells: CellGrid) -> np.ndarray:
    return np.column_stack([(0.5 * (e[1:] + e[:-1]))[cells.index[:, k]] for k, e in enumerate(cells.edges)])


def shapes(cells: CellGrid) -> list[np.ndarray]:
    x, y, z = (np.cos(np.pi * centres(cells) / BOX)).T
    return [x, y, z]


@pytest.fixture(scope="module")
def mode_shapes(scene: Scene, cells: CellGrid) -> ModeShapes:
    variant = scene.variants[1]
    places = [Place("source", s.name, s.at) for s in variant.sources]
    places += [Place("seat", s.name, s.at) for s in variant.seats]
    places += [Place("absorber", a.name, (0.0, 0.4, 0.45)) for a in variant.absorbers]
    places += [Place("spot", f"spot {k}", (7.2, 0.4 * k, 0.4), k) for k in range(1, 8)]
    modes = []
    for k, shape in enumerate(shapes(cells)):
        share = np.linspace(1.0, 0.02, len(places))
        share[-1] = np.nan
        modes.append(
            ModeShape(
                k + 1,
                23.8 * (k + 1),
                np.nan if k == 0 else 0.4,
                shape,
                0.0,
                share,
                share,
                np.full(len(places), 0.2),
                np.full((2, 2), 0.3),
                np.full((2, 2), np.nan if k == 0 else -2.6),
                (k + 1,),
                Loudest(("wall 2",)),
            )
        )
    return ModeShapes(tuple(places), tuple(modes))


def nodal_lines(axes: Any) -> list[np.ndarray]:
    """Corners of the thick lines."""
    sets = [c for c in axes.collections if hasattr(c, "levels") and list(c.levels) == [0.0]]
    return [path.vertices for c in sets for path in c.get_paths() if len(path.vertices)]


def test_the_nodal_line_of_a_lengthwise_mode_is_across_the_middle(
    scene: Scene, cells: CellGrid, mode_shapes: ModeShapes
) -> None:
    figure = draw_mode_shape(scene, cells, mode_shapes, 0, 1)
    plan = figure.axes[0]
    lines = nodal_lines(plan)
    corners = np.vstack(lines)
    # The cupboard, which is drawn over it, begins there.
    free = corners[corners[:, 1] > 0.8]
    assert np.abs(free[:, 0] - BOX[0] / 2.0).max() < 0.01 and free[:, 1].max() == pytest.approx(BOX[1])


def test_a_plane_in_a_nodal_surface_is_called_silent_and_has_no_lines(scene: Scene, cells: CellGrid) -> None:
    x, _, z = shapes(cells)
    noise = z + 1e-3 * x
    variant = scene.variants[0]
    assert quiet(shape_patches(cells, noise, scene, variant, View(2, BOX[2] / 2.0)))
    assert not quiet(shape_patches(cells, noise, scene, variant, View(2, 0.3)))


def test_a_jump_across_a_thin_partition_is_no_nodal_line(scene: Scene, cells: CellGrid) -> None:
    at = float(cells.edges[0][10])
    whole = Rectangle((0.0, 0.0), (BOX[1], BOX[2]))
    variant = replace(scene.variants[0], thin_partitions=(ThinPartition("screen", 0, at, whole),))
    jump = np.where(centres(cells)[:, 0] < at, 0.8, -0.6)
    patches = shape_patches(cells, jump, scene, variant, View(2, 1.2))
    assert len(patches) == 2 and all(p.values.min() * p.values.max() > 0.0 for p in patches)
    # Through a door in it the field goes on as if it were not there.
    door = replace(
        variant, thin_partitions=(ThinPartition("screen", 0, at, whole, (Rectangle((0.5, 0.0), (3.0, 2.1)),)),)
    )
    even = np.cos(np.pi * centres(cells)[:, 0] / BOX[0])
    left, right = shape_patches(cells, even, scene, door, View(2, 1.2))
    air = (left.v > 1.3) & (left.v < 2.3)
    for beside in (left.values[-1][air], right.values[0][air]):
        np.testing.assert_allclose(beside, np.cos(np.pi * at / BOX[0]), atol=1e-3)


def bars(figure: Figure) -> list[float]:
    """Lengths of the bars that are not the full one behind."""
    axes = figure.axes[-1]
    widths = [patch.get_width() for patch in axes.patches]
    return widths[1::2]


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH])
def test_bars_are_as_long_as_the_shares(scene: Scene, cells: CellGrid, mode_shapes: ModeShapes, width: float) -> None:
    figure = draw_mode_shape(scene, cells, mode_shapes, 1, 1, width=width)
    share = 100.0 * mode_shapes.modes[1].share
    kinds = [p.kind for p in mode_shapes.places]
    expected = [*share[: kinds.index("spot")], *share[kinds.index("spot") :][:5], *[30.0] * 4]
    assert bars(figure) == pytest.approx(expected)
    texts = [t.get_text() for t in figure.axes[-1].texts]
    assert "30 %, −3 dB" in texts and any("node 0.2 m" in t for t in texts)
    assert figure.get_figwidth() == pytest.approx(width)
    inside(figure)


def inside(figure: Figure) -> None:
    """Everything lies on the paper, what the layout doesn't move included."""
    figure.draw_without_rendering()
    renderer, paper = figure.canvas.get_renderer(), figure.bbox
    whole = figure.get_tightbbox(renderer)
    assert whole.x0 >= -0.01 and whole.x1 <= figure.get_figwidth() + 0.01
    assert whole.y0 >= -0.01 and whole.y1 <= figure.get_figheight() + 0.01
    for text in figure.findobj(lambda a: isinstance(a, Text) and a.get_text() and not a.get_in_layout()):
        box = text.get_window_extent(renderer)
        assert box.x0 >= paper.x0 - 1 and box.x1 <= paper.x1 + 1, text.get_text()


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH])
def test_the_overview_has_every_mode(scene: Scene, cells: CellGrid, mode_shapes: ModeShapes, width: float) -> None:
    figure = draw_mode_shape_page(scene, cells, mode_shapes, 1, width=width)
    titles = [a.get_title(loc="left") for a in figure.axes if a.get_visible()]
    assert [t for t in titles if t] == ["1: 23.8 Hz", "2: 47.6 Hz, 0.40 s", "3: 71.4 Hz, 0.40 s"]
    inside(figure)


def test_dark_paper_is_dark(scene: Scene, cells: CellGrid, mode_shapes: ModeShapes) -> None:
    with figure_style("dark"):
        figure = draw_mode_shape(scene, cells, mode_shapes, 0, 1)
        assert to_hex(figure.get_facecolor()) == look().paper


def test_captions_tell_what_is_shown(scene: Scene, cells: CellGrid, mode_shapes: ModeShapes) -> None:
    drawings = mode_shape_drawings(scene, cells, mode_shapes, grid=0.25, variant_index=1, count=2)
    assert [d.stem for d in drawings] == ["mode-shape-overview", "mode-shape-1-23.8hz", "mode-shape-2-47.6hz"]
    assert {d.kind for d in drawings} == {"mode-shape"}
    assert "cells of 0.25 m" in drawings[1].caption and "steady tone" not in drawings[1].caption
    assert "steady tone" in drawings[2].caption and "71.4 Hz, loudest all over wall 2" in drawings[0].alternative
    assert mode_shape_drawings(scene, cells, ModeShapes(mode_shapes.places, ()), grid=0.25) == []


def test_names_full_of_signs_are_drawn_as_they_stand(scene: Scene, cells: CellGrid, mode_shapes: ModeShapes) -> None:
    odd = "$x_1$ <script>" + "w" * 200
    seats = tuple(replace(s, name=f"{odd}{k}") for k, s in enumerate(scene.variants[1].seats))
    strange = replace(scene, variants=(scene.variants[0], replace(scene.variants[1], seats=seats)))
    places = tuple(replace(p, name=odd) if p.kind == "seat" else p for p in mode_shapes.places)
    figure = draw_mode_shape(strange, cells, ModeShapes(places, mode_shapes.modes), 0, 1)
    inside(figure)
