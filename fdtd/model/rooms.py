"""From what the user wrote to what the grid needs: shapes, planes worth an edge, covers, shares of fills."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.grid.axes import Axis, make_axes
from fdtd.grid.cells import Cells
from fdtd.grid.shape import BoxShape, RoomShape, ThinPartitionShape
from fdtd.model.overlay import Cover
from fdtd.scene.schema import Absorber, Patch, PorousVolume, Scene, Variant


def room_shape(scene: Scene, variant: Variant) -> RoomShape:
    """The geometry of one variant, without marks for patches."""
    boxes = tuple(BoxShape(b.name, b.lower, b.upper) for b in variant.blocks)
    thin_partitions = tuple(
        ThinPartitionShape(
            s.name,
            s.axis,
            s.position,
            (s.rectangle.lower, s.rectangle.upper),
            tuple((o.lower, o.upper) for o in s.openings),
        )
        for s in variant.thin_partitions
    )
    return RoomShape(scene.room.plan, scene.room.ceiling, boxes, thin_partitions)


def room_axes(scene: Scene, spacing: float) -> tuple[Axis, Axis, Axis]:
    """Cell edges that suit every variant of the scene at once."""
    shapes = [room_shape(scene, variant) for variant in scene.variants]
    boxes = tuple(dict.fromkeys(b for s in shapes for b in s.boxes))
    thin_partitions = tuple(dict.fromkeys(thin_partition for s in shapes for thin_partition in s.thin_partitions))
    marks: list[list[float]] = [[], [], []]
    for variant in scene.variants:
        for fill in variant.porous_volumes:
            for axis in range(3):
                marks[axis].extend((fill.lower[axis], fill.upper[axis]))
        things: tuple[Patch | Absorber, ...] = (*variant.absorbers, *variant.patches)
        for thing in things:
            _mark(scene, thing, marks)
    unique = tuple(tuple(dict.fromkeys(m)) for m in marks)
    return make_axes(RoomShape(scene.room.plan, scene.room.ceiling, boxes, thin_partitions, unique), spacing)


def _mark(scene: Scene, thing: Patch | Absorber, marks: list[list[float]]) -> None:
    (u0, v0), (u1, v1) = thing.rectangle.lower, thing.rectangle.upper
    if thing.on.startswith("wall "):
        number = int(thing.on.split()[1]) - 1
        plan = np.asarray(scene.room.plan, dtype=float)
        along = plan[(number + 1) % len(plan)] - plan[number]
        length = np.hypot(*along)
        for axis in (0, 1):
            if abs(along[axis]) > 1e-9 and abs(along[1 - axis]) < 1e-9:
                marks[axis].extend(float(plan[number][axis] + u * along[axis] / length) for u in (u0, u1))
        marks[2].extend((v0, v1))
        return
    normal = "xyz".index(thing.on[-1]) if thing.on.startswith("block ") else 2
    first, second = [axis for axis in range(3) if axis != normal]
    marks[first].extend((u0, u1))
    marks[second].extend((v0, v1))


def cover_of(thing: Patch | Absorber) -> Cover:
    """The rectangle of a patch or absorber as the overlay sees it."""
    kind = "absorber" if isinstance(thing, Absorber) else "patch"
    return Cover(kind, thing.name, thing.on, thing.rectangle.lower, thing.rectangle.upper)


def surface_covers(variants: tuple[Variant, ...]) -> tuple[Cover, ...]:
    """All patches of the variants, then all absorbers: the order in which they lie on one another."""
    patches = dict.fromkeys(cover_of(p) for v in variants for p in v.patches)
    absorbers = dict.fromkeys(cover_of(a) for v in variants for a in v.absorbers)
    return (*patches, *absorbers)


def porous_shares(cells: Cells, porous_volumes: tuple[PorousVolume, ...]) -> tuple[NDArray, NDArray, NDArray]:
    """(link,) flow resistance Pa·s/m, (link,) factor on the air's inertia, (cell,) porosity, from porous fills.

    Inside a fill the air obeys rho/phi du/dt + sigma u = -grad p with u the velocity per total area (Rayleigh's model
    of a rigid porous medium; Kuttruff, Room Acoustics, ch. 2), and only the share phi of the volume stores air.
    """
    links = cells.links
    resistance, heavier = np.zeros(len(links.area)), np.ones(len(links.area))
    porosity = np.ones(len(cells.volume))
    if not porous_volumes:
        return resistance, heavier, porosity
    centre, size = cells.centre, cells.size
    for fill in porous_volumes:
        lower, upper = np.asarray(fill.lower), np.asarray(fill.upper)
        inside = np.clip(np.minimum(upper, centre + size / 2) - np.maximum(lower, centre - size / 2), 0.0, None)
        porosity -= (1.0 - fill.porosity) * np.prod(inside / size, axis=1)
        for axis in range(3):
            mine = np.flatnonzero(links.axis == axis)
            first, second = links.cells[mine].T
            start, stop = centre[first, axis], centre[second, axis]
            length = np.clip(np.minimum(stop, upper[axis]) - np.maximum(start, lower[axis]), 0.0, None)
            across = [a for a in range(3) if a != axis]
            share = np.prod((inside / size)[first][:, across], axis=1)
            resistance[mine] += fill.flow_resistivity * length * share
            heavier[mine] += (1.0 / fill.porosity - 1.0) * length * share / links.length[mine]
    return resistance, heavier, np.maximum(porosity, 0.05)
