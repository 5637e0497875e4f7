"""Distances to floor and walls."""

from __future__ import annotations

import pytest

from fdtd.scene.schema import Room
from fdtd.scene.shape import Shape


def test_floor_nearest_wall_and_the_one_across() -> None:
    room = Room(((0.0, 0.0), (6.0, 0.0), (6.0, 3.0), (4.0, 3.0), (4.0, 5.0), (0.0, 5.0)), ((2.5, 0.0, 0.0),))
    assert Shape(room).walls_near((0.5, 0.7, 0.4)) == pytest.approx((0.4, 0.5, 0.7))
    assert Shape(room).walls_near((3.7, 4.0, 0.3)) == pytest.approx((0.3, 0.3, 1.0))


def test_a_slanted_wall_is_across_from_60_degrees_up() -> None:
    room = Room(((0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (1.0, 3.0)), ((2.5, 0.0, 0.0),))  # wall 4 at 71.6 degrees
    near = Shape(room).walls_near((0.6, 0.2, 1.0))
    assert near[1] == pytest.approx(0.2)
    assert near[2] == pytest.approx(abs(3.0 * 0.6 - 1.0 * 0.2) / 10.0**0.5)
