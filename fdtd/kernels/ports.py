"""Moving diaphragms: faces that move as one, in a small dense system per excitation, with the electronics of active
ones."""

from __future__ import annotations

import numpy as np

from fdtd.kernels.compiled import phase
from fdtd.kernels.walls import alone, behind, move_faces, moved, solve_cells


@phase
def advance_ports(p, q, excitations, faces, ports, state, half_dt, scratch):
    """Cells under moving diaphragms: local faces first, then one velocity per port, then back to the cells
    (theory.md, eq. 17)."""
    free, number, control = faces.free, len(ports.pointer) - 1, ports.control
    last, below = len(faces.cell), scratch.below
    solve_cells(p, q, excitations, faces, state, free, last, scratch)
    rhs = np.empty(number, dtype=p.dtype)
    change = np.empty(number, dtype=p.dtype)
    for excitation in range(excitations):
        for a in range(number):
            for k in range(ports.pointer[a], ports.pointer[a + 1]):
                row = ports.boundary[k]
                base = faces.cell[row] * excitations + excitation
                q[base] += ports.strength[k] * state.port_before[a, excitation] / below[row - free, excitation]
            v, h = p[0] * 0, p[0] * 0
            for m in range(ports.first[a], ports.first[a + 1]):
                v += state.port_v[m, excitation]
                h += alone(
                    ports.b[m, excitation],
                    ports.g[m, excitation],
                    state.port_v[m, excitation],
                    state.port_x[m, excitation],
                )
            for m in range(control.size[a]):
                v += control.read[a, m, excitation] * state.control_x[a, m, excitation]
                h += control.past[a, m, excitation] * state.control_x[a, m, excitation]
            rhs[a] = behind(
                ports.damping[a, excitation], ports.coupling[a, excitation], ports.mass[a, excitation], h, v
            )
            state.port_before[a, excitation] = v
        for a in range(number):
            for k in range(ports.pointer[a], ports.pointer[a + 1]):
                base = faces.cell[ports.boundary[k]] * excitations + excitation
                rhs[a] += ports.coupling[a, excitation] * ports.share[k] * (p[base] + q[base])
        for a in range(number):
            velocity = p[0] * 0
            for b in range(number):
                velocity += ports.solve[excitation, a, b] * rhs[b]
            for k in range(ports.pointer[a], ports.pointer[a + 1]):
                row = ports.boundary[k]
                base = faces.cell[row] * excitations + excitation
                q[base] -= ports.strength[k] * velocity / below[row - free, excitation]
            change[a] = velocity - state.port_before[a, excitation]
        _move_ports(p, q, excitations, excitation, faces, ports, state, half_dt, change)
    move_faces(p, q, excitations, faces, state, free, last, half_dt, scratch)


@phase
def _move_ports(p, q, excitations, excitation, faces, ports, state, half_dt, change):
    """Branches and electronics of all ports, once the cells' new pressures are known (theory.md, eq. 10, 13
    and 18); change : (port,) of velocity."""
    control = ports.control
    fresh_x = np.empty(control.matrix.shape[1], dtype=p.dtype)
    for a in range(len(ports.pointer) - 1):
        both = -ports.mass[a, excitation] * change[a]
        for k in range(ports.pointer[a], ports.pointer[a + 1]):
            base = faces.cell[ports.boundary[k]] * excitations + excitation
            both += ports.share[k] * (p[base] + q[base])
        for m in range(ports.first[a], ports.first[a + 1]):
            old, place = state.port_v[m, excitation], state.port_x[m, excitation]
            fresh = moved(
                ports.a[m, excitation], both, alone(ports.b[m, excitation], ports.g[m, excitation], old, place)
            )
            state.port_v[m, excitation] = fresh
            state.port_x[m, excitation] = place + half_dt * (fresh + old)
        for m in range(control.size[a]):
            total = control.drive[a, m, excitation] * both
            for k in range(control.size[a]):
                total += control.matrix[a, m, k, excitation] * state.control_x[a, k, excitation]
            fresh_x[m] = total
        for m in range(control.size[a]):
            state.control_x[a, m, excitation] = fresh_x[m]
