"""Walls: each boundary cell's faces are eliminated to a scalar equation for its new pressure, then its faces move.

The rule of a branch stands once, in the four functions at the top; plain faces, corners and diaphragms all use it.
"""

from __future__ import annotations

from fdtd.kernels.compiled import inline, steady
from fdtd.kernels.compiled import place as at
from fdtd.kernels.vectors import copy_vectors, whole_vector


@inline
def alone(b, g, old, place):
    """What the velocity of a branch would be without pressure: b v - g x (theory.md, eq. 10)."""
    return b * old - g * place


@inline
def moved(a, both, h):
    """New velocity of a branch: a (p+ + p) and what it would have been `alone` (theory.md, eq. 10)."""
    return a * both + h


@inline
def behind(damping, coupling, mass, h, v):
    """What the sum of branches behind a common mass would be without pressure; h : sum of `alone`, v : of v
    (theory.md, eq. 11)."""
    return damping * h + coupling * mass * v


@inline
def before_branches(both, coupling, mass, past, v):
    """p+ + p as the branches see it, behind the common mass (theory.md, eq. 13); past : as from `behind`."""
    return both - mass * (coupling * both + past - v)


@inline
def _gather(p, cell, beside, first, rows, width, into):
    """Pressures of some cells; beside : how many of the cells from each on follow each other in p too."""
    i, vector = at(0), whole_vector(p)
    if width == 1 and beside[first] == 1:  # most likely none of the block follow each other: a straight loop is faster
        for i in range(rows):
            into[i] = p[at(cell[first + i])]
        return
    while i < rows:
        count, base = min(at(beside[first + i]), rows - i), at(cell[first + i]) * width
        if count * width >= vector:
            copy_vectors(into, i * width, p, base, count * width)
        else:
            for t in range(count * width):
                into[i * width + t] = p[base + t]
        i += count


@inline
def _scatter(q, cell, beside, first, rows, width, new):
    """The counterpart of `_gather`."""
    i, vector = at(0), whole_vector(q)
    if width == 1 and beside[first] == 1:
        for i in range(rows):
            q[at(cell[first + i])] = new[i]
        return
    while i < rows:
        count, base = min(at(beside[first + i]), rows - i), at(cell[first + i]) * width
        if count * width >= vector:
            copy_vectors(q, base, new, i * width, count * width)
        else:
            for t in range(count * width):
                q[base + t] = new[i * width + t]
        i += count


@steady
def advance_simple(p, q, excitations, faces, state, tile, half_dt, now, new):
    """Cells with one face of one branch, in blocks of like faces: gathered, moved in one straight loop, put back
    (theory.md, eq. 12).

    now, new : scratch, as long as a row of `faces.block_table`
    """
    face_v, face_x, sums = state.face_v.reshape(-1), state.face_x.reshape(-1), state.cell_sum.reshape(-1)
    table = faces.block_table
    together = table.shape[2] // excitations
    for block in range(faces.block_tile[tile], faces.block_tile[tile + 1]):
        k, beta = at(faces.block_kind[block]), faces.block_strength[block]
        last = faces.block_first[block + 1]
        for first in range(faces.block_first[block], last, together):
            rows = at(min(together, last - first))
            width = at(excitations)
            _gather(p, faces.cell, faces.beside, at(first), rows, width, now)
            _gather(q, faces.cell, faces.beside, at(first), rows, width, new)
            start = at(first * excitations)
            for t in range(rows * width):
                old, x = face_v[start + t], face_x[start + t]
                h = alone(table[k, 1, t], table[k, 2, t], old, x)
                following = new[t] + sums[start + t] - beta * moved(table[k, 0, t], now[t], h)
                following *= table[k, 3, t]
                fresh = moved(table[k, 0, t], following + now[t], h)
                new[t] = following
                sums[start + t] = beta * old
                face_v[start + t] = fresh
                face_x[start + t] = x + half_dt * (fresh + old)
            _scatter(q, faces.cell, faces.beside, at(first), rows, width, new)


@steady
def advance_edges(p, q, excitations, faces, state, tile, half_dt, work):
    """Cells with several faces of one branch each (along edges, in corners), in blocks of like cells.

    work : (4, width of `faces.edge_table`) scratch; a block's numbers stand by cell, face and excitation
    """
    table, width = faces.edge_table, at(excitations)
    for block in range(faces.edge_tile[tile], faces.edge_tile[tile + 1]):
        k, number = at(faces.edge_kind[block]), at(faces.edge_faces[block])
        together, last = table.shape[2] // (excitations * faces.edge_faces[block]), faces.edge_first[block + 1]
        for first in range(faces.edge_first[block], last, together):
            rows = at(min(together, last - first))
            if width == 1 and number == 2:  # known numbers: the loops over them vanish
                _advance_alike(p, q, faces, state, half_dt, work, k, at(first), rows, at(2), at(1))
            else:
                _advance_alike(p, q, faces, state, half_dt, work, k, at(first), rows, number, width)


