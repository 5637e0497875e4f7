"""Rooms that are a little other than was said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import Point, box
from study_rooms import active_room, trap_room

from fdtd.physics.admittance import admittance
from fdtd.physics.air import density, speed_of_sound
from fdtd.physics.control import StateSpace
from fdtd.scene.read import read_scene
from fdtd.scene.schema import Device, Rectangle, ThinPartition
from fdtd.scene.shape import Shape, cover, overlap
from fdtd.scene.spots import candidates
from fdtd.study.left_out import ADDED
from fdtd.study.perturb import NONE, Doubt, draw, factor, speed_ratio, vary_device

DOUBT = Doubt()


def test_the_same_number_gives_the_same_room_and_another_another() -> None:
    scene = trap_room()
    start, devices = scene.spots.start, scene.spots.devices
    assert draw(scene, start, devices, (), DOUBT, (1, 3)) == draw(scene, start, devices, (), DOUBT, (1, 3))
    seen = {draw(scene, start, devices, (), DOUBT, key).speed for key in ((1, 3), (1, 4), (2, 3))}
    assert len(seen) == 3


def test_without_doubt_the_room_is_as_it_was() -> None:
    scene = trap_room()
    found = draw(scene, scene.spots.start, scene.spots.devices, (), NONE, (1, 0))
    assert (found.scene, found.variant, found.devices, found.speed) == (
        scene,
        scene.spots.start,
        scene.spots.devices,
        1.0,
    )


def test_everything_is_varied_by_itself_and_within_its_bounds() -> None:
    scene = trap_room()
    start = scene.spots.start
    ratios, moves, sides = [], [], []
    for k in range(60):
        found = draw(scene, start, scene.spots.devices, (), DOUBT, (5, k))
        for old, new in zip(scene.materials, found.scene.materials, strict=False):
            scaled = admittance(new.branches, 60.0) / admittance(old.branches, 60.0)
            assert scaled.imag == pytest.approx(0.0, abs=1e-9)
            ratios.append(float(scaled.real))
        for name in ("sources", "seats"):
            old, new = getattr(found.homes, name), getattr(found.variant, name)
            moves += [np.subtract(b.at, a.at) for a, b in zip(old, new, strict=True)]
        sides.append(np.ptp(found.scene.room.plan, axis=0) - np.ptp(scene.room.plan, axis=0))
        assert 0.994 < found.speed < 1.006
    assert 1 / 2.0 <= min(ratios) < 0.55 and 1.8 < max(ratios) <= 2.0
    boards, lining = np.log(np.reshape(ratios, (60, -1))).T[:2]
    assert abs(np.corrcoef(boards, lining)[0, 1]) < 0.35
    reach = np.abs(moves).max(axis=0)
    assert (reach <= [0.2, 0.2, 0.05]).all() and (reach > [0.18, 0.18, 0.045]).all()
    assert 0.045 < np.abs(sides).max() <= 0.05 + 1e-9 and abs(np.corrcoef(np.transpose(sides))[0, 1]) < 0.35


def test_a_factor_is_as_often_above_as_below_one() -> None:
    rng = np.random.default_rng(2)
    values = np.array([factor(rng, 0.3) for _ in range(400)])
    assert 1 / 1.3 <= values.min() and values.max() <= 1.3
    assert np.median(values) == pytest.approx(1.0, abs=0.04)


def test_seats_stay_in_air_and_on_their_side_of_a_thin_partition() -> None:
    scene = trap_room()
    x = scene.spots.start.seats[0].at[0]
    thin_partition = ThinPartition("curtain", 0, x + 0.02, Rectangle((0.0, 0.0), (2.7, 2.3)))
    start = replace(scene.spots.start, thin_partitions=(thin_partition,))
    for k in range(30):
        found = draw(scene, start, (), (), DOUBT, (1, k))
        assert found.variant.seats[0].at[0] < found.variant.thin_partitions[0].position
        shape = Shape(found.scene.room)
        assert all(shape.in_air(seat.at, found.variant.blocks) for seat in found.variant.seats)


def test_what_was_left_out_stands_clear_and_in_so_many_rooms() -> None:
    """Of 200 rooms half have a piece of furniture more and a quarter an open door, as far as there is room."""
    scene = read_scene(Path(__file__).parents[2] / "scenes" / "l-shaped-living-room.toml")
    start, number = scene.spots.start, [0, 0]
    faces = [place.absorber("") for place in candidates(scene)[:3]]
    for k in range(200):
        found = draw(scene, start, (), faces, DOUBT, (2, k))
        shape, before = Shape(found.scene.room), found.homes
        added = [one for one in (*before.blocks, *before.porous_volumes) if one.name == ADDED]
        doors = [patch for patch in before.patches if patch.name == ADDED]
        number = [number[0] + len(added), number[1] + len(doors)]
        for piece in added:
            (x0, y0, _), (x1, y1, top) = piece.lower, piece.upper
            foot = box(x0, y0, x1, y1)
            assert shape.plan.covers(foot) and top < shape.ceiling_at(x0, y0)
            assert all(foot.distance(Point(seat.at[:2])) >= 0.59 for seat in before.seats)
        for door in doors:
            assert cover(shape.wall_outline(int(door.on[5:])), door.rectangle)
            assert not any(face.on == door.on and overlap(face.rectangle, door.rectangle) for face in found.faces)
    assert 70 <= number[0] <= 130 and 30 <= number[1] <= 70


def test_sound_is_faster_in_warmer_air_as_published() -> None:
    """Cramer, J. Acoust. Soc. Am. 93 (1993) 2510, and CIPM-2007 for the density, through fdtd.physics.air."""
    air = trap_room().air
    state = (air.humidity, air.pressure)
    exact = speed_of_sound(air.temperature + 3.0, *state) / speed_of_sound(air.temperature, *state)
    assert speed_ratio(air, 3.0) == pytest.approx(exact, abs=5e-4)
    heavier = density(air.temperature + 3.0, *state) / density(air.temperature, *state)
    assert speed_ratio(air, 3.0) ** -2 == pytest.approx(heavier, abs=3e-3)


def test_electronics_go_on_believing_the_old_numbers() -> None:
    """By hand from Y = (Sd + G (Zm' - Sd Zst)/Zst)/Zm (fdtd.physics.active), with G = 1 inside the band."""
    scene = active_room()
    device = scene.spots.devices[0]
    changed = vary_device(device, 0.1, np.random.default_rng(4), scene.air.medium)
    frequency = np.array([30.0, 60.0, 90.0])
    unit = device.design
    area = unit.diaphragm_area

    def passive(d: Device) -> np.ndarray:
        return admittance(d.branches, frequency)

    rng = np.random.default_rng(4)
    mass, resistance, stiffness, gain = (factor(rng, 0.1) for _ in range(4))
    old, new = device.branches[0], changed.branches[0]
    assert (new.mass, new.resistance) == pytest.approx((old.mass * mass, old.resistance * resistance))
    assert new.stiffness == pytest.approx(old.stiffness * stiffness)
    believed, true = area / passive(device), area / passive(changed)
    target = unit.target_admittance(frequency, scene.air.medium)
    wanted = gain * unit.loop_filter(frequency) * area * (believed - area / target) / (area / target * true)
    assert changed.control.admittance(frequency) == pytest.approx(wanted, rel=2e-3)


def test_a_device_of_poles_alone_keeps_its_poles() -> None:
    control = StateSpace(np.array([[-50.0]]), np.array([1.0]), np.array([2.0]))
    found = vary_device(Device("d", (), control=control), 0.1, np.random.default_rng(1), trap_room().air.medium)
    np.testing.assert_array_equal(found.control.matrix, control.matrix)
    assert 1 / 1.1 <= found.control.read[0] / 2.0 <= 1.1 and found.control.read[0] != 2.0
