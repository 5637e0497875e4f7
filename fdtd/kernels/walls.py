"""Walls: each boundary cell's faces are eliminated to a scalar equation for its new pressure, then its faces move.

The rule of a branch stands once, in the four functions at the top; plain faces, corners and diaphragms all use it. The
equation of a cell (theory.md, eq. 12) stands in `solve_cells` for any branches; `_move` and `_advance_alike` are the
same for one branch a face, packed in blocks. Its coefficients are made in `simulation/wall_tables.py`.
"""

from __future__ import annotations

from fdtd.kernels.compiled import inline, steady
from fdtd.kernels.compiled import place as at


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
def _copy(to, place, source, start, width):
    """The first `width` numbers from `start` on; eight are read before any is written, so that they become a vector."""
    t = at(0)
    while t + at(8) <= width:
        s, d = start + t, place + t
        a, b, c, d0 = source[s], source[s + at(1)], source[s + at(2)], source[s + at(3)]
        e, f, g, h = source[s + at(4)], source[s + at(5)], source[s + at(6)], source[s + at(7)]
        to[d], to[d + at(1)], to[d + at(2)], to[d + at(3)] = a, b, c, d0
        to[d + at(4)], to[d + at(5)], to[d + at(6)], to[d + at(7)] = e, f, g, h
        t += at(8)
    while t < width:
        to[place + t] = source[start + t]
        t += at(1)


@inline
def _gather(p, cell, first, rows, width, into):
    """Pressures of some cells."""
    for i in range(rows):
        _copy(into, i * width, p, at(cell[first + i]) * width, width)


@inline
def _scatter(q, cell, first, rows, width, new):
    """The counterpart of `_gather`."""
    for i in range(rows):
        _copy(q, at(cell[first + i]) * width, new, i * width, width)


@inline
def _move(face_v, face_x, sums, table, k, beta, half_dt, now, new, start, count):
    """`count` faces of one branch each and their cells (theory.md, eq. 12)."""
    for t in range(count):
        old, x = face_v[start + t], face_x[start + t]
        h = alone(table[k, 1, t], table[k, 2, t], old, x)
        following = new[t] + sums[start + t] - beta * moved(table[k, 0, t], now[t], h)
        following *= table[k, 3, t]
        fresh = moved(table[k, 0, t], following + now[t], h)
        new[t] = following
        sums[start + t] = beta * old
        face_v[start + t] = fresh
        face_x[start + t] = x + half_dt * (fresh + old)


@inline
def _advance_block(p, q, faces, state, half_dt, now, new, k, beta, first, rows, width):
    """Some like faces from row `first` on: gathered, moved in one straight loop, put back."""
    _gather(p, faces.cell, first, rows, width, now)
    _gather(q, faces.cell, first, rows, width, new)
    face_v, face_x, sums = state.face_v.reshape(-1), state.face_x.reshape(-1), state.cell_sum.reshape(-1)
    _move(face_v, face_x, sums, faces.block_table, k, beta, half_dt, now, new, first * width, rows * width)
    _scatter(q, faces.cell, first, rows, width, new)


@steady
def advance_simple(p, q, excitations, faces, state, tile, half_dt, now, new):
    """Cells with one face of one branch, in blocks of like faces (theory.md, eq. 12).

    now, new : scratch, as long as a row of `faces.block_table`
    """
    together, width = faces.block_table.shape[2] // excitations, at(excitations)
    for block in range(faces.block_tile[tile], faces.block_tile[tile + 1]):
        k, beta = at(faces.block_kind[block]), faces.block_strength[block]
        last = faces.block_first[block + 1]
        for start in range(faces.block_first[block], last, together):
            rows, first = at(min(together, last - start)), at(start)
            if width == 1:  # known numbers: the loops over them vanish, or become vectors
                _advance_block(p, q, faces, state, half_dt, now, new, k, beta, first, rows, at(1))
            elif width == 8:
                _advance_block(p, q, faces, state, half_dt, now, new, k, beta, first, rows, at(8))
            else:
                _advance_block(p, q, faces, state, half_dt, now, new, k, beta, first, rows, width)


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
def solve_cells(p, q, excitations, faces, state, first_row, last_row, scratch):
    """New pressures of some boundary cells after eliminating each one's local faces (theory.md, eq. 12).

    scratch : keeps what `move_faces` needs, and what the pressure was divided by. Tables pass through calls for many
    cells at once: cell by cell that costs more than the arithmetic.
    """
    total, zero, width = state.cell_sum, p[0] * 0, at(excitations)
    history, velocity, below, lag = scratch.history, scratch.velocity, scratch.below, scratch.lag
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
def move_faces(p, q, excitations, faces, state, first_row, last_row, half_dt, scratch):
    """Velocities of the local faces of some cells, once their new pressures are known."""
    width, history, velocity = at(excitations), scratch.history, scratch.velocity
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
def advance_general(p, q, excitations, faces, state, tile, half_dt, scratch):
    """Cells of which few are alike or with faces of several branches, a few at a time."""
    some = len(scratch.history)
    for first in range(faces.tile[tile], faces.tile[tile + 1], some):
        last = min(first + some, faces.tile[tile + 1])
        solve_cells(p, q, excitations, faces, state, first, last, scratch)
        move_faces(p, q, excitations, faces, state, first, last, half_dt, scratch)
