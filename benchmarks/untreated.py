"""The air update by itself on a box of any size, without the room around it; and box rooms for memory."""

from __future__ import annotations

import numpy as np

from fdtd.kernels.tables import AirTables, vector_size
from fdtd.model.excitations import make_excitation
from fdtd.model.problem import build_problem
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Scene
from fdtd.simulation.air_parts import row_parts
from fdtd.simulation.block import ExcitationBlock
from fdtd.simulation.link_tables import link_tables
from fdtd.simulation.point_tables import point_tables
from fdtd.simulation.thread_group import Pace
from fdtd.simulation.tiles import tile_count
from fdtd.simulation.wall_tables import wall_tables

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


def untreated_block(nx: int, ny: int, nz: int, precision: str, threads: int) -> ExcitationBlock:
    """A simulation of nothing but the 13-point update on nx x ny x nz cells, two layers at the outside left as they
    are."""
    real = np.float32 if precision == "single" else np.float64
    scene = read_scene_text(ROOM.format(x=2, y=2, z=2, surface="rigid"))
    problem = build_problem(scene, scene.variants[0], 0.5)
    excitation = make_excitation(scene, scene.variants[0], problem, scene.variants[0].sources[0].at)
    block = ExcitationBlock(problem, [excitation], [], np.zeros(1), 200.0, precision=precision, threads=threads)
    tiles = tile_count(nx * ny * nz, 1, np.dtype(real).itemsize, threads)
    block.air = _uniform(nx, ny, nz, tiles, real)
    block.walls = wall_tables(problem, [excitation], 200.0, tiles, real)
    block.links = link_tables(problem, 200.0, real, tiles)
    block.points = point_tables(problem, [excitation], [], np.zeros(0), real, 1, tiles)
    noise = np.random.default_rng(1).standard_normal((2, nx * ny * nz, 1)).astype(real)
    block.state = block.state._replace(p_now=noise[0].copy(), p_before=noise[1].copy())
    block.pace = Pace(threads)
    return block


def _uniform(nx: int, ny: int, nz: int, tiles: int, real: type) -> AirTables:
    """Equal cells at 0.95 of the stability limit of the fourth-order scheme (Courant number squared 0.25)."""
    courant = 0.95**2 * 0.25
    j, k = np.meshgrid(np.arange(2, ny - 2), np.arange(2, nz - 2))
    start = np.sort(((k * ny + j) * nx + 2).ravel())
    bounds = np.linspace(0, ny * nz, tiles + 1).astype(np.int64) * nx
    layer = nx * ny
    offset = np.array([-2 * layer, -layer, -2 * nx, -nx, nx, 2 * nx, layer, 2 * layer])
    near, far = courant * 4.0 / 3.0, -courant / 12.0
    weight = np.array([far, near, far, near, near, far, near, far, -5.0 * courant])
    line = np.array([2.0 - 2.5 * courant, near, near, far, far])
    none = np.zeros(0, dtype=np.int64)
    first, idle = np.searchsorted(start, bounds), np.zeros(tiles + 1, dtype=np.int64)
    length, profile = np.full(tiles, nx - 4), np.zeros(tiles, dtype=np.int64)
    along = np.repeat(line[:, None], nx, axis=1)
    bundle_part, part = row_parts(along, profile, length, 1, vector_size(real))
    return AirTables(
        start,
        first,
        length,
        np.tile(offset, (tiles, 1)),
        np.tile(weight, (tiles, 1)).astype(real),
        profile,
        bundle_part,
        part,
        along.astype(real),
        none,
        np.zeros((0, 12), dtype=np.int64),
        none,
        np.zeros((0, 13), real),
        none,
        np.zeros(1, dtype=np.int64),
        none,
        np.zeros(0, real),
        np.zeros(0, real),
        np.arange(tiles + 1),
        idle,
        idle,
        bounds,
    )
