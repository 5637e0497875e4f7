"""Which loudspeakers, seats, absorbers and candidate places couple to each mode of a room, and how strongly.

In a rigid box the shapes are products of cosines, so a corner couples fully, a nodal plane not at all (Kuttruff, Room
Acoustics, ch. 3); here the same is read from the modes of the real room.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from fdtd.analysis.mode_shapes import (
    ModeShape,
    ModeShapes,
    Place,
    at_its_largest,
    families,
    levels_of_family,
    nodal_distance,
    nodal_points,
)
from fdtd.analysis.response import level_db
from fdtd.errors import GeometryError
from fdtd.grid.cells import Cells
from fdtd.model.problem import Problem, build_problem
from fdtd.modes.lossy import LossyModes
from fdtd.scene.schema import Absorber, Block, Point3, Scene, Variant
from fdtd.scene.shape import Shape
from fdtd.scene.spot_faces import find_surface
from fdtd.scene.spots import Candidate, candidates
from fdtd.simulation.points import PointWeights
from fdtd.study.loudest_spots import loudest_places
from fdtd.workflow import ModesResult

Complex = NDArray[np.complex128]

OFF = 1e-3
"""m in front of its surface that the pressure on a face is read."""
GAUSS = (-np.sqrt(0.6), 0.0, np.sqrt(0.6))
GAUSS_WEIGHTS = (5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0)
"""Gauss-Legendre rule of three points on (-1, 1), weights adding up to 1 (Abramowitz and Stegun, table 25.4)."""


@dataclass(frozen=True)
class _Spread:
    """A place as points (m) whose mean, weighted, is the pressure there."""

    place: Place
    points: tuple[Point3, ...]
    weights: tuple[float, ...]


def rigid_mode_shapes(scene: Scene, modes: ModesResult, variant: int, grid: float | None = None) -> ModeShapes:
    """Mode shapes of what `workflow.modes` found for the same scene, variant and grid (m).

    Raises ValueError if the shapes are of another grid.
    """
    endless = np.full(len(modes.frequency), np.nan)
    return _mode_shapes(scene, variant, grid or scene.run.grid, 2j * np.pi * modes.frequency, endless, modes.shape)


def damped_mode_shapes(scene: Scene, modes: LossyModes, variant: int, grid: float) -> ModeShapes:
    """Mode shapes of what `workflow.damped_modes` found for the same scene and variant on cells of `grid` (m)."""
    return _mode_shapes(scene, variant, grid, modes.eigenvalue, modes.decay_time, modes.shape)


def _mode_shapes(
    scene: Scene, number: int, grid: float, eigenvalue: NDArray, decay: NDArray, shapes: NDArray
) -> ModeShapes:
    variant = scene.variants[number]
    problem, spreads = build_problem(scene, variant, grid), _spreads(scene, variant)
    cells, count = problem.cells, shapes.shape[1]
    if len(cells.volume) != count:
        raise ValueError(f"the modes have {count} cells, the room on a grid of {grid:g} m {len(cells.volume)}")
    reader = PointWeights(cells)
    rows = _readings(reader, spreads)
    groups = families(eigenvalue)
    places = tuple(s.place for s in spreads)
    joined = _neighbours(cells, variant)
    sources, seats = ([k for k, p in enumerate(places) if p.kind == kind] for kind in ("source", "seat"))
    found = []
    for k, shape in enumerate(shapes):
        group = next(g for g in groups if k in g)
        size = np.sqrt(np.mean(np.abs(shapes[list(group)]) ** 2, axis=1))[:, None]
        family = shapes[list(group)] / size
        peak, own = _peak(reader, shape[None]), np.abs(_read(rows, shape[None])[0])
        top, at_places = _peak(reader, family), _read(rows, family)
        whole = np.sqrt(np.sum(np.abs(at_places) ** 2, axis=0))
        peak, top = max(peak, float(np.nanmax(own, initial=0.0))), max(top, float(np.nanmax(whole, initial=0.0)))
        turned, travelling = at_its_largest(shape / peak, cells.volume)
        points = nodal_points(turned, joined, cells.centroid)
        spacing = float(max(np.diff(edges).max() for edges in cells.edges))
        pairs = np.einsum("ms,mr->msr", at_places[:, sources], at_places[:, seats])
        frequency = float(eigenvalue[k].imag / (2.0 * np.pi))
        found.append(
            ModeShape(
                number=k + 1,
                frequency=frequency,
                decay_time=float(decay[k]),
                shape=turned,
                travelling=travelling,
                share=own / peak,
                together=whole / top,
                distance=nodal_distance(points, [p.at for p in places], spacing),
                product=np.abs(pairs.sum(axis=0)) / top**2,
                level=_levels(problem, eigenvalue[list(group)], pairs * size[:, :, None] ** 2, frequency, decay[k]),
                family=tuple(i + 1 for i in group),
                loudest=loudest_places(problem, turned),
            )
        )
    return ModeShapes(places, tuple(found))


def _levels(problem: Problem, s: NDArray, pairs: Complex, frequency: float, decay: float) -> NDArray[np.float64]:
    """(source, seat) dB; see `Mode shape.level`. pairs : (mode, source, seat) of shapes scaled as `LossyModes` has
    it."""
    if not decay > 0.0:
        return np.full(pairs.shape[1:], np.nan)
    volume = float(problem.operator.volume.sum())
    scale = problem.density * problem.speed_of_sound**2 / volume
    pressure = levels_of_family(scale * pairs, s, frequency)
    return level_db(pressure[..., None], np.array([frequency]), problem.density)[..., 0]


def _neighbours(cells: Cells, variant: Variant) -> NDArray[np.int64]:
    """(link, 2) cells that air joins: not through closed thin partitions, where the pressure jumps."""
    closed = [k for k, thin_partition in enumerate(variant.thin_partitions) if thin_partition.open_fraction == 0.0]
    return np.asarray(cells.links.cells[~np.isin(cells.links.thin_partition, closed)])


def _peak(reader: PointWeights, family: NDArray) -> float:
    """Largest root of the sum of squares of the shapes (mode, cell), also between the middles of cells and at walls."""
    size = np.sqrt(np.sum(np.abs(family) ** 2, axis=0))
    best = int(np.argmax(size))
    spots = [np.array([e[i], 0.5 * (e[i] + e[i + 1]), e[i + 1]]) for e, i in _box(reader.cells, best)]
    margin = [1e-6 * (s[2] - s[0]) * np.array([1.0, 0.0, -1.0]) for s in spots]
    points = tuple(product(*(s + m for s, m in zip(spots, margin, strict=True))))
    values = []
    for point in points:
        cells, weights = reader.weights(point)
        values.append(np.sqrt(np.sum(np.abs(family[:, cells] @ weights) ** 2)))
    return float(max(size[best], *values))


def _box(cells: Cells, cell: int) -> list[tuple[NDArray[np.float64], int]]:
    return [(cells.edges[axis], int(cells.index[cell, axis])) for axis in range(3)]


def _readings(reader: PointWeights, spreads: Sequence[_Spread]) -> tuple[csr_array, NDArray[np.bool_]]:
    """Matrix (place, cell) that reads the pressure at every place, and which places are in air."""
    row, column, value = [], [], []
    in_air = np.ones(len(spreads), dtype=bool)
    for number, spread in enumerate(spreads):
        try:
            read = [reader.weights(point) for point in spread.points]
        except GeometryError:
            in_air[number] = False
            continue
        for (cells, weights), share in zip(read, spread.weights, strict=True):
            row += [number] * len(cells)
            column += cells.tolist()
            value += (share * weights).tolist()
    shape = (len(spreads), len(reader.cells.volume))
    return csr_array((value, (row, column)), shape=shape), in_air


def _read(rows: tuple[csr_array, NDArray[np.bool_]], shapes: NDArray) -> Complex:
    """(mode, place) complex pressure, NaN where there is no air."""
    values = np.asarray((rows[0] @ shapes.T).T, dtype=complex)
    values[:, ~rows[1]] = np.nan
    return values


def _spreads(scene: Scene, variant: Variant) -> list[_Spread]:
    """Everything that couples, sources first."""
    found = [_point("source", s.name, s.at) for s in variant.sources]
    found += [_point("seat", s.name, s.at) for s in variant.seats]
    shape = Shape(scene.room)
    found += [_face("absorber", a.name, a, shape, variant.blocks) for a in variant.absorbers]
    if scene.spots is not None:
        found += [_candidate(one, shape, scene.spots.start.blocks) for one in candidates(scene)]
    return found


def _point(kind: str, name: str, at: Point3) -> _Spread:
    return _Spread(Place(kind, name, at), (at,), (1.0,))


def _candidate(one: Candidate, shape: Shape, blocks: Sequence[Block]) -> _Spread:
    """The face of a unit at a candidate place, at the front of its cabinet if it has one."""
    standing = one.standing("")
    if standing is None:
        return _face("spot", one.name, one.absorber(""), shape, blocks, one.number)
    return _face("spot", one.name, standing[0], shape, (*blocks, standing[1]), one.number)


def _face(kind: str, name: str, absorber: Absorber, shape: Shape, blocks: Sequence[Block], number: int = 0) -> _Spread:
    """The pressure on a face: three by three points, in the air right before it."""
    surface = find_surface(absorber.on, shape, blocks)
    assert surface is not None  # the reader has checked that it is there
    (u0, v0), (u1, v1) = absorber.rectangle.lower, absorber.rectangle.upper
    points = tuple(
        surface.point(0.5 * (u0 + u1 + a * (u1 - u0)), 0.5 * (v0 + v1 + b * (v1 - v0)), OFF)
        for a, b in product(GAUSS, GAUSS)
    )
    weights = tuple(a * b for a, b in product(GAUSS_WEIGHTS, GAUSS_WEIGHTS))
    middle = surface.point(0.5 * (u0 + u1), 0.5 * (v0 + v1))
    return _Spread(Place(kind, name, middle, number), points, weights)
