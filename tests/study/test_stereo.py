"""Pairs of places for two channels. Geometry by hand: a seat, places around it, walls and partitions in between."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from rooms import make_scene

from fdtd.scene.schema import Block, Rectangle, Scene, Source, ThinPartition
from fdtd.study.stereo import in_sight, main_seat, stereo_pairs

PLAN = ((0.0, 0.0), (8.0, 0.0), (8.0, 3.0), (5.0, 3.0), (5.0, 5.0), (0.0, 5.0))
SEAT = (2.5, 3.8, 1.1)


def room() -> Scene:
    return make_scene(PLAN, 2.5, sources=[(1.4, 0.6, 0.9), (3.6, 0.6, 0.9)], seats=[SEAT, (4.5, 4.5, 1.1)])


def pairs(places: list[tuple[float, float]], tolerance: float = 0.2) -> list[tuple[int, int]]:
    scene = room()
    return stereo_pairs(scene, scene.variants[0], np.array([(x, y, 0.9) for x, y in places]), tolerance)


def test_an_equilateral_triangle_in_front_is_a_pair_and_what_is_not_in_front_none() -> None:
    side = 2.4  # 60 degrees, ITU-R BS.775
    front = [(SEAT[0] - side / 2, SEAT[1] - side * np.sqrt(0.75)), (SEAT[0] + side / 2, SEAT[1] - side * np.sqrt(0.75))]
    assert pairs(front) == [(0, 1)]
    assert pairs([(2.1, 4.9), (2.9, 4.9)]) == [], "behind the seat and too near"
    assert pairs([front[0], (3.0, 3.6)]) == [], "one of them beside the sofa"


def test_a_pair_lies_where_the_listener_looks() -> None:
    """A good triangle (60 degrees, 2.4 m) turned about the seat by 0, 15, 30 and 180 degrees; 20 are allowed."""
    scene = make_scene(((0.0, 0.0), (7.0, 0.0), (7.0, 7.0), (0.0, 7.0)), 2.5, seats=[(3.5, 3.5, 1.1)])
    ahead = [Source(f"source {k}", (2.3 + 2.4 * k, 1.4, 0.9)) for k in range(2)]
    variant = replace(scene.variants[0], sources=tuple(ahead))
    for turned, suits in ((0.0, True), (15.0, True), (30.0, False), (180.0, False)):
        angles = np.radians(turned + np.array([-120.0, -60.0]))
        places = np.column_stack([3.5 + 2.4 * np.cos(angles), 3.5 + 2.4 * np.sin(angles), [0.9, 0.9]])
        assert stereo_pairs(scene, variant, places) == ([(0, 1)] if suits else []), f"{turned} degrees"


def test_distances_may_differ_by_the_tolerance_only() -> None:
    places = [(1.3, 1.3), (3.7, 1.5)]
    gap = abs(np.hypot(1.2, 2.5) - np.hypot(1.2, 2.3))
    assert pairs(places, gap + 0.01) == [(0, 1)] and pairs(places, gap - 0.01) == []


def test_both_are_in_the_room_of_the_seat() -> None:
    scene = room()
    variant = scene.variants[0]
    assert not in_sight(scene, variant, SEAT, (7.5, 2.8, 0.9)), "round the corner of the L"
    wall = ThinPartition("divider", 1, 2.5, Rectangle((0.0, 0.0), (5.0, 2.5)), (Rectangle((3.0, 0.0), (4.0, 2.1)),))
    split = replace(variant, thin_partitions=(wall,))
    assert not in_sight(scene, split, SEAT, (1.4, 0.9, 0.9)) and in_sight(scene, split, SEAT, (4.3, 0.9, 0.9))
    assert in_sight(scene, replace(variant, thin_partitions=(replace(wall, open_fraction=0.6),)), SEAT, (1.4, 0.9, 0.9))
    high, low = (Block("cupboard", (1.0, 1.8, 0.0), (2.4, 2.2, top), "rigid") for top in (2.0, 0.5))
    assert not in_sight(scene, replace(variant, blocks=(high,)), SEAT, (1.4, 0.9, 0.9))
    assert in_sight(scene, replace(variant, blocks=(low,)), SEAT, (1.4, 0.9, 0.9))


@pytest.mark.parametrize("weights", [(), (("seat 1", 3.0), ("seat 0", 1.0))])
def test_the_main_seat_has_the_largest_weight(weights: tuple[tuple[str, float], ...]) -> None:
    scene = room()
    spots = type("Spots", (), {"seat_weights": weights})()
    assert main_seat(replace(scene, spots=spots), scene.variants[0]) == (1 if weights else 0)
