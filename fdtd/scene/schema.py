"""The scene as the program sees it: frozen dataclasses, names resolved, metres and SI units.

`read.py` makes these from a scene file; nothing downstream checks the user's input again.
Axes 0, 1, 2 are x, y (floor) and z (up); z = 0 is the floor.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.physics.admittance import Branch, Branches
from fdtd.physics.control import StateSpace
from fdtd.physics.design import Design, Fit
from fdtd.physics.loudspeaker import Crossover, Rolloff
from fdtd.physics.medium import Medium

Point2 = tuple[float, float]
Point3 = tuple[float, float, float]
Plane = tuple[float, float, float]
"""A ceiling plane (a, b, c): z = a + b x + c y, in m."""


@dataclass(frozen=True)
class Air:
    """speed_of_sound : m/s; density : kg/m³; the conditions they were worked out from, or None if given directly."""

    speed_of_sound: float
    density: float
    temperature: float | None = None
    humidity: float | None = None
    pressure: float | None = None

    @property
    def medium(self) -> Medium:
        """The air as build-up formulas need it."""
        return Medium(self.density, self.speed_of_sound)


@dataclass(frozen=True)
class Room:
    """plan : floor corners in the user's order; ceiling : planes z = a + b x + c y, the lowest counts."""

    plan: tuple[Point2, ...]
    ceiling: tuple[Plane, ...]


@dataclass(frozen=True)
class Material:
    """A surface material: parallel branches (none: rigid) and where its numbers come from.

    design : its build-up, if it was given as one; fit : how well the branches stand for it; library : whether it is
    the library's surface of that name.
    """

    name: str
    branches: Branches
    source: str = ""
    design: Design | None = None
    fit: Fit | None = None
    library: bool = False


@dataclass(frozen=True)
class Rectangle:
    """A rectangle in the coordinates of a surface, m; lower <= upper in both."""

    lower: Point2
    upper: Point2


@dataclass(frozen=True)
class Patch:
    """Part of a surface with another material. `on` is 'floor', 'ceiling', 'wall n' or 'block NAME +x'."""

    name: str
    on: str
    rectangle: Rectangle
    material: str


@dataclass(frozen=True)
class Block:
    """A solid axis-aligned box."""

    name: str
    lower: Point3
    upper: Point3
    material: str


@dataclass(frozen=True)
class ThinPartition:
    """A thin partition ([[sheets]] of a scene file) in the plane `axis` = `position`.

    rectangle, openings : in the two remaining axes, in x, y, z order
    open_fraction : open share of the part that is not an opening (0 closed, 1 fully open)
    depth : m, how deep the open share is; resistance : Pa·s/m of the open share
    panel : series branch of the closed share when it gives way as a whole, else None
    """

    name: str
    axis: int
    position: float
    rectangle: Rectangle
    openings: tuple[Rectangle, ...] = ()
    open_fraction: float = 0.0
    depth: float = 0.0
    resistance: float = 0.0
    material: str = "rigid"
    panel: Branch | None = None


@dataclass(frozen=True)
class PorousVolume:
    """A porous body of air ([[fills]] of a scene file): flow_resistivity in Pa·s/m², porosity 0 < phi <= 1."""

    name: str
    lower: Point3
    upper: Point3
    flow_resistivity: float
    porosity: float = 1.0


@dataclass(frozen=True)
class Source:
    """A loudspeaker as a point source: level in dB of its pass band, delay in s, polarity +1 or -1.

    rolloff : of its box at low frequencies; lowpass, highpass : crossover filters; None: flat volume acceleration.
    """

    name: str
    at: Point3
    level: float = 0.0
    delay: float = 0.0
    polarity: int = 1
    rolloff: Rolloff | None = None
    lowpass: Crossover | None = None
    highpass: Crossover | None = None

    def playback(self, frequency: ArrayLike) -> NDArray[np.complex128]:
        """Complex factor on the source's transfer functions when all play together, at `frequency` in Hz, any shape.

        1 is flat volume acceleration at level 0 dB; level, polarity, delay, roll-off and crossovers count.
        """
        axis = np.asarray(frequency, dtype=float)
        factor = self.polarity * 10.0 ** (self.level / 20.0) * np.exp(-2j * np.pi * axis * self.delay)
        for part in (self.rolloff, self.lowpass, self.highpass):
            if part is not None:
                factor = factor * part.response(axis)
        return np.asarray(factor, dtype=complex)


@dataclass(frozen=True)
class Seat:
    """A listening place: the centre of the head."""

    name: str
    at: Point3


