"""Rooms that are a little other than was said: walls, air, units, seats and loudspeakers within what is known of them.

How far each may be off is ours, from common practice: data of surfaces differ between sources by tens of per cent,
drivers from their data sheet by ten, a seat is not sat in to the centimetre.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from fdtd.physics.active import ActiveUnit
from fdtd.physics.admittance import Branch, Branches
from fdtd.physics.medium import Medium
from fdtd.scene.schema import Air, Device, Point3, Scene, Seat, Source, Variant

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
    place, height : m, of seats and sources along x and y, and up
    """

    wall: float = 1.0
    temperature: float = 3.0
    device: float = 0.1
    place: float = 0.2
    height: float = 0.05


NONE = Doubt(0.0, 0.0, 0.0, 0.0, 0.0)
"""Nothing is in doubt."""


@dataclass(frozen=True)
class PerturbedRoom:
    """One room as it might be: scene : with its materials; variant : with its seats, sources and devices
    devices : units as they might be, in the order of [spots]; speed : of sound, times that of the scene."""

    scene: Scene
    variant: Variant
    devices: tuple[Device, ...]
    speed: float = 1.0


def draw(
    scene: Scene,
    variant: Variant,
    devices: tuple[Device, ...],
    doubt: Doubt,
    seed: tuple[int, int],
    in_air: Callable[[Point3], bool],
) -> PerturbedRoom:
    """The room number seed[1] of the series seed[0].

    Surfaces and units are drawn evenly over the logarithm, temperature and places evenly; panels of thin partitions and
    fills stay as they are, for they are part of the cells.
    """
    rng = np.random.default_rng(seed)
    materials = tuple(replace(m, branches=_scaled(m.branches, factor(rng, doubt.wall))) for m in scene.materials)
    speed = speed_ratio(scene.air, float(rng.uniform(-1.0, 1.0)) * doubt.temperature)
    medium = scene.air.medium
    units = tuple(vary_device(device, doubt.device, rng, medium) for device in devices)
    own = tuple(vary_device(device, doubt.device, rng, medium) for device in variant.devices)
    sources = tuple(_moved(source, variant, doubt, rng, in_air) for source in variant.sources)
    seats = tuple(_moved(seat, variant, doubt, rng, in_air) for seat in variant.seats)
    changed = replace(variant, devices=own, sources=sources, seats=seats)
    return PerturbedRoom(replace(scene, materials=materials), changed, units, speed)


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


def _moved(
    thing: Thing, variant: Variant, doubt: Doubt, rng: np.random.Generator, in_air: Callable[[Point3], bool]
) -> Thing:
    """A seat or source near where it was, in air and on the same side of every thin partition."""
    reach = (doubt.place, doubt.place, doubt.height)
    for _ in range(TRIES):
        x, y, z = (float(a + r * rng.uniform(-1.0, 1.0)) for a, r in zip(thing.at, reach, strict=True))
        spot = (x, y, z)
        across = any(
            (spot[s.axis] - s.position) * (thing.at[s.axis] - s.position) < 0.0 for s in variant.thin_partitions
        )
        if not across and in_air(spot):
            return replace(thing, at=spot)
    return thing