@inline
def _advance_alike(p, q, faces, state, half_dt, work, k, first, rows, number, width):
    """Some cells of one block from row `first` on, of `number` faces each (theory.md, eq. 12)."""
    face_v, face_x, sums = state.face_v.reshape(-1), state.face_x.reshape(-1), state.cell_sum.reshape(-1)
    table, slot = faces.edge_table, at(faces.state[faces.pointer[first]]) * width
    for i in range(rows):
        base = at(faces.cell[first + i]) * width
        for f in range(number):
            for excitation in range(width):
                work[0, (i * number + f) * width + excitation] = p[base + excitation]
    for t in range(rows * number * width):
        old = face_v[slot + t]
        h = alone(table[k, 1, t], table[k, 2, t], old, face_x[slot + t])
        work[1, t] = table[k, 3, t] * moved(table[k, 0, t], work[0, t], h)
        work[2, t], work[3, t] = table[k, 3, t] * old, h
    for i in range(rows):
        base, row = at(faces.cell[first + i]) * width, (first + i) * width
        for excitation in range(width):
            t = i * number * width + excitation
            lag, total = work[1, t], work[2, t]
            for f in range(at(1), number):
                lag += work[1, t + f * width]
                total += work[2, t + f * width]
            new = (q[base + excitation] + sums[row + excitation] - lag) * table[k, 4, i * width + excitation]
            q[base + excitation], sums[row + excitation] = new, total
            for f in range(number):
                work[0, t + f * width] += new
    for t in range(rows * number * width):
        old, fresh = face_v[slot + t], moved(table[k, 0, t], work[0, t], work[3, t])
        face_v[slot + t] = fresh
        face_x[slot + t] += half_dt * (fresh + old)


@steady
def solve_cells(p, q, excitations, faces, state, first_row, last_row, history, velocity, below, lag):
    """New pressures of some boundary cells after eliminating each one's local faces (theory.md, eq. 12).

    history, velocity (cell, face, excitation) : what `move_faces` needs; below (cell, excitation) : what the pressure
    was divided by; lag : (excitation,) scratch. Tables pass through calls for many cells at once: cell by cell that
    costs more than the arithmetic.
    """
    total, zero, width = state.cell_sum, p[0] * 0, at(excitations)
    for row in range(at(first_row), at(last_row)):
        keep, base = row - at(first_row), at(faces.cell[row]) * width
        f0, f1 = at(faces.pointer[row]), at(faces.pointer[row + at(1)])
        for excitation in range(width):
            lag[excitation], below[keep, excitation] = q[base + excitation] + total[row, excitation], zero + 1
            total[row, excitation] = zero
        for f in range(f0, f1):
            kind, beta, slot, face = at(faces.kind[f]), faces.strength[f], at(faces.state[f]), f - f0
            rows = at(faces.first[kind])
            branches = at(faces.first[kind + at(1)]) - rows
            for excitation in range(width):
                v, h = zero, zero
                for m in range(branches):
                    old = state.face_v[slot + m, excitation]
                    v += old
                    h += alone(
                        faces.b[rows + m, excitation],
                        faces.g[rows + m, excitation],
                        old,
                        state.face_x[slot + m, excitation],
                    )
                coupling = faces.coupling[kind, excitation]
                past = behind(faces.damping[kind, excitation], coupling, faces.mass[kind, excitation], h, v)
                velocity[keep, face, excitation], history[keep, face, excitation] = v, past
                total[row, excitation] += beta * v
                lag[excitation] -= beta * moved(coupling, p[base + excitation], past)
                below[keep, excitation] += beta * coupling
        for excitation in range(width):
            q[base + excitation] = lag[excitation] / below[keep, excitation]


@steady
def move_faces(p, q, excitations, faces, state, first_row, last_row, half_dt, history, velocity):
    """Velocities of the local faces of some cells, once their new pressures are known."""
    width = at(excitations)
    for row in range(at(first_row), at(last_row)):
        keep, base, f0 = row - at(first_row), at(faces.cell[row]) * width, at(faces.pointer[row])
        for f in range(f0, at(faces.pointer[row + at(1)])):
            kind, slot, face = at(faces.kind[f]), at(faces.state[f]), f - f0
            rows = at(faces.first[kind])
            branches = at(faces.first[kind + at(1)]) - rows
            for excitation in range(width):
                both = before_branches(
                    q[base + excitation] + p[base + excitation],
                    faces.coupling[kind, excitation],
                    faces.mass[kind, excitation],
                    history[keep, face, excitation],
                    velocity[keep, face, excitation],
                )
                for m in range(branches):
                    old, place = state.face_v[slot + m, excitation], state.face_x[slot + m, excitation]
                    h = alone(faces.b[rows + m, excitation], faces.g[rows + m, excitation], old, place)
                    fresh = moved(faces.a[rows + m, excitation], both, h)
                    state.face_v[slot + m, excitation] = fresh
                    state.face_x[slot + m, excitation] = place + half_dt * (fresh + old)


@steady
def advance_general(p, q, excitations, faces, state, tile, half_dt, history, velocity, below, lag):
    """Cells of which few are alike or with faces of several branches, a few at a time."""
    some = len(history)
    for first in range(faces.tile[tile], faces.tile[tile + 1], some):
        last = min(first + some, faces.tile[tile + 1])
        solve_cells(p, q, excitations, faces, state, first, last, history, velocity, below, lag)
        move_faces(p, q, excitations, faces, state, first, last, half_dt, history, velocity)
