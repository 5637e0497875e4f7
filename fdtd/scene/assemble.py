"""Build one variant from its tables: every thing on its own, then all of them against the room."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Any, TypeVar

from fdtd.scene import checks
from fdtd.scene.clashes import check_cabinets, warn_in_porous_volumes
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.schema import Absorber, Air, Block, Device, Patch, PorousVolume, Seat, Source, ThinPartition, Variant
from fdtd.scene.shape import Shape
from fdtd.scene.surfaces import read_device
from fdtd.scene.text import did_you_mean, show
from fdtd.scene.things import read_thing
from fdtd.scene.tree import Tree
from fdtd.scene.variants import State

T = TypeVar("T")
Made = list[tuple[Entry, T]]


class Parts:
    """The things of one state of the scene that could be made, each with its table."""

    def __init__(self, tree: Tree, air: Air | None, report: Report) -> None:
        def all_of(kind: str) -> Made[Any]:
            things = ((e, read_thing(kind, e, report)) for e in tree.things[kind])
            return [(e, thing) for e, thing in things if thing is not None]

        self.patches: Made[Patch] = all_of("patches")
        self.blocks: Made[Block] = all_of("blocks")
        self.thin_partitions: Made[ThinPartition] = all_of("sheets")
        self.porous_volumes: Made[PorousVolume] = all_of("fills")
        self.points: Made[Source | Seat] = all_of("sources") + all_of("seats")
        both = all_of("absorbers")
        self.absorbers: Made[Absorber] = [(e, a) for e, (a, _) in both]
        self.cabinets: Made[Block] = [(e, b) for e, (_, b) in both if b]
        devices = {n: read_device(n, e, air, report) for n, e in tree.devices.items()}
        self.devices: dict[str, Device] = {n: d for n, d in devices.items() if d}

    @property
    def solid(self) -> list[Block]:
        """All blocks, cabinets included."""
        return [b for _, b in self.blocks + self.cabinets]


def read_surfaces(
    entry: Entry, corners: int | None, known: Collection[str], report: Report
) -> tuple[tuple[str, str], ...]:
    """(surface, material) of floor, ceiling and each wall; empty after a mistake.

    corners : number of walls, None if the plan is not known; known : names of the materials.
    """
    materials: dict[str, str] = {}
    for key, value in entry.values.items():
        wall = re.fullmatch(r"wall ([1-9][0-9]{0,3})", key)
        if key not in ("floor", "ceiling", "walls") and not wall:
            hint = did_you_mean(key, ["floor", "ceiling", "walls", "wall 1"], "surfaces")
            report.mistake(entry, key, f"found a surface that does not exist; {hint}")
        elif wall and corners is not None and int(wall[1]) > corners:
            remedy = f'the plan has {corners} walls, so it is "wall 1" to "wall {corners}"'
            report.mistake(entry, key, f"found a wall that does not exist; {remedy}")
        elif not isinstance(value, str):
            report.mistake(entry, key, f"found {show(value)}; the name of a material in quotes is needed")
        else:
            checks.check_material(entry, key, value, known, report)
            materials[key] = value
    missing = [key for key in ("floor", "ceiling") if key not in entry.values]
    lacking = [f"wall {n + 1}" for n in range(corners or 0) if f"wall {n + 1}" not in entry.values]
    if lacking and "walls" not in entry.values:
        missing.append("walls" if len(lacking) == corners else lacking[0])
    for key in missing:
        remedy = f'give its material, for instance "rigid" or one of [materials]: {key} = "NAME"'
        report.mistake(entry, None, f"key {show(key)} is missing; {remedy}")
    walls = [f"wall {n + 1}" for n in range(corners or 0)]
    found = {s: materials.get(s, materials.get("walls")) for s in walls}
    found = {"floor": materials.get("floor"), "ceiling": materials.get("ceiling")} | found
    return tuple((s, m) for s, m in found.items() if m is not None)


def build_variant(
    state: State, shape: Shape | None, air: Air | None, materials: Collection[str], report: Report
) -> Variant:
    """The variant of `state`; complete only if `report` has no mistakes."""
    parts = Parts(state.tree, air, report)
    corners = len(shape.room.plan) if shape else None
    surfaces = read_surfaces(state.tree.surfaces, corners, materials, report)
    _check_names_used(state.tree, parts, materials, report)
    if shape:
        _check_places(state.tree, parts, shape, report)
    else:
        for entry, point in parts.points:
            checks.check_near(entry, point, report)
    used = {a.device for _, a in parts.absorbers}
    points = [point for _, point in parts.points]
    return Variant(
        state.name,
        tuple(patch for _, patch in parts.patches),
        tuple(parts.solid),
        tuple(thin_partition for _, thin_partition in parts.thin_partitions),
        tuple(volume for _, volume in parts.porous_volumes),
        tuple(point for point in points if isinstance(point, Source)),
        tuple(point for point in points if isinstance(point, Seat)),
        tuple(absorber for _, absorber in parts.absorbers),
        tuple(device for name, device in parts.devices.items() if name in used),
        surfaces,
        state.changes,
    )


def _check_names_used(tree: Tree, parts: Parts, materials: Collection[str], report: Report) -> None:
    made: Made[Any] = [*parts.patches, *parts.blocks, *parts.thin_partitions]
    for entry, thing in made:
        checks.check_material(entry, "material", thing.material, materials, report)
    for entry, block in parts.cabinets:
        checks.check_material(entry.inner("cabinet"), "material", block.material, materials, report)
    for entry, absorber in parts.absorbers:
        if checks.check_device(entry, "device", absorber.device, tree, report) and absorber.device in parts.devices:
            device = parts.devices[absorber.device]
            checks.check_face_area(entry, absorber, device, report)
            cabinet = next((b for e, b in parts.cabinets if e is entry), None)
            if cabinet is not None:
                checks.check_fits_cabinet(entry, cabinet, device, report)


def _check_places(tree: Tree, parts: Parts, shape: Shape, report: Report) -> None:
    for entry, block in parts.blocks:
        checks.check_box(entry, block.lower, block.upper, shape, report)
    inside = [(entry, b) for entry, b in parts.cabinets if checks.check_cabinet(entry, b, shape, report)]
    blocks, thin_partitions = [b for _, b in parts.blocks], [p for _, p in parts.thin_partitions]
    porous_volumes = [v for _, v in parts.porous_volumes]
    standing = {b.name for _, b in inside} - check_cabinets(inside, blocks, porous_volumes, thin_partitions, report)
    for entry, thin_partition in parts.thin_partitions:
        checks.check_thin_partition(entry, thin_partition, shape, report)
    for entry, fill in parts.porous_volumes:
        checks.check_porous_volume(entry, fill, shape, report)
    good = {b.name for _, b in parts.blocks} | standing  # a cabinet refused covers nothing and holds nobody
    solid = [b for b in parts.solid if b.name in good]
    for entry, point in parts.points:
        checks.check_point(entry, point, shape, solid, thin_partitions, report)
        warn_in_porous_volumes(entry, point, porous_volumes, report)
    unsure = {e.name for e in tree.things["blocks"]} | {f"{e.name} cabinet" for e in tree.things["absorbers"]}
    placed: Made[Patch | Absorber] = [*parts.patches, *parts.absorbers]
    for entry, thing in placed:
        checks.check_on(entry, thing, shape, solid, unsure - good, report)
    checks.check_overlap([e for e, _ in parts.absorbers], [a for _, a in parts.absorbers], report)
