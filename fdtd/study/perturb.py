"""Rooms that are a little other than was said: plan, walls, air, units, seats, loudspeakers, what was left out.

How far each may be off is ours, from common practice: data of a surface differ between sources by a factor of two, a
room is measured to a few centimetres, drivers differ from their data sheet by a tenth, and nobody sits to the
centimetre.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from fdtd.physics.active import ActiveUnit
from fdtd.physics.admittance import Branch, Branches
from fdtd.physics.medium import Medium
from fdtd.scene.schema import Absorber, Air, Device, Scene, Seat, Source, Variant
from fdtd.scene.shape import Shape
from fdtd.scene.stretched import Stretch
from fdtd.study.left_out import with_furniture, with_open_door

Thing = TypeVar("Thing", Seat, Source)

ZERO = 273.15
"""K, 0 °C."""
USUAL_TEMPERATURE = 20.0
"""°C, for a scene that gives the speed of sound and no temperature."""
TRIES = 200
"""Draws of a point before it stays where it is."""


@dataclass(frozen=True)
class Doubt:
    """How far off what is known may be.

    wall : of the admittance of every material, a share (1.0: a factor between a half and 2)
    temperature : K; device : of a unit's mass, resistance, stiffness and electronics' gain, a share likewise
    place, height : m, of seats and sources along x and y, and up; plan : m, of the plan along x and y
    furniture, door : share of the rooms with a piece of furniture that the scene does not have, and an open door
    """

    wall: float = 1.0
    temperature: float = 3.0
    device: float = 0.1
    place: float = 0.2
    height: float = 0.05
    plan: float = 0.05
    furniture: float = 0.5
    door: float = 0.25


NONE = Doubt(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
"""Nothing is in doubt."""


@dataclass(frozen=True)
class PerturbedRoom:
    """One room as it might be: scene : with its plan and materials; variant : with what is in it
    devices : units as they might be, in the order of [spots]; faces : of the places for units, in their order
    homes : where seats and sources are if nobody moved them; speed : of sound, times that of the scene."""

    scene: Scene
    variant: Variant
    devices: tuple[Device, ...]
    faces: tuple[Absorber, ...]
    homes: Variant
    speed: float = 1.0


def draw(
    scene: Scene,
    variant: Variant,
    devices: tuple[Device, ...],
    faces: Sequence[Absorber],
    doubt: Doubt,
    seed: tuple[int, int],
) -> PerturbedRoom:
    """The room number seed[1] of the series seed[0]; faces : places for units.

    Surfaces and units are drawn evenly over the logarithm, lengths, temperature and places evenly; panels of thin
    partitions stay as they are.
    """
    rng = np.random.default_rng(seed)
    materials = tuple(replace(m, branches=_scaled(m.branches, factor(rng, doubt.wall))) for m in scene.materials)
    speed = speed_ratio(scene.air, float(rng.uniform(-1.0, 1.0)) * doubt.temperature)
    medium = scene.air.medium
    units = tuple(vary_device(device, doubt.device, rng, medium) for device in devices)
    own = tuple(vary_device(device, doubt.device, rng, medium) for device in variant.devices)
    stretch = _stretch(scene, doubt, rng)
    changed = replace(scene, room=stretch.stretched_room(), materials=materials)
    homes = replace(stretch.variant(variant), devices=own)
    there = tuple(stretch.on_surface(face) for face in faces)
    if rng.uniform() < doubt.furniture:
        homes = with_furniture(changed, homes, there, rng)
    if rng.uniform() < doubt.door:
        changed, homes = with_open_door(changed, homes, there, rng)
    sources = tuple(_moved(source, changed, homes, doubt, rng) for source in homes.sources)
    seats = tuple(_moved(seat, changed, homes, doubt, rng) for seat in homes.seats)
    return PerturbedRoom(changed, replace(homes, sources=sources, seats=seats), units, there, homes, speed)


def _stretch(scene: Scene, doubt: Doubt, rng: np.random.Generator) -> Stretch:
    """Lengths of the plan along x and y, each off by up to `doubt.plan`."""
    sides = np.ptp(np.array(scene.room.plan), axis=0)
    x, y = (float(1.0 + doubt.plan * rng.uniform(-1.0, 1.0) / side) for side in sides)
    return Stretch(scene.room, (x, y, 1.0))


def factor(rng: np.random.Generator, share: float) -> float:
    """A factor between 1/(1 + share) and 1 + share, even over its logarithm."""
    return float((1.0 + share) ** rng.uniform(-1.0, 1.0))


def _scaled(branches: Branches, gain: float) -> Branches:
    return tuple(branch.scaled(gain) for branch in branches)


def speed_ratio(air: Air, warmer: float) -> float:
    """Speed of sound in air `warmer` K warmer than the scene's, times the scene's: it goes with the root of the
    absolute temperature (ideal gas; Kuttruff, Room Acoustics, ch. 1)."""
    kelvin = ZERO + (USUAL_TEMPERATURE if air.temperature is None else air.temperature)
    return float(np.sqrt((kelvin + warmer) / kelvin))


def vary_device(device: Device, share: float, rng: np.random.Generator, medium: Medium) -> Device:
    """A unit whose masses, resistances, stiffnesses and electronics' gain are each off by a factor of its own.

    The electronics of an active unit go on believing the old numbers.
    """
    mass, resistance, stiffness, gain = (factor(rng, share) for _ in range(4))
    if share == 0.0:
        return device
    branches = tuple(Branch(b.mass * mass, b.resistance * resistance, b.stiffness * stiffness) for b in device.branches)
    control = device.control
    if isinstance(device.design, ActiveUnit):
        unit = _misjudged(device.design, mass, resistance, stiffness)
        branches, control = unit.passive(medium), unit.control(medium)
    return replace(device, branches=branches, control=None if control is None else control.scaled(gain))


def _misjudged(unit: ActiveUnit, mass: float, resistance: float, stiffness: float) -> ActiveUnit:
    """`unit` with its driver changed by factors that its controller does not know of; a box is stiff as 1/volume."""
    return replace(
        unit,
        moving_mass=unit.moving_mass * mass,
        mechanical_resistance=unit.mechanical_resistance * resistance,
        suspension_compliance=unit.suspension_compliance / stiffness,
        box_volume=unit.box_volume / stiffness,
        mismatch_mass=(1.0 + unit.mismatch_mass) / mass - 1.0,
        mismatch_resistance=(1.0 + unit.mismatch_resistance) / resistance - 1.0,
        mismatch_stiffness=(1.0 + unit.mismatch_stiffness) / stiffness - 1.0,
    )


def _moved(thing: Thing, scene: Scene, variant: Variant, doubt: Doubt, rng: np.random.Generator) -> Thing:
    """A seat or source near where it was, in air and on the same side of every thin partition."""
    reach, shape = (doubt.place, doubt.place, doubt.height), Shape(scene.room)
    for _ in range(TRIES):
        x, y, z = (float(a + r * rng.uniform(-1.0, 1.0)) for a, r in zip(thing.at, reach, strict=True))
        spot = (x, y, z)
        across = any(
            (spot[s.axis] - s.position) * (thing.at[s.axis] - s.position) < 0.0 for s in variant.thin_partitions
        )
        if not across and shape.in_air(spot, variant.blocks):
            return replace(thing, at=spot)
    return thing
