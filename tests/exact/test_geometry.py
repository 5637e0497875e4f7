"""Volumes, areas and openings of the cells are those of the room.

Set-up: rooms with blocks, thin partitions, slivers, slanted walls and sloped ceilings on cells that do not fit them.
Exact: closed forms, and shapely's polygon areas. A closed surface has no net area vector (divergence theorem with a
constant
field), for the room and for each cell of it.
Expected error: rounding; cuts are exact polygons. Tolerance: 1e-9 for axis-aligned rooms, 1e-6 for slanted ones.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from random_rooms import random_room
from rooms import box_plan, closed_thin_partition, make_scene, problem_of, resonant

from fdtd.grid.axes import make_axes
from fdtd.grid.extrude import Extrusion
from fdtd.grid.plan import cut_plan
from fdtd.model.problem import Problem
from fdtd.model.rooms import room_shape
from fdtd.scene.schema import Absorber, Block, Device, Patch, Rectangle, Scene, ThinPartition

SPACINGS = (0.31, 0.2)


def surface_area(problem: Problem, start: str) -> float:
    """Area of all faces whose surface's name begins with `start`, m²."""
    faces, names = problem.cells.faces, problem.cells.surfaces
    return float(sum(a for a, s in zip(faces.area, faces.surface, strict=True) if names[s].startswith(start)))


def open_area(problem: Problem, axis: int, position: float) -> float:
    """Area of the links through the plane that no thin partition is in the way of, m²."""
    cells, links = problem.cells, problem.cells.links
    starts = cells.edges[axis][cells.index[links.cells[:, 1], axis]]
    mine = (links.axis == axis) & (np.abs(starts - position) < 1e-9) & (links.thin_partition < 0)
    return float(links.area[mine].sum())


def region_area(problem: Problem, name: str) -> float:
    """Area of the wall pieces that a patch or absorber covers, m²."""
    covered = [k for k, (_, covers) in enumerate(problem.regions) if any(c.name == name for c in covers)]
    return float(problem.elements.area[np.isin(problem.elements.region, covered)].sum())


@pytest.mark.parametrize("spacing", SPACINGS)
def test_l_shaped_room_with_block_and_slivers(spacing: float) -> None:
    plan = ((0.0, 0.0), (4.13, 0.0), (4.13, 2.07), (2.51, 2.07), (2.51, 3.33), (0.0, 3.33))
    # The block stands 1 cm off wall 6 and its top is 1 cm above a second block's.
    blocks = [
        Block("one", (0.01, 0.7, 0.0), (0.62, 1.55, 0.91), "rigid"),
        Block("two", (1.5, 0.5, 0.0), (2.2, 0.9, 0.9), "rigid"),
    ]
    problem = problem_of(make_scene(plan, 2.47, blocks=blocks), spacing)
    floor = 4.13 * 2.07 + 2.51 * (3.33 - 2.07)
    solid = 0.61 * 0.85 * 0.91 + 0.7 * 0.4 * 0.9
    assert problem.cells.volume.sum() == pytest.approx(floor * 2.47 - solid, rel=1e-9)
    assert problem.operator.volume.sum() == pytest.approx(floor * 2.47 - solid, rel=1e-9)
    assert surface_area(problem, "ceiling") == pytest.approx(floor, rel=1e-9)
    assert surface_area(problem, "floor") == pytest.approx(floor - 0.61 * 0.85 - 0.7 * 0.4, rel=1e-9)
    assert surface_area(problem, "wall") == pytest.approx(2.0 * (4.13 + 3.33) * 2.47, rel=1e-9)
    assert surface_area(problem, "wall 6") == pytest.approx(3.33 * 2.47, rel=1e-9)
    assert surface_area(problem, "block one") == pytest.approx(2 * (0.61 + 0.85) * 0.91 + 0.61 * 0.85, rel=1e-9)
    assert surface_area(problem, "block one +x") == pytest.approx(0.85 * 0.91, rel=1e-9)
    assert surface_area(problem, "block two") == pytest.approx(2 * (0.7 + 0.4) * 0.9 + 0.7 * 0.4, rel=1e-9)
    assert problem.elements.area.sum() == pytest.approx(problem.cells.faces.area.sum(), rel=1e-9)


