"""The air update by itself on a box of any size, without the room around it; and box rooms for memory."""

from __future__ import annotations

import numpy as np

from fdtd.kernels.tables import AirTables
from fdtd.kernels.vectors import vector_size
from fdtd.march.air_parts import row_parts
from fdtd.march.block import LaneBlock
from fdtd.march.chunks import chunk_count
from fdtd.march.link_tables import link_tables
from fdtd.march.point_tables import point_tables
from fdtd.march.team import Pace
from fdtd.march.wall_tables import wall_tables
from fdtd.model.lanes import make_lane
from fdtd.model.problem import build_problem
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Scene

ROOM = """scene = 1
[room]
plan = [[0, 0], [{x}, 0], [{x}, {y}], [0, {y}]]
height = {z}
[materials.board]
branches = [{{ mass = 9.0, resistance = 900.0, stiffness = 1.7e6 }}]
[surfaces]
floor = "{surface}"
ceiling = "{surface}"
walls = "{surface}"
[[sources]]
name = "s"
at = [0.7, 0.6, 0.5]
[[seats]]
name = "a"
at = [1.3, 1.1, 0.9]
"""


def box_scene(cells: int, grid: float = 0.1) -> Scene:
    """A box room with resonant walls of about `cells` cells of `grid` m."""
    side = round((cells / 1.5) ** (1 / 3)) * grid
    return read_scene_text(ROOM.format(x=round(1.5 * side, 1), y=round(side, 1), z=round(side, 1), surface="board"))


def bare_block(nx: int, ny: int, nz: int, precision: str, threads: int) -> LaneBlock:
    """A march of nothing but the 13-point update on nx x ny x nz cells, two layers at the outside left as they are."""
    real = np.float32 if precision == "single" else np.float64
    scene = read_scene_text(ROOM.format(x=2, y=2, z=2, surface="rigid"))
    problem = build_problem(scene, scene.variants[0], 0.5)
    lane = make_lane(scene, scene.variants[0], problem, scene.variants[0].sources[0].at)
    block = LaneBlock(problem, [lane], [], np.zeros(1), 200.0, precision=precision, threads=threads)
    chunks = chunk_count(nx * ny * nz, 1, np.dtype(real).itemsize, threads)
    block.air = _uniform(nx, ny, nz, chunks, real)
    block.walls = wall_tables(problem, [lane], 200.0, chunks, real)
    block.links = link_tables(problem, 200.0, real, chunks)
    block.points = point_tables(problem, [lane], [], np.zeros(0), real, 1, chunks)
    noise = np.random.default_rng(1).standard_normal((2, nx * ny * nz, 1)).astype(real)
    block.state = block.state._replace(p_now=noise[0].copy(), p_before=noise[1].copy())
    block.pace = Pace(threads)
    return block


def _uniform(nx: int, ny: int, nz: int, chunks: int, real: type) -> AirTables:
    """Equal cells at 0.95 of the stability limit of the fourth-order scheme (Courant number squared 0.25)."""
    courant = 0.95**2 * 0.25
    j, k = np.meshgrid(np.arange(2, ny - 2), np.arange(2, nz - 2))
    start = np.sort(((k * ny + j) * nx + 2).ravel())
    bounds = np.linspace(0, ny * nz, chunks + 1).astype(np.int64) * nx
    layer = nx * ny
    offset = np.array([-2 * layer, -layer, -2 * nx, -nx, nx, 2 * nx, layer, 2 * layer])
    near, far = courant * 4.0 / 3.0, -courant / 12.0
    weight = np.array([far, near, far, near, near, far, near, far, -5.0 * courant])
    line = np.array([2.0 - 2.5 * courant, near, near, far, far])
    none = np.zeros(0, dtype=np.int64)
    first, idle = np.searchsorted(start, bounds), np.zeros(chunks + 1, dtype=np.int64)
    length, profile = np.full(chunks, nx - 4), np.zeros(chunks, dtype=np.int64)
    along = np.repeat(line[:, None], nx, axis=1)
    bundle_part, part = row_parts(along, profile, length, 1, vector_size(real))
    return AirTables(
        start, first, length, np.tile(offset, (chunks, 1)), np.tile(weight, (chunks, 1)).astype(real), profile,
        bundle_part, part, along.astype(real), none,
        np.zeros((0, 12), dtype=np.int64), none, np.zeros((0, 13), real), none, np.zeros(1, dtype=np.int64), none,
        np.zeros(0, real), np.zeros(0, real), np.arange(chunks + 1), idle, idle, bounds,
    )  # fmt: skip
