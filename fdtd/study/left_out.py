"""What a scene may have left out: a piece of furniture on the floor, a door that stands open. Sizes are ours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely.geometry import Point, box

from fdtd.physics.admittance import Branch
from fdtd.scene.faces import wall_number
from fdtd.scene.schema import Absorber, Block, Material, Patch, PorousVolume, Rectangle, Scene, Variant
from fdtd.scene.shape import Shape, cover, overlap
from fdtd.study.floor import free_floor

FURNITURE = ((0.6, 1.6), (0.35, 0.6), (0.4, 1.8))
"""m, shortest and longest length, depth and height of a piece of furniture."""
UPHOLSTERY = (3e3, 2e4)
"""Pa·s/m², flow resistivity of an upholstered piece, which half of them are."""
CLEAR, FROM_PEOPLE = 0.1, 0.6
"""m that a piece keeps from what stands in the room, and from seats, loudspeakers and places for units."""
DOOR, OPEN = (0.8, 2.0), (0.2, 1.0)
"""m, width and height of a door; share of it that is open."""
TRIES = 50
"""Places that are tried before a thing is left out after all."""
ADDED = "(left out of the scene)"
"""Name of what is added."""


def with_furniture(scene: Scene, variant: Variant, faces: Sequence[Absorber], rng: np.random.Generator) -> Variant:
    """`variant` with one more piece somewhere on the floor, hard or upholstered; as it was if there is no room."""
    length, deep, high = (float(rng.uniform(*limits)) for limits in FURNITURE)
    size = (length, deep) if rng.uniform() < 0.5 else (deep, length)
    free = free_floor(scene, variant, CLEAR, 0.0, high)
    shape = Shape(scene.room)
    points = [seat.at[:2] for seat in variant.seats] + [source.at[:2] for source in variant.sources]
    points += [at for face in faces for at in _middle(shape, face)]
    for point in points:
        free = free.difference(Point(point).buffer(FROM_PEOPLE))
    (x0, y0), (x1, y1) = np.min(scene.room.plan, axis=0), np.max(scene.room.plan, axis=0)
    for _ in range(TRIES):
        x, y = float(rng.uniform(x0, x1)), float(rng.uniform(y0, y1))
        corners = ((x, y), (x + size[0], y), (x, y + size[1]), (x + size[0], y + size[1]))
        if not free.covers(box(x, y, *corners[-1])) or min(shape.ceiling_at(*c) for c in corners) < high + CLEAR:
            continue
        lower, upper = (x, y, 0.0), (*corners[-1], high)
        if rng.uniform() < 0.5:
            return replace(variant, blocks=(*variant.blocks, Block(ADDED, lower, upper, "rigid")))
        soft = PorousVolume(ADDED, lower, upper, float(np.exp(rng.uniform(*np.log(UPHOLSTERY)))), 0.95)
        return replace(variant, porous_volumes=(*variant.porous_volumes, soft))
    return variant


def with_open_door(
    scene: Scene, variant: Variant, faces: Sequence[Absorber], rng: np.random.Generator
) -> tuple[Scene, Variant]:
    """Scene and variant with a door ajar in some wall, as if it led into the open; as they were if there is no room.

    What goes through the open share does not come back: a resistance of rho c over that share.
    """
    shape, (wide, high) = Shape(scene.room), DOOR
    taken = [(patch.on, patch.rectangle) for patch in variant.patches]
    taken += [(face.on, face.rectangle) for face in (*variant.absorbers, *faces)]
    for _ in range(TRIES):
        number = int(rng.integers(1, len(scene.room.plan) + 1))
        start, share, on = float(rng.uniform(0.0, 4.0)), float(rng.uniform(*OPEN)), f"wall {number}"
        leaf = Rectangle((start, 0.0), (start + wide, high))
        outline = shape.wall_outline(number)
        if not outline or not cover(outline, leaf) or any(on == at and overlap(leaf, other) for at, other in taken):
            continue
        air = scene.air
        hole = Material(ADDED, (Branch(resistance=air.density * air.speed_of_sound / share),))
        patch = Patch(ADDED, on, leaf, ADDED)
        return replace(scene, materials=(*scene.materials, hole)), replace(variant, patches=(*variant.patches, patch))
    return scene, variant


def _middle(shape: Shape, face: Absorber) -> list[tuple[float, float]]:
    """The middle of a face on the plan; nothing of one on a block, which keeps its own distance."""
    (u0, v0), (u1, v1) = face.rectangle.lower, face.rectangle.upper
    u, v = 0.5 * (u0 + u1), 0.5 * (v0 + v1)
    if face.on in ("floor", "ceiling"):
        return [(u, v)]
    number = wall_number(face.on)
    return [shape.on_wall(number, u, v, 0.0)[:2]] if number else []