@pytest.mark.parametrize("spacing", SPACINGS)
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_thin_partition_with_openings(spacing: float, axis: int) -> None:
    size = (3.87, 3.31, 2.53)
    position = 0.37 * size[axis]
    across = [s for a, s in enumerate(size) if a != axis]
    upper = (across[0] - 0.43, across[1])
    doors = [((0.52, 0.11), (1.37, 1.96)), ((1.81, 0.3), (2.2, 0.71))]
    thin_partition = closed_thin_partition("screen", axis, position, (0.0, 0.0), upper, doors)
    problem = problem_of(make_scene(box_plan(*size[:2]), size[2], thin_partitions=[thin_partition]), spacing)
    openings = sum((b[0] - a[0]) * (b[1] - a[1]) for a, b in doors)
    closed = upper[0] * upper[1] - openings
    assert surface_area(problem, "thin partition screen -") == pytest.approx(closed, rel=1e-9)
    assert surface_area(problem, "thin partition screen +") == pytest.approx(closed, rel=1e-9)
    assert open_area(problem, axis, position) == pytest.approx(across[0] * across[1] - closed, rel=1e-9)
    assert problem.cells.volume.sum() == pytest.approx(np.prod(size), rel=1e-9)


@pytest.mark.parametrize("spacing", SPACINGS)
def test_slanted_polygon(spacing: float) -> None:
    plan = ((0.0, 0.0), (3.93, 0.31), (4.42, 1.87), (2.37, 3.61), (1.71, 2.42), (-0.63, 2.9))
    problem = problem_of(make_scene(plan, 2.37), spacing)
    outline = shapely.Polygon(plan)
    assert problem.cells.volume.sum() == pytest.approx(outline.area * 2.37, rel=1e-6)
    assert problem.operator.volume.sum() == pytest.approx(outline.area * 2.37, rel=1e-6)
    assert surface_area(problem, "floor") == pytest.approx(outline.area, rel=1e-6)
    for number, (start, stop) in enumerate(zip(plan, (*plan[1:], plan[0]), strict=True)):
        area = np.hypot(*np.subtract(stop, start)) * 2.37
        assert surface_area(problem, f"wall {number + 1}") == pytest.approx(area, rel=1e-6)


@pytest.mark.parametrize("spacing", SPACINGS)
def test_gable_over_a_slanted_plan(spacing: float) -> None:
    plan = ((0.0, 0.0), (4.0, 0.0), (3.2, 3.4), (0.5, 3.0))
    left, right = (1.1, 0.8, 0.1), (4.0, -0.6, 0.1)
    problem = problem_of(make_scene(plan, [left, right]), spacing)
    outline, ridge = shapely.Polygon(plan), (right[0] - left[0]) / (left[1] - right[1])
    volume, roof = 0.0, 0.0
    for (a, b, c), half in ((left, shapely.box(-1, -1, ridge, 9)), (right, shapely.box(ridge, -1, 9, 9))):
        part = outline.intersection(half)
        volume += part.area * (a + b * part.centroid.x + c * part.centroid.y)
        roof += part.area * np.sqrt(1 + b * b + c * c)
    assert problem.cells.volume.sum() == pytest.approx(volume, rel=1e-6)
    assert surface_area(problem, "ceiling") == pytest.approx(roof, rel=1e-6)
    front = ridge * (1.1 + 0.4 * ridge) + (4 - ridge) * (4 - 0.3 * (4 + ridge))
    assert surface_area(problem, "wall 1") == pytest.approx(front, rel=1e-6)


@pytest.mark.parametrize("spacing", SPACINGS)
def test_ceiling_that_reaches_the_floor(spacing: float) -> None:
    problem = problem_of(make_scene(box_plan(3.1, 4.0), [(3.0, 0.0, -0.75)]), spacing)
    assert problem.cells.volume.sum() == pytest.approx(0.5 * 4.0 * 3.0 * 3.1, rel=1e-6)
    assert surface_area(problem, "ceiling") == pytest.approx(5.0 * 3.1, rel=1e-6)