@dataclass(frozen=True)
class Device:
    """What the face of an absorber does; motion: as one ('diaphragm') or each point by itself ('local').

    branches : what it does passively (switched off, for an active unit); control : what electronics add to that at gain
    1, None for a passive device; design, fit : as for a material
    face_area : m² of the moving face that the admittance belongs to, where the opening drawn may differ; else None
    source : where its numbers come from; price : of one unit, in any currency; None: not known
    """

    name: str
    branches: Branches
    motion: str = "diaphragm"
    design: Design | None = None
    fit: Fit | None = None
    control: StateSpace | None = None
    face_area: float | None = None
    source: str = ""
    price: float | None = None


@dataclass(frozen=True)
class Absorber:
    """A device on a surface. A free-standing cabinet has been turned into a block plus an absorber on its face.

    gain : factor on the device's admittance, 0 leaves a rigid face; of an active device its loop gain, 0 is off.
    """

    name: str
    device: str
    on: str
    rectangle: Rectangle
    gain: float = 1.0


@dataclass(frozen=True)
class Variant:
    """One of the compared states of the room, as the resolved things that are in it (see `Scene.variants`)."""

    name: str
    patches: tuple[Patch, ...]
    blocks: tuple[Block, ...]
    thin_partitions: tuple[ThinPartition, ...]
    porous_volumes: tuple[PorousVolume, ...]
    sources: tuple[Source, ...]
    seats: tuple[Seat, ...]
    absorbers: tuple[Absorber, ...]
    devices: tuple[Device, ...]
    surfaces: tuple[tuple[str, str], ...]
    """(surface, material) for 'floor', 'ceiling' and each 'wall n', in that order."""
    changes: str = ""
    """What sets it apart, in words, for tables ("without corner unit")."""


@dataclass(frozen=True)
class Spots:
    """Candidate places for a placement study, and what is tried there.

    devices : kinds of unit that are tried; size : m, width and height of a unit's face
    on : surfaces in walking order; spacing : m, longest step; height : m, range that whole units lie in on walls and
    the sides of blocks, None: floor to ceiling
    cabinet : m, of free-standing units: along the wall, deep, high, the face in the middle of its front; else None
    keep_clear : segments of the plan; avoid : names of things that stay uncovered, None: every patch
    seat_distance : m; count : most units at once; gains : rising; seat_weights : (seat, weight) of every seat
    start : the room that units are added to; it is none of the scene's variants if something is left out for the study
    budget : most that the units may cost together, None: any sum
    """

    devices: tuple[Device, ...]
    size: Point2
    on: tuple[str, ...]
    start: Variant
    spacing: float = 0.5
    height: Point2 | None = None
    cabinet: Point3 | None = None
    keep_clear: tuple[tuple[Point2, Point2], ...] = ()
    avoid: tuple[str, ...] | None = None
    seat_distance: float = 0.5
    count: int = 2
    gains: tuple[float, ...] = (1.0,)
    seat_weights: tuple[tuple[str, float], ...] = ()
    budget: float | None = None

    def cost(self, devices: Iterable[str]) -> float:
        """What units of these devices, by name, cost together; NaN if some price is not known."""
        prices = {device.name: device.price for device in self.devices}
        known = [prices[name] for name in devices]
        return math.nan if None in known else float(sum(price for price in known if price is not None))


@dataclass(frozen=True)
class RunSettings:
    """max_frequency : Hz; grid : m, longest cell edge; duration : s, or None for 'until 60 dB down'
    output : dB, sound pressure level at 1 m in free field of a source of level 0, or None if it is not known."""

    max_frequency: float = 200.0
    grid: float = 0.1
    duration: float | None = None
    output: float | None = None


@dataclass(frozen=True)
class Scene:
    """A whole scene file. `variants` has at least one entry, each complete in itself."""

    title: str
    air: Air
    room: Room
    materials: tuple[Material, ...]
    variants: tuple[Variant, ...]
    run: RunSettings = field(default_factory=RunSettings)
    text: str = ""
    path: str = ""
    warnings: tuple[str, ...] = ()
    spots: Spots | None = None

    def seat_weights(self, seats: Sequence[Seat]) -> tuple[float, ...]:
        """What each of `seats` counts: 1 unless [spots] says otherwise."""
        weight = dict(self.spots.seat_weights) if self.spots is not None else {}
        return tuple(weight.get(seat.name, 1.0) for seat in seats)

    def material(self, name: str) -> Material:
        """The material called `name`; raises KeyError (the reader has checked every use)."""
        return next(m for m in self.materials if m.name == name) if name != "rigid" else Material("rigid", ())
