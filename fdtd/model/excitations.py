"""What one excitation of a simulation is made of: the branches of each wall region, the devices that move as one, the
source."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from fdtd.model.overlay import Cover
from fdtd.model.problem import Problem
from fdtd.model.rooms import cover_of
from fdtd.physics.admittance import RIGID, Branches
from fdtd.physics.control import StateSpace
from fdtd.scene.schema import Absorber, Device, Patch, Point3, Scene, Variant


@dataclass(frozen=True)
class Port:
    """The face of an absorber as one: driven as a piston, or read as the average of the pressure in front of it.

    regions : numbers of the regions of the Problem that it consists of
    """

    name: str
    regions: tuple[int, ...]


Place: TypeAlias = Point3 | Port
"""Where sound comes from or is read: a point in m, or a port."""


@dataclass(frozen=True)
class Diaphragm:
    """A face that moves as one: its passive branches, and what electronics add to them (gain included)."""

    port: Port
    branches: Branches
    control: StateSpace | None = None


@dataclass(frozen=True)
class Excitation:
    """local : branches of each region of the Problem (rigid where a diaphragm moves instead);
    fitted : whether an absorber lies on top of each region; source : a place in m, or a port that is driven."""

    local: tuple[Branches, ...]
    fitted: tuple[bool, ...]
    diaphragms: tuple[Diaphragm, ...]
    source: Place


def geometry_key(variant: Variant) -> tuple:
    """Variants with equal keys have the same cells and impedance links and can be excitations of one simulation."""
    blocks = tuple((b.name, b.lower, b.upper) for b in variant.blocks)
    thin_partitions = tuple(
        (s.name, s.axis, s.position, s.rectangle, s.openings, s.open_fraction, s.depth, s.resistance, s.panel)
        for s in variant.thin_partitions
    )
    return blocks, thin_partitions, variant.porous_volumes


def by_geometry(variants: Sequence[Variant]) -> list[list[Variant]]:
    """`variants` that share their geometry, in the order of their first appearance."""
    groups: dict[tuple, list[Variant]] = {}
    for variant in variants:
        groups.setdefault(geometry_key(variant), []).append(variant)
    return list(groups.values())


def make_excitation(scene: Scene, variant: Variant, problem: Problem, source: Place) -> Excitation:
    """The surfaces of `variant` on the regions of `problem`, driven at `source`."""
    devices = {d.name: d for d in variant.devices}
    listed: tuple[Patch | Absorber, ...] = (*variant.patches, *variant.absorbers)
    things = {cover_of(thing): thing for thing in listed}
    base = _base_materials(variant)
    local: list[Branches] = []
    fitted: list[bool] = []
    moving: dict[str, list[int]] = {}
    for number, (surface, covers) in enumerate(problem.regions):
        top = _topmost(covers, things)
        fitted.append(isinstance(top, Absorber))
        if top is None:
            local.append(scene.material(base[_base_key(surface)]).branches)
        elif isinstance(top, Absorber):
            device = devices[top.device]
            if device.motion == "diaphragm":
                moving.setdefault(top.name, []).append(number)
                local.append(RIGID)
            else:
                local.append(_with_gain(device.branches, top.gain))
        else:
            local.append(scene.material(top.material).branches)
    absorbers = {a.name: a for a in variant.absorbers}
    diaphragms = tuple(
        diaphragm_of(absorbers[name], devices[absorbers[name].device], Port(name, tuple(regions)))
        for name, regions in moving.items()
    )
    return Excitation(tuple(local), tuple(fitted), diaphragms, source)


def _topmost(covers: tuple[Cover, ...], things: dict[Cover, Patch | Absorber]) -> Patch | Absorber | None:
    for cover in reversed(covers):
        if cover in things:
            return things[cover]
    return None


def _base_key(surface: str) -> str:
    """'block cupboard +x' -> 'block cupboard': faces of one block or thin partition share their material."""
    return surface.rsplit(" ", 1)[0] if surface.startswith(("block ", "thin partition ")) else surface


def _base_materials(variant: Variant) -> dict[str, str]:
    materials = dict(variant.surfaces)
    materials.update({f"block {b.name}": b.material for b in variant.blocks})
    materials.update({f"thin partition {s.name}": s.material for s in variant.thin_partitions})
    return materials


def _with_gain(branches: Branches, gain: float) -> Branches:
    return tuple(b.scaled(gain) for b in branches) if gain > 0.0 else RIGID


def diaphragm_of(absorber: Absorber, device: Device, port: Port) -> Diaphragm:
    """The moving face of an absorber. Gain is the loop gain of an active unit, a factor on the admittance of others.

    The admittance of a device with a face of its own size is spread over the opening that was drawn for it.
    """
    area = np.prod(np.subtract(absorber.rectangle.upper, absorber.rectangle.lower))
    share = 1.0 if device.face_area is None else device.face_area / float(area)
    if device.control is None:
        return Diaphragm(port, _with_gain(device.branches, absorber.gain * share))
    control = device.control.scaled(absorber.gain * share) if absorber.gain > 0.0 else None
    return Diaphragm(port, _with_gain(device.branches, share), control)
