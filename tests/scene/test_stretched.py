"""Rooms stretched along their axes: every shipped scene, against its own volume and surfaces."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from fdtd.scene.read import read_scene
from fdtd.scene.schema import Room
from fdtd.scene.shape import Shape, cover
from fdtd.scene.spots import candidates
from fdtd.scene.stretched import Stretch

SCENES = sorted((Path(__file__).parents[2] / "scenes").glob("*.toml"))
FACTORS = (1.02, 0.97, 1.05)


def volume(room: Room) -> float:
    """m³, by the mean height of the ceiling over a fine grid of the plan."""
    shape = Shape(room)
    (x0, y0), (x1, y1) = np.min(room.plan, axis=0), np.max(room.plan, axis=0)
    x, y = np.meshgrid(*(np.linspace(a, b, 201)[:-1] + (b - a) / 400 for a, b in ((x0, x1), (y0, y1))))
    heights = np.min([a + b * x + c * y for a, b, c in room.ceiling], axis=0)
    inside = shapely.contains_xy(shape.plan, x, y)
    return float(heights[inside].sum() * (x1 - x0) * (y1 - y0) / x.size)


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_volume_goes_with_the_factors_and_things_stay_on_their_surfaces(path: Path) -> None:
    scene = read_scene(path)
    stretch = Stretch(scene.room, FACTORS)
    room = stretch.stretched_room()
    shape = Shape(room)
    assert volume(room) == pytest.approx(np.prod(FACTORS) * volume(scene.room), rel=1e-9)
    for variant in scene.variants:
        there = stretch.variant(variant)
        for thing in (*there.sources, *there.seats):
            assert shape.in_air(thing.at, there.blocks)
        for thing in (*there.patches, *there.absorbers):
            if thing.on.startswith("wall "):
                assert cover(shape.wall_outline(int(thing.on[5:])), thing.rectangle)
    if scene.spots is not None:
        for place in candidates(scene):
            face = stretch.on_surface(place.absorber(""))
            if face.on.startswith("wall "):
                assert cover(shape.wall_outline(int(face.on[5:])), face.rectangle)


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_factors_of_one_change_nothing(path: Path) -> None:
    scene = read_scene(path)
    stretch = Stretch(scene.room, (1.0, 1.0, 1.0))
    assert stretch.stretched_room() == scene.room
    assert all(stretch.variant(variant) == variant for variant in scene.variants)
