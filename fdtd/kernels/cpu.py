"""The time step on the CPU. One source, compiled twice: with threads inside a step, and for one thread per lane block.

Order of a step, from pressures at n and n - 1 to n + 1: record seats and maps at n; air; loose links; sources; walls
(each cell's faces eliminated to a scalar); ports (a small dense system per lane).
"""

from __future__ import annotations

from types import FunctionType
from typing import Any

import numba
import numpy as np
from numba import prange

_OPTIONS: dict[str, Any] = {"cache": True, "error_model": "numpy", "fastmath": {"contract", "nsz", "arcp"}}
_phase = numba.njit(**_OPTIONS)
# Inlined before compilation: passing these tables cell by cell would cost more than the arithmetic.
_inline = numba.njit(inline="always", **_OPTIONS)


@_inline
def _run(p, q, start, count, lanes, offset, w, along, first):
    """One run of cells: plain contiguous slices over cells and lanes, so that the loop vectorises."""
    n, o, step = count * lanes, start * lanes, lanes
    o0, o1, o2, o3 = (o + offset[0] * lanes, o + offset[1] * lanes, o + offset[2] * lanes, o + offset[3] * lanes)
    o4, o5, o6, o7 = (o + offset[4] * lanes, o + offset[5] * lanes, o + offset[6] * lanes, o + offset[7] * lanes)
    out = q[o : o + n]
    c, m1, p1 = p[o : o + n], p[o - step : o - step + n], p[o + step : o + step + n]
    m2, p2 = p[o - 2 * step : o - 2 * step + n], p[o + 2 * step : o + 2 * step + n]
    a0, a1, a2, a3 = p[o0 : o0 + n], p[o1 : o1 + n], p[o2 : o2 + n], p[o3 : o3 + n]
    a4, a5, a6, a7 = p[o4 : o4 + n], p[o5 : o5 + n], p[o6 : o6 + n], p[o7 : o7 + n]
    w0, w1, w2, w3, w4, w5, w6, w7 = w[0], w[1], w[2], w[3], w[4], w[5], w[6], w[7]
    centre, below, above = along[0, first : first + n], along[1, first : first + n], along[2, first : first + n]
    far_below, far_above = along[3, first : first + n], along[4, first : first + n]
    for t in range(n):
        row = centre[t] * c[t] + below[t] * m1[t] + above[t] * p1[t] + far_below[t] * m2[t] + far_above[t] * p2[t]
        across = w0 * a0[t] + w1 * a1[t] + w2 * a2[t] + w3 * a3[t]
        further = w4 * a4[t] + w5 * a5[t] + w6 * a6[t] + w7 * a7[t]
        out[t] = row - out[t] + (across + further)


@_phase
def _air(p, q, lanes, air, chunk):
    for r in range(air.run_chunk[chunk], air.run_chunk[chunk + 1]):
        start, count, first = air.run_start[r], air.run_length[r], air.run_profile[r]
        _run(p, q, start, count, lanes, air.run_offset[r], air.run_weight[r], air.along, first)
    for s in range(air.single_chunk[chunk], air.single_chunk[chunk + 1]):
        base = air.single_cell[s] * lanes
        w = air.weight_table[air.single_row[s]]
        offset = air.single_offset[s]
        for lane in range(lanes):
            total = w[0] * p[base + lane] - q[base + lane]
            for k in range(12):
                total += w[k + 1] * p[base + offset[k] * lanes + lane]
            q[base + lane] = total
    if chunk == 0:
        for s in range(len(air.rest_cell)):
            base = air.rest_cell[s] * lanes
            for lane in range(lanes):
                total = air.rest_centre[s] * p[base + lane] - q[base + lane]
                for k in range(air.rest_pointer[s], air.rest_pointer[s + 1]):
                    total += air.rest_value[k] * p[air.rest_column[k] * lanes + lane]
                q[base + lane] = total


@_phase
def _links(p, q, lanes, links, u, x, dt):
    for k in range(len(links.first)):
        i, j = links.first[k] * lanes, links.second[k] * lanes
        for lane in range(lanes):
            old = u[k, lane]
            new = links.keep[k] * old + links.push[k] * (p[i + lane] - p[j + lane]) - links.pull[k] * x[k, lane]
            u[k, lane] = new
            x[k, lane] += dt * new
            q[i + lane] -= links.into_first[k] * (new - old)
            q[j + lane] += links.into_second[k] * (new - old)


