"""The time step on the CPU, for one thread or for a team of threads that share the chunks of a room.

Order of a step, from pressures at n and n - 1 to n + 1: record seats at n; then chunk by chunk, while its cells are in
the cache: map sums, air, loose links, sources, walls (each cell's faces eliminated to a scalar); when all are done,
ports (a small dense system per lane). A chunk writes to its own cells only.
"""

from __future__ import annotations

import numpy as np

from fdtd.kernels.air import advance_air
from fdtd.kernels.compiled import available_threads, kernel, phase
from fdtd.kernels.links import advance_links
from fdtd.kernels.points import MAP_SAMPLES, add_to_maps, drive, keep_for_maps, record
from fdtd.kernels.ports import advance_ports
from fdtd.kernels.threads import meet
from fdtd.kernels.walls import advance_edges, advance_general, advance_simple

CELLS_AT_ONCE = 16
"""Boundary cells of the general kind whose unknowns are kept in between."""

__all__ = ["advance", "available_threads"]


@phase
def _most_faces(faces):
    most = 1
    for row in range(len(faces.cell)):
        most = max(most, faces.pointer[row + 1] - faces.pointer[row])
    return most


@kernel
def advance(state, air, faces, ports, links, points, maps, dt, first, count, out, member, team, gate):
    """March `count` steps from step number `first`; out : (sample, seat, lane) float64 zeros for the seats' pressures.

    The two pressure arrays change places every step; the caller swaps them if `count` is odd.
    member, team : which of how many threads this is; all must call with the same `gate`, (1,) int64 zero
    """
    lanes, real = state.p_now.shape[1], state.p_now.dtype
    chunks = len(air.run_chunk) - 1
    chunk_first, chunk_last = chunks * member // team, chunks * (member + 1) // team
    even, odd = state.p_now.reshape(-1), state.p_before.reshape(-1)
    half_dt, step_time = real.type(0.5 * dt), real.type(dt)
    most, tail = _most_faces(faces), len(faces.cell) - faces.free
    shape = (max(tail, CELLS_AT_ONCE), most, lanes)
    history, velocity = np.empty(shape, real), np.empty(shape, real)
    below, lag = np.empty((len(history), lanes), real), np.empty(lanes, real)
    face_v, face_x, sums = state.face_v.reshape(-1), state.face_x.reshape(-1), state.cell_sum.reshape(-1)
    now, new = np.empty(faces.block_table.shape[2], real), np.empty(faces.block_table.shape[2], real)
    edge_work = np.empty((4, faces.edge_table.shape[2]), real)
    kept, waiting, mapping = 0, 0, maps.cosine.shape[1] > 0
    start, stop = air.cell_chunk[chunk_first] * lanes, air.cell_chunk[chunk_last] * lanes
    ring = state.map_kept.reshape(MAP_SAMPLES, -1)
    samples = np.full(MAP_SAMPLES, -1)
    for n in range(count):
        p, q = (even, odd) if n % 2 == 0 else (odd, even)
        step = first + n
        if step % points.every == 0:
            if member == 0:
                record(p, lanes, points, out, kept)
            kept += 1
        sample = step // maps.stride
        mapped = mapping and step % maps.stride == 0 and sample < len(maps.cosine)
        if mapped:
            samples[waiting] = sample
        for chunk in range(chunk_first, chunk_last):
            if mapped:
                begin, end = air.cell_chunk[chunk] * lanes, air.cell_chunk[chunk + 1] * lanes
                keep_for_maps(p, ring, waiting, begin, end)
                if waiting == MAP_SAMPLES - 1:
                    add_to_maps(maps, state, ring, samples, begin, end)
            advance_air(p, q, lanes, air, chunk)
            advance_links(p, q, lanes, links, state, chunk, step_time)
            drive(q, points, chunk, step)
            advance_simple(p, q, lanes, faces, face_v, face_x, sums, chunk, half_dt, now, new)
            advance_edges(p, q, lanes, faces, face_v, face_x, sums, chunk, half_dt, edge_work)
            advance_general(p, q, lanes, faces, state, chunk, half_dt, history, velocity, below, lag)
        if mapped:
            waiting = (waiting + 1) % MAP_SAMPLES
            if waiting == 0:
                samples[:] = -1
        if team > 1:
            meet(gate, team)
        if tail > 0:
            if member == 0:
                advance_ports(p, q, lanes, faces, ports, state, half_dt, history, velocity, below, lag)
            if team > 1:
                meet(gate, team)
    if waiting > 0:
        add_to_maps(maps, state, ring, samples, start, stop)
