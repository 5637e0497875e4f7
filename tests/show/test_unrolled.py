"""Walls side by side: gables up to the ridge, rows that are legible, spots where they are."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.text import Annotation

from fdtd.show.loudest import draw_loudest
from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH
from fdtd.show.unrolled import LEGIBLE, row_scale, unrolled, wall_outline, wall_rows

from .room_sizes import LOW_WALL, WIDTHS, ridge, sized_scene, sized_spots, sized_surfaces


def test_a_gable_ends_at_the_ridge() -> None:
    outline = wall_outline(sized_scene(8.0).room, 1)
    expected = [(0.0, 0.0), (8.0, 0.0), (8.0, LOW_WALL), (4.0, ridge(8.0)), (0.0, LOW_WALL)]
    np.testing.assert_allclose(outline, expected, atol=1e-9)


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH])
def test_spots_under_the_ridge_are_inside_the_axes(width: float) -> None:
    scene, spots = sized_scene(8.0), sized_spots(8.0)
    figure = draw_loudest(scene, scene.variants[0], *sized_surfaces(8.0), spots, "title", width)
    high = [at[2] for at, _ in spots if at[2] > LOW_WALL]
    walls = [axes for axes in figure.axes[1:] if axes.get_ylabel() == "z in m"]
    numbers = [(axes, text.xy) for axes in walls for text in axes.texts if isinstance(text, Annotation)]
    marked = {at for axes, at in numbers if 0.0 < at[1] <= axes.get_ylim()[1]}
    assert len(high) == 2 and all(any(z == pytest.approx(at) for _, z in marked) for at in high)


@pytest.mark.parametrize("room", WIDTHS)
def test_rows_keep_the_order_and_are_as_few_as_are_legible(room: float) -> None:
    plan = sized_scene(room).room
    for width in (2.8, 6.3):
        rows = wall_rows(plan, width)
        assert [number for row in rows for number in row.walls] == [1, 2, 3, 4, 5, 6]
        whole = sum(row.length for row in rows)
        if width / whole >= LEGIBLE:
            assert len(rows) == 1
        else:
            # The longest wall bounds what more rows can do.
            assert row_scale(rows, width) >= min(LEGIBLE, width / room) - 1e-9


def test_a_spot_in_a_corner_is_marked_in_each_row_that_meets_there() -> None:
    room, spots = sized_scene(30.0).room, sized_spots(30.0)
    rows = wall_rows(room, 2.8)
    corner = [(k, along) for k, along, _, rank in unrolled(room, rows, spots) if rank == 4]
    assert [k for k, _ in corner] == [0, 1] and corner[0][1] == pytest.approx(30.0) and corner[1][1] == 0.0
    together = [rank for _, _, _, rank in unrolled(room, wall_rows(room, 100.0), spots)]
    assert together.count(4) == 1 and together.count(1) == 2  # the first and the last wall are apart
