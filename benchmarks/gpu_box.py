"""A box of any number of cells for benchmarks of the GPU: a small box is cut and assembled as any room is,
and its rows, with their walls, are repeated. Assembling fifty million cells from a scene takes hours; this a minute."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.gpu import Plan
from fdtd.kernels.tables import FaceTables
from fdtd.model.excitations import make_excitation
from fdtd.model.problem import build_problem
from fdtd.scene.read import read_scene_text
from fdtd.simulation.gpu_tables import Air, GpuTables, air_of, plan_of
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


def box_plan(edge: float, shape: tuple[int, int, int], real: Any) -> Plan:
    """One excitation in a box of `shape` cells (x, y, z), 16 or more each; edge : m, of a cell."""
    scene, variant, problem = _small(edge)
    cells, dt = int(np.prod(shape)), problem.time_step
    assert len(problem.cells.volume) == SMALL**3
    excitation = make_excitation(scene, variant, problem, variant.sources[0].at)
    top = scene.run.max_frequency
    walls = wall_tables(problem, [excitation], top, 1, np.float64)
    seats = [seat.at for seat in variant.seats]
    points = point_tables(problem, [excitation], seats, pulse(top, dt)[:400], np.float64, 1)
    points = points._replace(source_cell=_moved(points.source_cell, shape), seat_cell=_moved(points.seat_cell, shape))
    tables = GpuTables(
        _faces(walls.faces, shape),
        walls.ports,
        link_tables(problem, top, np.float64),
        points,
        map_tables(np.zeros(0), dt, top, 1, np.float64),
    )
    air = _air(air_of(problem, walls.faces), shape)
    return plan_of(air, tables, np.full(cells, edge**3), dt, 1.0, 1, real)


def _air(small: Air, shape: tuple[int, int, int]) -> Air:
    """The air of the large box, each cell like one of the small."""
    assert (small.place == np.arange(SMALL**3)).all()
    like = _like(shape)
    kind = np.full(SMALL**3, -1)
    kind[small.special] = small.kind
    special = np.flatnonzero(kind[like] >= 0)
    return small._replace(
        shape=np.array(shape),
        place=np.arange(len(like)),
        weight=[weight[_like_along(number)] for weight, number in zip(small.weight, shape, strict=True)],
        special=special,
        kind=kind[like[special]],
    )


def _like(shape: tuple[int, int, int]) -> NDArray[np.int64]:
    """Which cell of the small box each of the large one is like, x fastest."""
    x, y, z = (_like_along(number) for number in shape)
    return (x + SMALL * (y[:, None] + SMALL * z[:, None, None])).reshape(-1)


def _moved(cells: NDArray, shape: tuple[int, int, int]) -> NDArray[np.int64]:
    """Cells of the small box from the same corner of the large one."""
    x, y, z = cells % SMALL, cells // SMALL % SMALL, cells // SMALL**2
    return x + shape[0] * (y + shape[1] * z)


def _faces(small: FaceTables, shape: tuple[int, int, int]) -> FaceTables:
    """The wall faces of the large box, each like one of the small."""
    position = np.full(SMALL**3, -1)
    position[small.cell] = np.arange(len(small.cell))
    position = position[_like(shape)]
    cell = np.flatnonzero(position >= 0)
    cell = cell[np.argsort(position[cell] >= small.simple, kind="stable")]  # simple ones first
    mine = position[cell]
    count = np.diff(small.pointer)[mine]
    pointer = np.concatenate([[0], np.cumsum(count)])
    face = np.repeat(np.asarray(small.pointer)[mine] - pointer[:-1], count) + np.arange(pointer[-1])
    kind = np.asarray(small.kind)[face]
    state = np.concatenate([[0], np.cumsum(np.diff(small.first)[kind])])[:-1]
    strength = np.asarray(small.strength)[face]
    simple = int((mine < small.simple).sum())
    return small._replace(
        cell=cell, pointer=pointer, strength=strength, kind=kind, state=state, simple=simple, free=len(cell)
    )


def _like_along(number: int) -> NDArray[np.int64]:
    """Which index of the small box each of `number` along one axis is like."""
    k = np.arange(number)
    return np.where(k < SMALL // 2, k, np.where(number - k <= SMALL // 2, SMALL - (number - k), SMALL // 2))
