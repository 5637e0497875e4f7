"""The time step on the CPU, for one thread or a group of them that share the tiles of a room.

Order of a step (theory.md, eq. 1), from pressures at n and n - 1 to n + 1: record seats at n; then tile by tile,
while its cells are in the cache: map sums, air, impedance links, sources, walls (each cell's faces eliminated to a
scalar); when all are done, ports (a small dense system per excitation). A tile writes to its own cells only.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fdtd.kernels.air import advance_air
from fdtd.kernels.compiled import kernel, steady
from fdtd.kernels.links import advance_links
from fdtd.kernels.points import MAP_SAMPLES, add_to_maps, drive, keep_for_maps, record
from fdtd.kernels.ports import advance_ports
from fdtd.kernels.tables import Integer, Real
from fdtd.kernels.walls import advance_edges, advance_general, advance_simple

CELLS_AT_ONCE = 16
"""Boundary cells of the general kind whose unknowns are kept in between."""

try:
    from fdtd.kernels.machine_code import meet

    SHARED = True
    """Whether several threads can share a room."""
except ImportError:
    SHARED = False

    @steady
    def meet(barrier, thread_group):
        """One thread has nobody to meet."""


class Scratch(NamedTuple):
    """Room for what phases keep for a moment.

    history, velocity (cell, face, excitation), below (cell, excitation), lag (excitation,) : of `solve_cells`
    now, new, edges : of blocks of walls, the first for links too; weight, samples : as in `add_to_maps`
    """

    history: Real
    velocity: Real
    below: Real
    lag: Real
    now: Real
    new: Real
    edges: Real
    weight: Real
    samples: Integer


@steady
def _most_faces(faces):
    most = 1
    for row in range(len(faces.cell)):
        most = max(most, faces.pointer[row + 1] - faces.pointer[row])
    return most


@kernel
def advance(state, tables, dt, first, count, out, member, thread_group, barrier):
    """Simulate `count` steps from step number `first`; out : (sample, seat, excitation) float64 zeros for the seats'
    pressures.

    The two pressure arrays change places every step; the caller swaps them if `count` is odd.
    member, thread_group : which of how many threads this is; all must call with the same `barrier`, (1,) int64 zero
    """
    excitations, real, faces = state.p_now.shape[1], state.p_now.dtype, tables.faces
    shape = (max(len(faces.cell) - faces.free, CELLS_AT_ONCE), _most_faces(faces), excitations)
    scratch = Scratch(
        np.empty(shape, real),
        np.empty(shape, real),
        np.empty((shape[0], excitations), real),
        np.empty(excitations, real),
        np.empty(faces.block_table.shape[2], real),
        np.empty(faces.block_table.shape[2], real),
        np.empty((4, faces.edge_table.shape[2]), real),
        np.empty((2, MAP_SAMPLES), real),
        np.full(MAP_SAMPLES, -1),
    )
    half, whole = real.type(0.5 * dt), real.type(dt)
    _simulate(state, tables, scratch, half, whole, first, count, out, member, thread_group, barrier)


@steady
def _simulate(state, tables, scratch, half_dt, step_time, first, count, out, member, thread_group, barrier):
    """The steps of `advance`."""
    air, faces, ports, links, points, maps = tables
    excitations, samples = state.p_now.shape[1], scratch.samples
    tiles = len(air.cell_tile) - 1
    tile_first, tile_last = tiles * member // thread_group, tiles * (member + 1) // thread_group
    even, odd = state.p_now.reshape(-1), state.p_before.reshape(-1)
    tail = len(faces.cell) - faces.free
    kept, waiting, mapping = 0, 0, maps.cosine.shape[1] > 0
    start, stop = air.cell_tile[tile_first] * excitations, air.cell_tile[tile_last] * excitations
    ring = state.map_kept.reshape(MAP_SAMPLES, -1)
    for n in range(count):
        p, q = (even, odd) if n % 2 == 0 else (odd, even)
        step = first + n
        if step % points.every == 0:
            if member == 0:
                record(p, excitations, points, out, kept)
            kept += 1
        sample = step // maps.stride
        mapped = mapping and step % maps.stride == 0 and sample < len(maps.cosine)
        if mapped:
            samples[waiting] = sample
        for tile in range(tile_first, tile_last):
            if mapped:
                begin, end = air.cell_tile[tile] * excitations, air.cell_tile[tile + 1] * excitations
                keep_for_maps(p, ring, waiting, begin, end)
                if waiting == MAP_SAMPLES - 1:
                    add_to_maps(maps, state, ring, samples, scratch.weight, begin, end)
            advance_air(p, q, excitations, air, tile)
            advance_links(p, q, excitations, links, state, tile, step_time, scratch.now)
            drive(q, points, tile, step)
            advance_simple(p, q, excitations, faces, state, tile, half_dt, scratch.now, scratch.new)
            advance_edges(p, q, excitations, faces, state, tile, half_dt, scratch.edges)
            advance_general(p, q, excitations, faces, state, tile, half_dt, scratch)
        if mapped:
            waiting = (waiting + 1) % MAP_SAMPLES
            if waiting == 0:
                samples[:] = -1
        if thread_group > 1:
            meet(barrier, thread_group)
        if tail > 0:
            if member == 0:
                advance_ports(p, q, excitations, faces, ports, state, half_dt, scratch)
            if thread_group > 1:
                meet(barrier, thread_group)
    if waiting > 0:
        add_to_maps(maps, state, ring, samples, scratch.weight, start, stop)