@_phase
def _simple_walls(p, q, lanes, faces, state, first, last, half_dt):
    """Boundary cells with one face of one branch: the bulk of all walls, in one straight loop."""
    cells, strength, kinds, inverse = faces.cell, faces.strength, faces.kind, faces.inverse
    a, b, g, rows = faces.a, faces.b, faces.g, faces.first
    face_v, face_x, cell_sum = state.face_v, state.face_x, state.cell_sum
    for row in range(first, last):
        base, beta, k = cells[row] * lanes, strength[row], rows[kinds[row]]
        for lane in range(lanes):
            now, old, place = p[base + lane], face_v[row, lane], face_x[row, lane]
            past = b[k, lane] * old - g[k, lane] * place
            new = (q[base + lane] + cell_sum[row, lane] - beta * (a[k, lane] * now + past)) * inverse[row, lane]
            q[base + lane] = new
            cell_sum[row, lane] = beta * old
            fresh = a[k, lane] * (new + now) + past
            face_v[row, lane] = fresh
            face_x[row, lane] = place + half_dt * (fresh + old)


@_phase
def _walls(p, q, lanes, faces, state, first, last, half_dt, history, denominator, finish):
    """Boundary cells first <= row < last: the new pressure after eliminating each cell's local faces.

    With `finish` the faces' velocities follow at once. Cells under diaphragms stop before that: `history`
    (row, face, lane) and `denominator` (row, lane) keep what `_finish_walls` needs.
    """
    cells, pointer, strength = faces.cell, faces.pointer, faces.strength
    kinds, slots, firsts, mass = faces.kind, faces.state, faces.first, faces.mass
    coupling, damping, a, b, g = faces.coupling, faces.damping, faces.a, faces.b, faces.g
    face_v, face_x, cell_sum = state.face_v, state.face_x, state.cell_sum
    zero = p[0] * 0
    for row in range(first, last):
        base = cells[row] * lanes
        f0, f1 = pointer[row], pointer[row + 1]
        keep = 0 if finish else row - first
        for lane in range(lanes):
            now = p[base + lane]
            below = zero + 1
            lag = cell_sum[row, lane]
            total = zero
            for f in range(f0, f1):
                kind, beta, slot = kinds[f], strength[f], slots[f]
                rows = firsts[kind]
                v, h = zero, zero
                for m in range(firsts[kind + 1] - rows):
                    old = face_v[slot + m, lane]
                    v += old
                    h += b[rows + m, lane] * old - g[rows + m, lane] * face_x[slot + m, lane]
                y = coupling[kind, lane]
                past = damping[kind, lane] * h + y * mass[kind, lane] * v
                history[keep, f - f0, lane] = past
                total += beta * v
                lag -= beta * (y * now + past)
                below += beta * y
            cell_sum[row, lane] = total
            new = (q[base + lane] + lag) / below
            q[base + lane] = new
            denominator[keep, lane] = below
            if not finish:
                continue
            for f in range(f0, f1):
                kind, slot = kinds[f], slots[f]
                rows = firsts[kind]
                branches = firsts[kind + 1] - rows
                both = new + now
                heavy = mass[kind, lane]
                if heavy != 0:
                    v = zero
                    for m in range(branches):
                        v += face_v[slot + m, lane]
                    both -= heavy * (coupling[kind, lane] * both + history[0, f - f0, lane] - v)
                for m in range(branches):
                    old, place = face_v[slot + m, lane], face_x[slot + m, lane]
                    fresh = a[rows + m, lane] * both + b[rows + m, lane] * old - g[rows + m, lane] * place
                    face_v[slot + m, lane] = fresh
                    face_x[slot + m, lane] = place + half_dt * (fresh + old)