@pytest.mark.parametrize("spacing", SPACINGS)
def test_patches_off_the_cell_edges(spacing: float) -> None:
    block = Block("bench", (1.02, 1.13, 0.0), (1.93, 2.08, 0.47), "rigid")
    patches = [
        Patch("rug", "floor", Rectangle((0.13, 0.11), (0.94, 0.83)), "rigid"),
        Patch("mat", "floor", Rectangle((0.17, 0.16), (0.61, 0.71)), "rigid"),
        Patch("picture", "wall 2", Rectangle((0.41, 1.03), (1.37, 1.69)), "rigid"),
        Patch("cloud", "ceiling", Rectangle((0.55, 0.31), (1.57, 1.02)), "rigid"),
    ]
    absorber = Absorber("unit", "device", "block bench +x", Rectangle((1.21, 0.07), (1.93, 0.41)))
    scene = make_scene(
        box_plan(3.3, 2.9),
        2.41,
        blocks=[block],
        patches=patches,
        absorbers=[absorber],
        devices=[Device("device", (resonant(5.0, 50.0, 3.0),))],
    )
    problem = problem_of(scene, spacing)
    for thing in (*patches, absorber):
        low, high = thing.rectangle.lower, thing.rectangle.upper
        exact = (high[0] - low[0]) * (high[1] - low[1])
        assert region_area(problem, thing.name) == pytest.approx(exact, rel=1e-9), thing.name


def test_patch_on_a_sloped_ceiling_has_its_true_area() -> None:
    # A rectangle on a ceiling is given in x and y; the piece of the slope over it is larger.
    patch = Patch("cloud", "ceiling", Rectangle((0.55, 0.31), (1.57, 1.02)), "rigid")
    problem = problem_of(make_scene(box_plan(3.0, 2.0), [(1.4, 0.3, 0.4)], patches=[patch]), 0.2)
    assert region_area(problem, "cloud") == pytest.approx(1.02 * 0.71 * np.sqrt(1.25), rel=1e-6)


def closed_room(scene: Scene, spacing: float) -> None:
    """Checks that the faces and links of every cell, and the faces of the room, close."""
    shape = room_shape(scene, scene.variants[0])
    axes = make_axes(shape, spacing)
    fine = (axes[0].fine, axes[1].fine, axes[2].fine)
    room = Extrusion(shape, cut_plan(np.array(shape.plan), fine[0], fine[1]), fine).build()
    faces = room.faces
    vector = np.array(faces.normal) * np.array(faces.area)[:, None]
    whole = np.sum(faces.area)
    assert np.abs(vector.sum(axis=0)).max() < 1e-9 * whole
    net = np.zeros((len(room.volume), 3))
    np.add.at(net, np.array(faces.cell), -vector)
    for (first, second), axis, area in zip(room.links.pairs(), room.links.axis, room.links.area, strict=True):
        net[first, axis] += area
        net[second, axis] -= area
    assert np.abs(net).max() < 1e-7 * whole / len(room.volume) ** (2 / 3)


@pytest.mark.parametrize("seed", range(20))
def test_surfaces_close(seed: int) -> None:
    closed_room(random_room(seed), 0.3)


@pytest.mark.parametrize("seed", range(20, 40))
def test_sharing_volumes_keeps_the_room(seed: int) -> None:
    scene = random_room(seed)
    untreated = make_scene(scene.room.plan, scene.room.ceiling, blocks=scene.variants[0].blocks)
    problem = problem_of(untreated, 0.3)
    assert problem.operator.volume.min() > 0.0
    assert problem.operator.volume.sum() == pytest.approx(problem.cells.volume.sum(), rel=1e-12)


def test_thin_partition_with_panel_has_no_wall_faces() -> None:
    thin_partition = ThinPartition("door", 0, 1.5, Rectangle((0.0, 0.0), (2.5, 2.0)), panel=resonant(8.0, 40.0, 3.0))
    problem = problem_of(make_scene(box_plan(3.0, 2.5), 2.0, thin_partitions=[thin_partition]), 0.25)
    assert problem.impedance_links.area.sum() == pytest.approx(5.0, rel=1e-9)
    assert problem.elements.area.sum() == pytest.approx(2 * (3.0 * 2.5 + 3.0 * 2.0 + 2.5 * 2.0), rel=1e-9)
