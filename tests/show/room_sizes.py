"""L-shaped rooms with a gable, from a cupboard of 2 m to a hall of 30 m, with made-up fields on few cells."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from fdtd.analysis.mode_shapes import Loudest, ModeShape, ModeShapes, Place
from fdtd.listening.animation import Field, Plane
from fdtd.listening.animation_make import Animation, make_steady
from fdtd.listening.animation_times import loop_times
from fdtd.results.result import CellGrid, RunResult
from fdtd.scene.schema import Absorber, Block, Patch, Point2, Rectangle, Room, Scene, Seat, Source, Spots, ThinPartition
from fdtd.show.geometry import ceiling_height, plan_view, scene_section, wall_line

from .synthetic import box_of, centres, make_cells, make_result, make_scene

WIDTHS = (2.0, 4.0, 8.0, 15.0, 30.0)
"""m."""
LOW_WALL = 2.1
"""m, height of the walls below the eaves."""


def ridge(width: float) -> float:
    """m, height of the ridge over the middle of the plan; it runs along y."""
    return LOW_WALL + 0.5 + 0.12 * width


def sized_scene(width: float) -> Scene:
    """The L-shape, `width` m long and 0.7 of it deep, with a partition, a block, two sources and two seats."""
    deep = 0.7 * width
    plan: tuple[Point2, ...] = (
        (0.0, 0.0),
        (width, 0.0),
        (width, 0.55 * deep),
        (0.6 * width, 0.55 * deep),
        (0.6 * width, deep),
        (0.0, deep),
    )
    slope = 2.0 * (ridge(width) - LOW_WALL) / width
    ceiling = ((LOW_WALL, slope, 0.0), (LOW_WALL + slope * width, -slope, 0.0))
    scene = make_scene(plan=plan, ceiling=ceiling, title=f"L-shaped room {width:g} m wide with a gable")
    variants = []
    for variant in scene.variants:
        thin_partition = Rectangle((0.0, 0.0), (0.55 * deep, LOW_WALL))
        door = Rectangle((0.1 * deep, 0.0), (0.3 * deep, 0.9 * LOW_WALL))
        variants.append(
            replace(
                variant,
                patches=(Patch("window", "wall 1", Rectangle((0.7 * width, 0.8), (0.9 * width, 1.8)), "glass"),),
                blocks=(Block("cupboard", (0.35 * width, 0.8 * deep, 0.0), (0.5 * width, deep, 1.6), "wood"),),
                thin_partitions=(ThinPartition("shelf divider", 0, 0.6 * width, thin_partition, (door,), 0.0),),
                porous_volumes=(),
                sources=(
                    Source("left", (0.1 * width, 0.1 * deep, 0.5)),
                    Source("right", (0.1 * width, 0.85 * deep, 0.5)),
                ),
                # The section goes through the seat in the short arm: it is not as long as the plan.
                seats=(
                    Seat("armchair by the window", (0.2 * width, 0.85 * deep, 1.1)),
                    Seat("desk", (0.8 * width, 0.4 * deep, 1.2)),
                ),
                absorbers=tuple(
                    Absorber("corner unit", "unit", "wall 6", Rectangle((0.02 * deep, 0.2), (0.3 * deep, 0.7)))
                    for _ in variant.absorbers
                ),
            )
        )
    spots = Spots(
        (variants[0].devices[0],),
        (0.1 * width, 0.4),
        tuple(f"wall {n}" for n in range(1, 7)),
        variants[0],
        spacing=0.25 * width,
        height=(0.0, 1.8),
        seat_distance=0.0,
    )
    return replace(scene, room=Room(plan, ceiling), variants=tuple(variants), spots=spots)


@cache
def sized_cells(width: float) -> CellGrid:
    """A few hundred cells."""
    return make_cells(sized_scene(width), (12, 9, 6))


@cache
def sized_result(width: float) -> RunResult:
    """Two variants with maps at two frequencies."""
    return make_result(sized_scene(width), sized_cells(width))


@cache
def sized_mode_shapes(width: float) -> ModeShapes:
    """A mode along each axis, coupled to all there is."""
    scene, cells = sized_scene(width), sized_cells(width)
    variant = scene.variants[1]
    places = [
        Place(kind, one.name, one.at)
        for kind, things in (("source", variant.sources), ("seat", variant.seats))
        for one in things
    ]
    places += [Place("absorber", one.name, (0.0, 0.1, 0.45)) for one in variant.absorbers]
    places += [Place("spot", f"spot {k}", (width, 0.05 * width * k, 0.4), k) for k in range(1, 7)]
    share, modes = np.linspace(1.0, 0.02, len(places)), []
    for k, shape in enumerate(np.cos(np.pi * centres(cells) / box_of(scene)).T):
        pairs = np.full((2, 2), 0.3)
        modes.append(
            ModeShape(
                k + 1,
                23.8 * (k + 1),
                0.4,
                shape,
                0.0,
                share,
                share,
                np.full(len(places), 0.2),
                pairs,
                -10.0 * pairs,
                (k + 1,),
                Loudest(("wall 2",)),
            )
        )
    return ModeShapes(tuple(places), tuple(modes))


def sized_surfaces(width: float) -> tuple[tuple[str, ...], np.ndarray, np.ndarray]:
    """Surface, place (row, 3) m and level in dB of points on the floor and on every wall up to the ceiling."""
    scene = sized_scene(width)
    x, y, z = np.unique(centres(sized_cells(width)), axis=0).T
    floor = np.isclose(z, z.min())
    names, at = ["floor"] * int(floor.sum()), [np.column_stack([x[floor], y[floor], np.zeros(int(floor.sum()))])]
    for number in range(1, len(scene.room.plan) + 1):
        start, way, length = wall_line(scene.room.plan, number)
        for along in np.linspace(0.02, 0.98, 12) * length:
            foot = start + along * way
            up = np.linspace(0.0, ceiling_height(scene.room.ceiling, *foot), 8)
            at.append(np.column_stack([np.tile(foot, (len(up), 1)), up]))
            names += [f"wall {number}"] * len(up)
    places = np.vstack(at)
    level = 20.0 * np.log10(np.abs(np.prod(np.cos(1.0 * np.pi * places / box_of(scene)), axis=1)) + 1e-3)
    return tuple(names), places, level - level.max()


def sized_spots(width: float) -> list[tuple[tuple[float, float, float], tuple[str, ...]]]:
    """The loudest places: in corners, and up in both gables."""
    top, deep = ridge(width) - 0.05, 0.7 * width
    return [
        ((0.0, 0.0, 0.0), ("floor", "wall 1", "wall 6")),
        ((0.5 * width, 0.0, top), ("wall 1",)),
        ((0.5 * width, deep, top), ("wall 5",)),
        ((width, 0.0, 0.0), ("floor", "wall 1", "wall 2")),
        ((0.0, deep, 0.0), ("floor", "wall 5", "wall 6")),
    ]


def sized_animation(width: float) -> Animation:
    """A steady tone in plan and section, both variants side by side."""
    scene = sized_scene(width)
    plan, section = plan_view(scene.variants[0]), scene_section(scene)
    planes = []
    for view in (plan, section):
        edges = tuple(np.linspace(0.0, box_of(scene)[k], 9) for k in view.axes)
        planes.append(Plane(view.normal, view.position, edges, np.arange(64)))  # type: ignore[arg-type]
    fields = [
        Field(variant.name, tuple(planes), np.cos(np.arange(128 + 2) * 0.1)[:, None].astype(np.complex64))
        for variant in scene.variants
    ]
    seats = [[seat.name for seat in scene.variants[0].seats]] * len(fields)
    return make_steady(fields, seats, 40.0, loop_times(0.4, 15.0, 40.0, None))