@_phase
def _finish_walls(p, q, lanes, faces, state, first, half_dt, history):
    """Velocities of the local faces of cells under diaphragms, once their new pressure is known."""
    for row in range(first, len(faces.cell)):
        base = faces.cell[row] * lanes
        f0 = faces.pointer[row]
        for lane in range(lanes):
            for f in range(f0, faces.pointer[row + 1]):
                kind, slot = faces.kind[f], faces.state[f]
                rows = faces.first[kind]
                both = q[base + lane] + p[base + lane]
                v = p[0] * 0
                for m in range(faces.first[kind + 1] - rows):
                    v += state.face_v[slot + m, lane]
                past = history[row - first, f - f0, lane]
                both -= faces.mass[kind, lane] * (faces.coupling[kind, lane] * both + past - v)
                for m in range(faces.first[kind + 1] - rows):
                    old, place = state.face_v[slot + m, lane], state.face_x[slot + m, lane]
                    fresh = faces.a[rows + m, lane] * both + faces.b[rows + m, lane] * old
                    fresh -= faces.g[rows + m, lane] * place
                    state.face_v[slot + m, lane] = fresh
                    state.face_x[slot + m, lane] = place + half_dt * (fresh + old)


@_phase
def _ports(p, q, lanes, faces, ports, state, half_dt, port_history, port_denominator):
    """Cells under moving diaphragms: local faces first, then one velocity per port, then back to the cells."""
    free, number, control = faces.free, len(ports.pointer) - 1, ports.control
    _walls(p, q, lanes, faces, state, free, len(faces.cell), half_dt, port_history, port_denominator, False)
    rhs = np.empty(number, dtype=p.dtype)
    change = np.empty(number, dtype=p.dtype)
    for lane in range(lanes):
        for a in range(number):
            for k in range(ports.pointer[a], ports.pointer[a + 1]):
                row = ports.boundary[k]
                base = faces.cell[row] * lanes + lane
                q[base] += ports.strength[k] * state.port_before[a, lane] / port_denominator[row - free, lane]
            v, h = p[0] * 0, p[0] * 0
            for m in range(ports.first[a], ports.first[a + 1]):
                v += state.port_v[m, lane]
                h += ports.b[m, lane] * state.port_v[m, lane] - ports.g[m, lane] * state.port_x[m, lane]
            for m in range(control.size[a]):
                v += control.read[a, m, lane] * state.control_x[a, m, lane]
                h += control.past[a, m, lane] * state.control_x[a, m, lane]
            rhs[a] = ports.damping[a, lane] * h + ports.coupling[a, lane] * ports.mass[a, lane] * v
            state.port_before[a, lane] = v
        for a in range(number):
            for k in range(ports.pointer[a], ports.pointer[a + 1]):
                base = faces.cell[ports.boundary[k]] * lanes + lane
                rhs[a] += ports.coupling[a, lane] * ports.share[k] * (p[base] + q[base])
        for a in range(number):
            velocity = p[0] * 0
            for b in range(number):
                velocity += ports.solve[lane, a, b] * rhs[b]
            for k in range(ports.pointer[a], ports.pointer[a + 1]):
                row = ports.boundary[k]
                base = faces.cell[row] * lanes + lane
                q[base] -= ports.strength[k] * velocity / port_denominator[row - free, lane]
            change[a] = velocity - state.port_before[a, lane]
        _move_ports(p, q, lanes, lane, faces, ports, state, half_dt, change)
    _finish_walls(p, q, lanes, faces, state, free, half_dt, port_history)


@_phase
def _move_ports(p, q, lanes, lane, faces, ports, state, half_dt, change):
    """Branches and electronics of all ports, once the cells' new pressures are known; change : (port,) of velocity."""
    control = ports.control
    fresh_x = np.empty(control.matrix.shape[1], dtype=p.dtype)
    for a in range(len(ports.pointer) - 1):
        both = -ports.mass[a, lane] * change[a]
        for k in range(ports.pointer[a], ports.pointer[a + 1]):
            base = faces.cell[ports.boundary[k]] * lanes + lane
            both += ports.share[k] * (p[base] + q[base])
        for m in range(ports.first[a], ports.first[a + 1]):
            old = state.port_v[m, lane]
            fresh = ports.a[m, lane] * both + ports.b[m, lane] * old - ports.g[m, lane] * state.port_x[m, lane]
            state.port_v[m, lane] = fresh
            state.port_x[m, lane] += half_dt * (fresh + old)
        for m in range(control.size[a]):
            total = control.drive[a, m, lane] * both
            for k in range(control.size[a]):
                total += control.matrix[a, m, k, lane] * state.control_x[a, k, lane]
            fresh_x[m] = total
        for m in range(control.size[a]):
            state.control_x[a, m, lane] = fresh_x[m]


