"""Random rooms of every kind of geometry and surface that a scene can have, repeatable by their seed."""

from __future__ import annotations

import numpy as np
from rooms import Problem, make_scene

from fdtd.physics.admittance import Branch, Branches
from fdtd.scene.schema import (
    Absorber,
    Block,
    Device,
    Patch,
    Plane,
    Point2,
    Point3,
    PorousVolume,
    Rectangle,
    Scene,
    ThinPartition,
)

PLANS: tuple[tuple[Point2, ...], ...] = (
    ((0.0, 0.0), (3.1, 0.0), (3.1, 2.6), (0.0, 2.6)),
    ((0.0, 0.0), (3.4, 0.0), (3.4, 1.6), (1.9, 1.6), (1.9, 2.9), (0.0, 2.9)),
    ((0.0, 0.0), (3.3, 0.0), (2.8, 2.7), (0.4, 2.4)),
    ((0.0, 0.0), (2.9, 0.0), (3.5, 1.2), (2.2, 2.9), (0.0, 2.2)),
    ((0.0, 0.0), (1.1, 0.0), (1.1, 0.9), (2.2, 0.9), (2.2, 0.0), (3.3, 0.0), (3.3, 2.5), (0.0, 2.5)),
)
CEILINGS: tuple[tuple[Plane, ...], ...] = (
    ((2.35, 0.0, 0.0),),
    ((1.1, 0.45, 0.0),),
    ((1.2, 0.0, 0.7), (3.2, 0.0, -0.6)),
    ((2.3, 0.0, 0.0), (0.9, 0.37, 0.41)),
)


def random_branches(rng: np.random.Generator, most: int = 3) -> Branches:
    """None (rigid) to `most` branches over many orders of magnitude, some of them without mass, resistance or
    stiffness."""
    made = []
    for _ in range(rng.integers(0, most + 1)):
        mass, resistance, stiffness = 10.0 ** rng.uniform([-1, 0, 2], [2, 5, 7])
        keep = rng.random(3) < 0.7
        keep[rng.integers(3)] = True
        made.append(Branch(*(float(v * k) for v, k in zip((mass, resistance, stiffness), keep, strict=True))))
    return tuple(made)


def some_branches(rng: np.random.Generator) -> Branches:
    """At least one branch."""
    return random_branches(rng, 2) or (Branch(4.0, 200.0, 1e5),)


def _rectangle(rng: np.random.Generator, size: Point2) -> Rectangle:
    low = rng.uniform(0.05, 0.5, 2) * size
    high = low + rng.uniform(0.2, 0.45, 2) * size
    return Rectangle((float(low[0]), float(low[1])), (float(high[0]), float(high[1])))


def _thin_partition(rng: np.random.Generator, number: int) -> ThinPartition:
    axis = int(rng.integers(3))
    position = float(rng.uniform(0.7, 1.4) if axis < 2 else rng.uniform(0.5, 1.0))
    rectangle = Rectangle((0.0, 0.0), (float(rng.uniform(1.0, 4.0)), float(rng.uniform(0.8, 4.0))))
    opening = Rectangle((0.2, 0.15), (float(rng.uniform(0.5, 0.9)), float(rng.uniform(0.5, 0.9))))
    openings = (opening,) if rng.random() < 0.5 else ()
    kind = rng.integers(4)
    panel = Branch(*(float(v) for v in 10.0 ** rng.uniform([-0.5, 0, 3], [1.5, 4, 6])))
    share, depth = float(rng.uniform(0.05, 0.9)), float(rng.uniform(0.001, 0.3))
    resistance = float(10.0 ** rng.uniform(0, 4))
    if kind == 0:
        return ThinPartition(f"s{number}", axis, position, rectangle, openings, material="thing")
    if kind == 1:
        return ThinPartition(f"s{number}", axis, position, rectangle, openings, share, depth, resistance, "thing")
    if kind == 2:
        return ThinPartition(f"s{number}", axis, position, rectangle, openings, panel=panel)
    resistance = float(rng.choice([0.0, resistance]))
    return ThinPartition(f"s{number}", axis, position, rectangle, openings, share, depth, resistance, panel=panel)


def random_room(seed: int) -> Scene:
    """A room with random plan, ceiling, surfaces and things in it, all passive; about 3 x 2.6 x 2.3 m."""
    rng = np.random.default_rng(seed)
    plan, ceiling = PLANS[seed % len(PLANS)], CEILINGS[(seed // len(PLANS)) % len(CEILINGS)]
    names = ["floor", "ceiling", *(f"wall {n + 1}" for n in range(len(plan)))]
    surfaces = {name: random_branches(rng) for name in names}
    low = rng.uniform(0.1, 1.2, 3) * (1.0, 1.0, 0.5)
    high = low + rng.uniform(0.15, 0.7, 3)
    block = Block("cupboard", tuple(map(float, low)), tuple(map(float, high)), "other")
    blocks = (block,) if rng.random() < 0.7 else ()
    thin_partitions = tuple(_thin_partition(rng, n) for n in range(rng.integers(0, 3)))
    fill_low = rng.uniform(0.0, 1.0, 3)
    fill = PorousVolume(
        "wool",
        tuple(map(float, fill_low)),
        tuple(map(float, fill_low + rng.uniform(0.2, 0.9, 3))),
        float(10.0 ** rng.uniform(2.5, 5.0)),
        float(rng.uniform(0.4, 1.0)),
    )
    patches = (
        Patch("rug", "floor", _rectangle(rng, (2.5, 2.0)), "thing"),
        Patch("curtain", "wall 1", _rectangle(rng, (2.5, 1.2)), "other"),
    )
    devices = (
        Device("moving", some_branches(rng), "diaphragm"),
        Device("local", some_branches(rng), "local"),
    )
    absorbers = [
        Absorber("a", "moving", "floor", _rectangle(rng, (1.5, 1.5)), float(rng.uniform(0.3, 2.0))),
        Absorber("b", "local", "ceiling", _rectangle(rng, (2.0, 2.0)), float(rng.choice([0.0, 1.0, 0.5]))),
        Absorber("c", "moving", "wall 1", _rectangle(rng, (2.0, 1.0))),
    ]
    if blocks:
        absorbers.append(Absorber("d", "moving", "block cupboard +x", Rectangle((low[1], low[2]), (high[1], high[2]))))
    return make_scene(
        plan,
        ceiling,
        surfaces=surfaces,
        materials={"thing": some_branches(rng), "other": some_branches(rng)},
        patches=patches,
        blocks=blocks,
        thin_partitions=thin_partitions,
        porous_volumes=(fill,) if rng.random() < 0.6 else (),
        devices=devices,
        absorbers=[a for a in absorbers if rng.random() < 0.75],
    )


def points_in_air(problem: Problem, count: int, seed: int) -> list[Point3]:
    """Points off the grid inside cells that are whole."""
    rng = np.random.default_rng(seed + 1000)
    whole = np.flatnonzero(problem.cells.regular)
    chosen = rng.choice(whole, count, replace=False)
    spots = problem.cells.centre[chosen] + rng.uniform(-0.45, 0.45, (count, 3)) * problem.cells.size[chosen]
    return [(float(x), float(y), float(z)) for x, y, z in spots]
