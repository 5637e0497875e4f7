"""A box of any number of cells for benchmarks of the GPU: a small box is cut and assembled as any room is,
and its rows, with their walls, are repeated. Assembling fifty million cells from a scene takes hours; this a minute."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from fdtd.kernels.gpu_tables import LONGEST_ELEMENT, Layout
from fdtd.kernels.tables import FaceTables
from fdtd.model.excitations import make_excitation
from fdtd.model.problem import build_problem
from fdtd.scene.read import read_scene_text
from fdtd.simulation.gpu_air import Pieces, elements_of, near_order, update_matrix
from fdtd.simulation.gpu_tables import GpuTables, layout_of, simple_walls
from fdtd.simulation.link_tables import link_tables
from fdtd.simulation.point_tables import map_tables, point_tables
from fdtd.simulation.signals import pulse
from fdtd.simulation.wall_tables import wall_tables

SMALL = 16
"""Cells along each edge of the small box."""
SCENE = """
scene = 1
title = "box"
[room]
plan = [[0, 0], [{x}, 0], [{x}, {y}], [0, {y}]]
height = {z}
[surfaces]
floor = "timber floor on battens"
ceiling = "plasterboard on battens"
walls = "plastered masonry"
[materials."timber floor on battens"]
branches = [{{ mass = 16.0, resistance = 800.0, stiffness = 2.6e6 }}]
source = "invented for the benchmark"
[[sources]]
name = "source"
at = [{sx}, {sy}, {sz}]
[[seats]]
name = "seat"
at = [{rx}, {ry}, {rz}]
"""


def _small(edge: float) -> tuple[Any, Any, Any]:
    size = SMALL * edge
    values = dict.fromkeys("xyz", size) | {f"s{a}": 0.4 * size for a in "xyz"} | {f"r{a}": 0.6 * size for a in "xyz"}
    scene = read_scene_text(SCENE.format(**values), Path("box.toml"))
    variant = scene.variants[0]
    problem = build_problem(scene, variant, 1.001 * edge)
    # The stability limit of a large box lies a little below that of a small one.
    return scene, variant, replace(problem, time_step=0.99 * problem.time_step)


def _like(number: int) -> NDArray[np.int64]:
    """Which index of the small box each of `number` along one axis is like."""
    k = np.arange(number)
    return np.where(k < SMALL // 2, k, np.where(number - k <= SMALL // 2, SMALL - (number - k), SMALL // 2))


def box_layout(edge: float, shape: tuple[int, int, int], real: Any) -> tuple[Layout, float]:
    """(layout of one excitation in a box of `shape` cells (z, y, x), 16 or more each; time step, s). edge : m, of a
    cell."""
    scene, variant, problem = _small(edge)
    assert len(problem.cells.volume) == SMALL**3
    excitation = make_excitation(scene, variant, problem, variant.sources[0].at)
    top = scene.run.max_frequency
    small = elements_of(problem, update_matrix(problem), np.zeros(0, dtype=np.int64), SMALL)
    assert len(small.start) == SMALL**2
    faces = _faces(wall_tables(problem, [excitation], top, 1, np.float64).faces, shape)
    seats = [seat.at for seat in variant.seats]
    points = point_tables(problem, [excitation], seats, pulse(top, problem.time_step)[:400], np.float64, 1)
    points = points._replace(source_cell=_moved(points.source_cell, shape), seat_cell=_moved(points.seat_cell, shape))
    special = np.unique(faces.cell[~simple_walls(faces)])
    pieces = _without(_pieces(small, shape), special, shape)
    walls = wall_tables(problem, [excitation], top, 1, np.float64)
    tables = GpuTables(
        faces,
        walls.ports,
        link_tables(problem, top, np.float64),
        points,
        map_tables(np.zeros(0), problem.time_step, top, 1, np.float64),
    )
    volume = np.full(int(np.prod(shape)), edge**3)
    update = update_matrix(problem)
    dt = problem.time_step
    return layout_of(pieces, special, lambda c: _rows(update, c, shape), volume, dt, tables, 1, real), dt


def _rows(update: csr_array, cells: NDArray, shape: tuple[int, int, int]) -> csr_array:
    """Rows of the update of some cells of the large box."""
    index = np.stack(np.unravel_index(cells, shape), axis=1)
    like = np.stack([_like(n)[k] for n, k in zip(shape, index.T, strict=True)], axis=1)
    part = update[np.ravel_multi_index(tuple(like.T), (SMALL,) * 3)]
    own = np.repeat(np.arange(len(cells)), np.diff(part.indptr))
    step = np.stack(np.unravel_index(part.indices, (SMALL,) * 3), axis=1) - like[own]
    column = np.ravel_multi_index(tuple((index[own] + step).T), shape)
    return csr_array((part.data, column, part.indptr), shape=(len(cells), int(np.prod(shape))))


def _without(pieces: Pieces, special: NDArray, shape: tuple[int, int, int]) -> Pieces:
    """The pieces with the special cells cut out, in the order of the simulation."""
    holder = np.searchsorted(pieces.start, special, side="right") - 1
    keep = np.ones(len(pieces.start), dtype=bool)
    keep[holder] = False
    rows: list[tuple[int, int, int, int]] = []
    for k in np.unique(holder).tolist():
        start, end = int(pieces.start[k]), int(pieces.start[k] + pieces.length[k])
        cuts = [start - 1, *special[holder == k].tolist(), end]
        for a, b in zip(cuts[:-1], cuts[1:], strict=True):
            if b - a > 1:
                rows.append((a + 1, b - a - 1, int(pieces.pattern[k]), int(pieces.profile[k]) + a + 1 - start))
    extra = np.array(rows, dtype=np.int64).reshape(-1, 4)
    columns = (pieces.start, pieces.length, pieces.pattern, pieces.profile)
    joined = [np.concatenate([c[keep], extra[:, k]]) for k, c in enumerate(columns)]
    across = np.stack(np.unravel_index(joined[0], shape), axis=1)[:, [2, 0, 1]]
    order = near_order(across)
    start, length, pattern, profile = (c[order] for c in joined)
    rank = np.full(len(pieces.rank), -1, dtype=np.int64)
    ends = np.cumsum(length)
    rank[np.repeat(start - ends + length, length) + np.arange(ends[-1])] = np.arange(ends[-1])
    return pieces._replace(start=start, length=length, pattern=pattern, profile=profile, rank=rank)


def _moved(cells: NDArray, shape: tuple[int, int, int]) -> NDArray[np.int64]:
    """Cells of the small box from the same corner of the large one."""
    x, y, z = np.unravel_index(cells, (SMALL,) * 3)
    return np.ravel_multi_index((x, y, z), shape).astype(np.int64)


def _pieces(small: Pieces, shape: tuple[int, int, int]) -> Pieces:
    """All rows of the large box cut into pieces."""
    nx, ny, nz = shape
    of_row = np.empty(SMALL**2, dtype=np.int64)
    of_row[small.start // SMALL] = np.arange(SMALL**2)
    row = of_row[(_like(nx)[:, None] * SMALL + _like(ny)).reshape(-1)]
    across_x = np.rint(small.offset / SMALL**2).astype(np.int64)
    across_y = (small.offset - across_x * SMALL**2) // SMALL
    offset = across_x * (ny * nz) + across_y * nz
    begins, profile = np.unique(small.profile, return_inverse=True)
    along = np.concatenate([small.along[:, begin + _like(nz)] for begin in begins], axis=1)
    parts = -(-nz // LONGEST_ELEMENT)
    cuts = np.arange(parts + 1) * nz // parts
    start = (np.arange(nx * ny)[:, None] * nz + cuts[:-1]).reshape(-1)
    length = np.tile(np.diff(cuts), nx * ny)
    where = (profile.ravel()[row][:, None] * nz + cuts[:-1]).reshape(-1)
    pattern = np.repeat(small.pattern[row], parts)
    rank = np.arange(nx * ny * nz)
    return Pieces(start, length, pattern, where, offset, small.weight, along, rank)


def _faces(small: FaceTables, shape: tuple[int, int, int]) -> FaceTables:
    """The wall faces of the large box, each like one of the small."""
    nx, ny, nz = shape
    edge = np.ones(shape, dtype=bool)
    edge[1:-1, 1:-1, 1:-1] = False
    cell = np.flatnonzero(edge)
    index = np.unravel_index(cell, shape)
    like = np.ravel_multi_index([_like(n)[i] for n, i in zip(shape, index, strict=True)], (SMALL,) * 3)
    position = np.full(SMALL**3, -1)
    position[small.cell] = np.arange(len(small.cell))
    mine = position[like]
    count = np.diff(small.pointer)[mine]
    pointer = np.concatenate([[0], np.cumsum(count)])
    face = np.repeat(np.asarray(small.pointer)[mine] - pointer[:-1], count) + np.arange(pointer[-1])
    return small._replace(
        cell=cell,
        pointer=pointer,
        strength=np.asarray(small.strength)[face],
        kind=np.asarray(small.kind)[face],
        state=np.zeros(len(face), np.int64),
        free=len(cell),
    )
