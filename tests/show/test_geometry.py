"""Outlines of plans and sections, faces and walls, worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.scene.schema import Rectangle, Room
from fdtd.show.geometry import (
    View,
    ceiling_height,
    outlines,
    outward,
    plan_view,
    section_view,
    surface_corners,
    wall_line,
)
from show.synthetic import ATTIC, ELL, make_scene, make_variant

FLAT = ((2.5, 0.0, 0.0),)


def same_polygon(found: np.ndarray, expected: list[tuple[float, float]]) -> bool:
    return found.shape == (len(expected), 2) and np.allclose(found, expected, atol=1e-5)


def test_the_plan_is_the_plan() -> None:
    (piece,) = outlines(Room(ELL, FLAT), View(2, 1.1))
    assert same_polygon(piece, list(ELL))


def test_a_section_is_as_long_as_the_room_is_there() -> None:
    room = Room(ELL, FLAT)
    (long,) = outlines(room, View(1, 1.0))
    assert same_polygon(long, [(0, 0), (7.2, 0), (7.2, 2.5), (0, 2.5)])
    (short,) = outlines(room, View(1, 4.0))
    assert same_polygon(short, [(0, 0), (4.1, 0), (4.1, 2.5), (0, 2.5)])


def test_a_section_across_two_wings_has_two_pieces() -> None:
    u_shape = ((0, 0), (6, 0), (6, 4), (4, 4), (4, 2), (2, 2), (2, 4), (0, 4))
    pieces = outlines(Room(u_shape, FLAT), View(1, 3.0))
    assert [(p[:, 0].min(), p[:, 0].max()) for p in pieces] == [(0.0, 2.0), (4.0, 6.0)]


@pytest.mark.parametrize("position", [-1.0, 0.0, 5.6, 9.0])
def test_a_section_along_or_beyond_a_wall_still_shows_the_room(position: float) -> None:
    (piece,) = outlines(Room(ELL, FLAT), View(1, position))
    assert np.ptp(piece[:, 0]) == pytest.approx(7.2 if position < 1 else 4.1, abs=1e-4)


def test_a_sloped_ceiling_is_drawn_with_its_bends() -> None:
    # Two slopes of 0.7 from 1.2 m at the eaves (y = 0 and 5.6), flat at 2.5 m from y = 1.3/0.7 on.
    (piece,) = outlines(Room(ELL[:1] + ((7.2, 0), (7.2, 5.6), (0, 5.6)), ATTIC_ON_Y), View(0, 1.0))
    bend = 1.3 / 0.7
    expected = [(0, 0), (5.6, 0), (5.6, 1.2), (5.6 - bend, 2.5), (2.8, 2.5), (bend, 2.5), (0, 1.2)]
    kept = [p for p in expected if p != (2.8, 2.5)]
    assert {tuple(np.round(p, 6)) for p in kept} <= {tuple(np.round(p, 6)) for p in piece}
    assert max(piece[:, 1]) == pytest.approx(2.5)


ATTIC_ON_Y = ((1.2, 0.0, 0.7), (1.2 + 0.7 * 5.6, 0.0, -0.7), (2.5, 0.0, 0.0))


def test_across_the_slope_the_ceiling_is_level() -> None:
    (piece,) = outlines(Room(((0, 0), (7.2, 0), (7.2, 5.6), (0, 5.6)), ATTIC), View(1, 1.0))
    assert same_polygon(piece, [(0, 0), (7.2, 0), (7.2, 1.9), (0, 1.9)])
    assert ceiling_height(ATTIC, 3.0, 1.0) == pytest.approx(1.9)


def test_a_ceiling_that_meets_the_floor_ends_there() -> None:
    (piece,) = outlines(Room(((0, 0), (4, 0), (4, 3), (0, 3)), ((-1.0, 1.0, 0.0), (2.0, 0.0, 0.0))), View(1, 1.0))
    assert piece[:, 1].min() == 0.0
    assert (1.0, 0.0) in [tuple(np.round(p, 9)) for p in piece]


def test_faces_in_space() -> None:
    scene = make_scene()
    variant = scene.variants[0]
    wall = surface_corners(scene, variant, "wall 6", Rectangle((0.2, 0.3), (0.5, 0.7)))
    assert wall is not None
    # Wall 6 runs from (0, 5.6) to (0, 0).
    np.testing.assert_allclose(wall, [(0, 5.4, 0.3), (0, 5.1, 0.3), (0, 5.1, 0.7), (0, 5.4, 0.7)], atol=1e-12)
    face = surface_corners(scene, variant, "block cupboard -x", Rectangle((0.1, 0.5), (0.5, 1.5)))
    assert face is not None
    np.testing.assert_allclose(face, [(2.6, 0.1, 0.5), (2.6, 0.5, 0.5), (2.6, 0.5, 1.5), (2.6, 0.1, 1.5)])
    top = surface_corners(scene, variant, "block cupboard +z", Rectangle((2.7, 0.1), (3.0, 0.5)))
    assert top is not None and set(top[:, 2]) == {2.0}
    ceiling = surface_corners(scene, variant, "ceiling", Rectangle((1.0, 1.0), (2.0, 2.0)))
    assert ceiling is not None and set(ceiling[:, 2]) == {2.5}
    assert surface_corners(scene, variant, "block gone +x", Rectangle((0, 0), (1, 1))) is None


@pytest.mark.parametrize("plan", [ELL, tuple(reversed(ELL))])
def test_outward_is_out_of_the_room_either_way_round(plan: tuple[tuple[float, float], ...]) -> None:
    from matplotlib.path import Path

    outline = Path(np.array(plan))
    for number in range(1, len(plan) + 1):
        start, direction, length = wall_line(plan, number)
        middle = start + 0.5 * length * direction
        assert not outline.contains_point(middle + 0.01 * outward(plan, number))
        assert outline.contains_point(middle - 0.01 * outward(plan, number))


def test_views_go_through_the_seats() -> None:
    variant = make_variant()
    assert plan_view(variant).position == pytest.approx(1.15)
    assert plan_view(variant, 0.4).position == 0.4
    view = section_view(variant)
    assert (view.normal, view.position) == (1, 1.6)
    assert view.axes == (0, 2)
