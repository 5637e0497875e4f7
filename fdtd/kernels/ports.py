"""Moving diaphragms: faces that move as one, in a small dense system per lane, with the electronics of active ones."""

from __future__ import annotations

import numpy as np

from fdtd.kernels.compiled import phase
from fdtd.kernels.walls import alone, behind, move_faces, moved, solve_cells


@phase
def advance_ports(p, q, lanes, faces, ports, state, half_dt, history, velocities, below, lag):
    """Cells under moving diaphragms: local faces first, then one velocity per port, then back to the cells
    (theory.md, eq. 17).

    history, velocities (cell, face, lane), below (cell, lane), lag (lane,) : scratch
    """
    free, number, control = faces.free, len(ports.pointer) - 1, ports.control
    last = len(faces.cell)
    solve_cells(p, q, lanes, faces, state, free, last, history, velocities, below, lag)
    rhs = np.empty(number, dtype=p.dtype)
    change = np.empty(number, dtype=p.dtype)
    for lane in range(lanes):
        for a in range(number):
            for k in range(ports.pointer[a], ports.pointer[a + 1]):
                row = ports.boundary[k]
                base = faces.cell[row] * lanes + lane
                q[base] += ports.strength[k] * state.port_before[a, lane] / below[row - free, lane]
            v, h = p[0] * 0, p[0] * 0
            for m in range(ports.first[a], ports.first[a + 1]):
                v += state.port_v[m, lane]
                h += alone(ports.b[m, lane], ports.g[m, lane], state.port_v[m, lane], state.port_x[m, lane])
            for m in range(control.size[a]):
                v += control.read[a, m, lane] * state.control_x[a, m, lane]
                h += control.past[a, m, lane] * state.control_x[a, m, lane]
            rhs[a] = behind(ports.damping[a, lane], ports.coupling[a, lane], ports.mass[a, lane], h, v)
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
                q[base] -= ports.strength[k] * velocity / below[row - free, lane]
            change[a] = velocity - state.port_before[a, lane]
        _move_ports(p, q, lanes, lane, faces, ports, state, half_dt, change)
    move_faces(p, q, lanes, faces, state, free, last, half_dt, history, velocities)


@phase
def _move_ports(p, q, lanes, lane, faces, ports, state, half_dt, change):
    """Branches and electronics of all ports, once the cells' new pressures are known (theory.md, eq. 10, 13
    and 18); change : (port,) of velocity."""
    control = ports.control
    fresh_x = np.empty(control.matrix.shape[1], dtype=p.dtype)
    for a in range(len(ports.pointer) - 1):
        both = -ports.mass[a, lane] * change[a]
        for k in range(ports.pointer[a], ports.pointer[a + 1]):
            base = faces.cell[ports.boundary[k]] * lanes + lane
            both += ports.share[k] * (p[base] + q[base])
        for m in range(ports.first[a], ports.first[a + 1]):
            old, place = state.port_v[m, lane], state.port_x[m, lane]
            fresh = moved(ports.a[m, lane], both, alone(ports.b[m, lane], ports.g[m, lane], old, place))
            state.port_v[m, lane] = fresh
            state.port_x[m, lane] = place + half_dt * (fresh + old)
        for m in range(control.size[a]):
            total = control.drive[a, m, lane] * both
            for k in range(control.size[a]):
                total += control.matrix[a, m, k, lane] * state.control_x[a, k, lane]
            fresh_x[m] = total
        for m in range(control.size[a]):
            state.control_x[a, m, lane] = fresh_x[m]