@_phase
def _record(p, lanes, points, out):
    for s in range(len(points.seat_pointer) - 1):
        for lane in range(lanes):
            total = 0.0
            for k in range(points.seat_pointer[s], points.seat_pointer[s + 1]):
                total += points.seat_weight[k] * p[points.seat_cell[k] * lanes + lane]
            out[s, lane] = total


@_phase
def _drive(q, lanes, points, step):
    if step < len(points.signal):
        for lane in range(lanes):
            for k in range(points.source_pointer[lane], points.source_pointer[lane + 1]):
                q[points.source_cell[k] * lanes + lane] += points.source_weight[k] * points.signal[step]


def _advance(state, air, faces, ports, links, points, maps, dt, first, count, out):
    """March `count` steps from step number `first`; out : (sample, seat, lane) float64 receives the seats' pressures.

    The two pressure arrays change places every step; the caller swaps them if `count` is odd.
    """
    lanes = state.p_now.shape[1]
    chunks = len(air.run_chunk) - 1
    even, odd = state.p_now.reshape(-1), state.p_before.reshape(-1)
    half_dt = state.p_now.dtype.type(0.5 * dt)
    step_time = state.p_now.dtype.type(dt)
    real = state.p_now.dtype
    most = 1
    for row in range(len(faces.cell)):
        most = max(most, faces.pointer[row + 1] - faces.pointer[row])
    history = np.zeros((chunks, 1, most, lanes), dtype=real)
    denominator = np.zeros((chunks, 1, lanes), dtype=real)
    tail = len(faces.cell) - faces.free
    port_history = np.zeros((tail, most, lanes), dtype=real)
    port_denominator = np.zeros((tail, lanes), dtype=real)
    size = len(even)
    frequencies = maps.cosine.shape[1]
    kept = 0
    for n in range(count):
        p, q = (even, odd) if n % 2 == 0 else (odd, even)
        step = first + n
        if step % points.every == 0:
            _record(p, lanes, points, out[kept])
            kept += 1
        if frequencies > 0 and step % maps.stride == 0 and step // maps.stride < len(maps.cosine):
            sample = step // maps.stride
            for f in prange(frequencies):
                cosine, sine = maps.cosine[sample, f], maps.sine[sample, f]
                real_sum, imag_sum = state.map_real[f].reshape(-1), state.map_imag[f].reshape(-1)
                for t in range(size):
                    real_sum[t] += cosine * p[t]
                    imag_sum[t] -= sine * p[t]
        for chunk in prange(chunks):
            _air(p, q, lanes, air, chunk)
        _links(p, q, lanes, links, state.link_u, state.link_x, step_time)
        _drive(q, lanes, points, step)
        for chunk in prange(chunks):
            _simple_walls(p, q, lanes, faces, state, faces.simple_chunk[chunk], faces.simple_chunk[chunk + 1], half_dt)
            _walls(
                p, q, lanes, faces, state, faces.chunk[chunk], faces.chunk[chunk + 1], half_dt, history[chunk],
                denominator[chunk], True,
            )  # fmt: skip
        if tail > 0:
            _ports(p, q, lanes, faces, ports, state, half_dt, port_history, port_denominator)


def _copy(function: Any, name: str) -> FunctionType:
    """The same code under another name: the compiler's disk cache tells functions apart by name, not by options."""
    copy = FunctionType(function.__code__, function.__globals__, name, function.__defaults__, function.__closure__)
    copy.__qualname__ = name
    return copy


advance = numba.njit(nogil=True, **_OPTIONS)(_advance)
"""One thread; several may run at once on separate states."""
advance_parallel = numba.njit(parallel=True, **_OPTIONS)(_copy(_advance, "_advance_parallel"))
"""All threads on one state."""


def available_threads() -> int:
    """Threads that a march may use."""
    return int(numba.get_num_threads())
