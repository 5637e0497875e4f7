"""What happens in one special cell of one excitation on a GPU: all its neighbours, impedance links, walls.

`packed` holds all tables and states of it (see `Rare`). `field` holds both pressures: field[here] at step n, and
field[here + turn] at n - 1, which n + 1 replaces.
"""

from __future__ import annotations

import numpy as np
from numba import cuda

from fdtd.kernels.gpu_memory import beside, moved, place, put
from fdtd.kernels.gpu_tables import (
    BRANCHES,
    CELL,
    CELL_SUM,
    CLASSES,
    DT,
    EDGE,
    FACE_BRANCH,
    FACE_KIND,
    FACE_STRENGTH,
    FACE_V,
    FACE_X,
    FIRST,
    HALF_DT,
    LINK,
    LINK_OFFSET,
    LINK_U,
    LINK_X,
    NEAR_OFFSET,
    NEAR_VALUE,
    ONE,
    ROW,
    TOGETHER,
    WIDTH,
    ZERO,
)

device = cuda.jit(device=True)


@device
def at(packed, section, k):
    """Where element k of a section stands; unsigned, so that no check for counting from the end is made."""
    return np.uint64(packed.starts[section] + k)


@device
def number(packed, section):
    """One of the numbers among the starts."""
    return np.int64(packed.starts[section])


@device
def word(packed, section, k):
    """Element k of a section of whole numbers."""
    return np.int64(packed.text[at(packed, section, k)])


@device
def value(packed, section, k):
    """Element k of a section of constants."""
    return packed.values[at(packed, section, k)]


@device
def scalar(packed, which):
    """One of the scalars, in the real type of the simulation."""
    return packed.values[np.uint64(which)]


@device
def near_four(field, here, o, v, packed):
    """What four neighbours add to the cell at `here`; o, v : places of their offsets and values."""
    text, values = packed.text, packed.values
    o0, o1, o2, o3 = beside(text, o, 0, 0), beside(text, o, 1, 0), beside(text, o, 2, 0), beside(text, o, 3, 0)
    total = beside(values, v, 0, 0) * beside(field, here, o0, 0) + beside(values, v, 1, 0) * beside(field, here, o1, 0)
    total += beside(values, v, 2, 0) * beside(field, here, o2, 0)
    return total + beside(values, v, 3, 0) * beside(field, here, o3, 0)


@device
def link_ahead(over, v, k, u, x, apart, packed):
    """(velocity now, velocity next, displacement) of the half link k after those at v, u, x (theory.md, eq. 8);
    over : pressure across."""
    old, gone = beside(packed.memory, u, apart, 0), beside(packed.memory, x, apart, 0)
    new = beside(packed.values, v, 4 * k, 0) * old + beside(packed.values, v, 4 * k + 1, 0) * over
    return old, new - beside(packed.values, v, 4 * k + 2, 0) * gone, gone


@device
def move_four(over, which, ways, v, u, x, packed):
    """Move four half links on; by how much the velocity of each changes.

    over : pressures across; which : numbers from that at v on; ways : of their states from u and x; four of each
    All are read before any is written, so that their ways to memory overlap.
    """
    memory, dt = packed.memory, scalar(packed, DT)
    old0, new0, x0 = link_ahead(over[0], v, which[0], u, x, ways[0], packed)
    old1, new1, x1 = link_ahead(over[1], v, which[1], u, x, ways[1], packed)
    old2, new2, x2 = link_ahead(over[2], v, which[2], u, x, ways[2], packed)
    old3, new3, x3 = link_ahead(over[3], v, which[3], u, x, ways[3], packed)
    put(memory, u, ways[0], new0)
    put(memory, u, ways[1], new1)
    put(memory, u, ways[2], new2)
    put(memory, u, ways[3], new3)
    put(memory, x, ways[0], x0 + dt * new0)
    put(memory, x, ways[1], x1 + dt * new1)
    put(memory, x, ways[2], x2 + dt * new2)
    put(memory, x, ways[3], x3 + dt * new3)
    return new0 - old0, new1 - old1, new2 - old2, new3 - old3


@device
def links_four(field, here, now, o, v, u, x, width, packed):
    """What four half links take away; they are moved on. o, v, u, x : places of their offsets, values and states."""
    text, values = packed.text, packed.values
    o0, o1, o2, o3 = beside(text, o, 0, 0), beside(text, o, 1, 0), beside(text, o, 2, 0), beside(text, o, 3, 0)
    p0, p1 = beside(field, here, o0, 0), beside(field, here, o1, 0)
    p2, p3 = beside(field, here, o2, 0), beside(field, here, o3, 0)
    i0, i1 = beside(values, v, 3, 0), beside(values, v, 7, 0)
    i2, i3 = beside(values, v, 11, 0), beside(values, v, 15, 0)
    over, ways = (now - p0, now - p1, now - p2, now - p3), (0, width, 2 * width, 3 * width)
    change = move_four(over, (0, 1, 2, 3), ways, v, u, x, packed)
    return i0 * change[0] + i1 * change[1] + (i2 * change[2] + i3 * change[3])


@device
def neighbours(field, here, turn, cell, excitation, width, packed):
    """The new pressure of a special cell from its neighbours and impedance links; here : element of p(n)."""
    near, link = word(packed, CELL, 6 * cell + 1), word(packed, CELL, 6 * cell + 3)
    last_near, last_link = word(packed, CELL, 6 * cell + 7), word(packed, CELL, 6 * cell + 9)
    now, total, spot = field[np.uint64(here)], -field[np.uint64(here + turn)], place(field, here)
    o, v = place(packed.text, at(packed, NEAR_OFFSET, near)), place(packed.values, at(packed, NEAR_VALUE, near))
    for _ in range(near, last_near, TOGETHER):
        total += near_four(field, spot, o, v, packed)
        o, v = moved(packed.text, o, TOGETHER), moved(packed.values, v, TOGETHER)
    o, v = place(packed.text, at(packed, LINK_OFFSET, link)), place(packed.values, at(packed, LINK, 4 * link))
    u = place(packed.memory, at(packed, LINK_U, link * width + excitation))
    x = place(packed.memory, at(packed, LINK_X, link * width + excitation))
    for _ in range(link, last_link, TOGETHER):
        total -= links_four(field, spot, now, o, v, u, x, width, packed)
        o, v = moved(packed.text, o, TOGETHER), moved(packed.values, v, 4 * TOGETHER)
        u, x = moved(packed.memory, u, TOGETHER * width), moved(packed.memory, x, TOGETHER * width)
    return total


@device
def links_two(field, here, now, then, o, v, u, x, width, packed):
    """The same of two half links in two excitations, half of the width apart: what they take away in each."""
    text, values, apart = packed.text, packed.values, width // 2
    o0, o1 = beside(text, o, 0, 0), beside(text, o, 1, 0)
    p0, p1 = beside(field, here, o0, 0), beside(field, here, o1, 0)
    q0, q1 = beside(field, here, o0, apart), beside(field, here, o1, apart)
    i0, i1 = beside(values, v, 3, 0), beside(values, v, 7, 0)
    over, ways = (now - p0, now - p1, then - q0, then - q1), (0, width, apart, width + apart)
    change = move_four(over, (0, 1, 0, 1), ways, v, u, x, packed)
    return i0 * change[0] + i1 * change[1], i0 * change[2] + i1 * change[3]


@device
def near_two(field, here, o, v, apart, packed):
    """What four neighbours add in two excitations."""
    text, values = packed.text, packed.values
    o0, o1, o2, o3 = (beside(text, o, 0, 0), beside(text, o, 1, 0), beside(text, o, 2, 0), beside(text, o, 3, 0))
    v0, v1, v2, v3 = (
        beside(values, v, 0, 0),
        beside(values, v, 1, 0),
        beside(values, v, 2, 0),
        beside(values, v, 3, 0),
    )
    one = v0 * beside(field, here, o0, 0) + v1 * beside(field, here, o1, 0)
    two = v0 * beside(field, here, o0, apart) + v1 * beside(field, here, o1, apart)
    one += v2 * beside(field, here, o2, 0) + v3 * beside(field, here, o3, 0)
    return one, two + v2 * beside(field, here, o2, apart) + v3 * beside(field, here, o3, apart)


@device
def neighbours_two(field, here, turn, cell, excitation, width, packed):
    """As `neighbours`, in two excitations."""
    near, link = word(packed, CELL, 6 * cell + 1), word(packed, CELL, 6 * cell + 3)
    last_near, last_link = word(packed, CELL, 6 * cell + 7), word(packed, CELL, 6 * cell + 9)
    apart, spot = width // 2, place(field, here)
    there = moved(field, spot, turn)
    now, then = beside(field, spot, 0, 0), beside(field, spot, 0, apart)
    total, other = -beside(field, there, 0, 0), -beside(field, there, 0, apart)
    o, v = place(packed.text, at(packed, NEAR_OFFSET, near)), place(packed.values, at(packed, NEAR_VALUE, near))
    for _ in range(near, last_near, TOGETHER):
        more, further = near_two(field, spot, o, v, apart, packed)
        total, other = total + more, other + further
        o, v = moved(packed.text, o, TOGETHER), moved(packed.values, v, TOGETHER)
    o, v = place(packed.text, at(packed, LINK_OFFSET, link)), place(packed.values, at(packed, LINK, 4 * link))
    u = place(packed.memory, at(packed, LINK_U, link * width + excitation))
    x = place(packed.memory, at(packed, LINK_X, link * width + excitation))
    for _ in range(link, last_link, 2):
        more, further = links_two(field, spot, now, then, o, v, u, x, width, packed)
        total, other = total - more, other - further
        o, v = moved(packed.text, o, 2), moved(packed.values, v, 8)
        u, x = moved(packed.memory, u, 2 * width), moved(packed.memory, x, 2 * width)
    return total, other


@device
def face_past(face, slot, excitation, width, packed):
    """(what the face's velocity will be without pressure, velocity now, branches) of a face with states from `slot`."""
    memory, kind = packed.memory, word(packed, FACE_KIND, face)
    first = word(packed, FIRST, kind)
    branches = word(packed, FIRST, kind + 1) - first
    v = h = scalar(packed, ZERO)
    for m in range(branches):
        k = 3 * (first + m) * width + excitation
        old = memory[at(packed, FACE_V, (slot + m) * width + excitation)]
        v += old
        h += value(packed, BRANCHES, k + width) * old
        h -= value(packed, BRANCHES, k + 2 * width) * memory[at(packed, FACE_X, (slot + m) * width + excitation)]
    k = 3 * kind * width + excitation
    past = value(packed, CLASSES, k + width) * h + value(packed, CLASSES, k) * value(packed, CLASSES, k + 2 * width) * v
    return past, v, branches


@device
def eliminate(total, now, row, excitation, packed):
    """(new pressure, denominator) of a boundary cell with any faces, before anything else moves in it
    (theory.md, eq. 12)."""
    memory, width = packed.memory, number(packed, WIDTH)
    slot, first = word(packed, ROW, 4 * row + 1), word(packed, ROW, 4 * row + 2)
    kept = at(packed, CELL_SUM, row * width + excitation)
    lag, below, sum_now = memory[kept], scalar(packed, ONE), scalar(packed, ZERO)
    for face in range(first, first + word(packed, ROW, 4 * row + 3)):
        past, v, branches = face_past(face, slot, excitation, width, packed)
        beta = value(packed, FACE_STRENGTH, face)
        y = value(packed, CLASSES, 3 * word(packed, FACE_KIND, face) * width + excitation)
        sum_now += beta * v
        lag -= beta * (y * now + past)
        below += beta * y
        slot += branches
    memory[kept] = sum_now
    return (total + lag) / below, below


@device
def move_faces(new, now, row, excitation, packed):
    """Velocities of the faces of a boundary cell, once its new pressure is known."""
    width = number(packed, WIDTH)
    slot, first = word(packed, ROW, 4 * row + 1), word(packed, ROW, 4 * row + 2)
    for face in range(first, first + word(packed, ROW, 4 * row + 3)):
        past, v, branches = face_past(face, slot, excitation, width, packed)
        kind = word(packed, FACE_KIND, face)
        k = 3 * kind * width + excitation
        both = new + now
        both -= value(packed, CLASSES, k + 2 * width) * (value(packed, CLASSES, k) * both + past - v)
        for m in range(branches):
            k = 3 * (word(packed, FIRST, kind) + m) * width + excitation
            move_branch(both, BRANCHES, k, FACE_V, FACE_X, slot + m, excitation, width, packed)
        slot += branches


@device
def move_branch(both, coefficients, k, velocities, places, slot, excitation, width, packed):
    """One branch of a face or port; both : Pa, before and after; coefficients, velocities, places : sections."""
    memory = packed.memory
    v, x = at(packed, velocities, slot * width + excitation), at(packed, places, slot * width + excitation)
    old, gone = memory[v], memory[x]
    fresh = value(packed, coefficients, k) * both + value(packed, coefficients, k + width) * old
    fresh -= value(packed, coefficients, k + 2 * width) * gone
    memory[v] = fresh
    memory[x] = gone + scalar(packed, HALF_DT) * (fresh + old)


@device
def face_in_edge(now, face, slot, excitation, packed):
    """(strength, admittance, past, velocity now, displacement) of a face of one branch."""
    width = number(packed, WIDTH)
    k, here = 3 * word(packed, FACE_BRANCH, face) * width + excitation, slot * width + excitation
    old, x = packed.memory[at(packed, FACE_V, here)], packed.memory[at(packed, FACE_X, here)]
    past = value(packed, BRANCHES, k + width) * old - value(packed, BRANCHES, k + 2 * width) * x
    return value(packed, FACE_STRENGTH, face), value(packed, BRANCHES, k), past, old, x


@device
def edge_wall(total, now, row, excitation, packed):
    """The new pressure of a boundary cell whose two or three faces have one branch each; the faces moved on.

    Two faces stand in the place of three, the third without strength.
    """
    memory, width, half_dt = packed.memory, number(packed, WIDTH), scalar(packed, HALF_DT)
    slot, face = word(packed, ROW, 4 * row + 1), word(packed, ROW, 4 * row + 2)
    kept = at(packed, CELL_SUM, row * width + excitation)
    s0, a0, past0, v0, x0 = face_in_edge(now, face, slot, excitation, packed)
    s1, a1, past1, v1, x1 = face_in_edge(now, face + 1, slot + 1, excitation, packed)
    s2, a2, past2, v2, x2 = face_in_edge(now, face + 2, slot + 2, excitation, packed)
    total += memory[kept] - s0 * (a0 * now + past0) - s1 * (a1 * now + past1) - s2 * (a2 * now + past2)
    new = total / (scalar(packed, ONE) + s0 * a0 + s1 * a1 + s2 * a2)
    memory[kept] = s0 * v0 + s1 * v1 + s2 * v2
    v, x, one = (
        at(packed, FACE_V, slot * width + excitation),
        at(packed, FACE_X, slot * width + excitation),
        np.uint64(width),
    )
    fresh0, fresh1 = a0 * (new + now) + past0, a1 * (new + now) + past1
    fresh2 = a2 * (new + now) + past2
    memory[v], memory[v + one], memory[v + one + one] = fresh0, fresh1, fresh2
    memory[x], memory[x + one] = x0 + half_dt * (fresh0 + v0), x1 + half_dt * (fresh1 + v1)
    memory[x + one + one] = x2 + half_dt * (fresh2 + v2)
    return new


@device
def any_wall(total, now, row, excitation, packed):
    """The new pressure of a special boundary cell; its faces moved on."""
    if word(packed, ROW, 4 * row) == EDGE:
        return edge_wall(total, now, row, excitation, packed)
    total, _ = eliminate(total, now, row, excitation, packed)
    move_faces(total, now, row, excitation, packed)
    return total


@device
def special_cell(field, origin, turn, cell, excitation, width, packed):
    """All of a special cell that is under no port; origin : element of field where p(n) begins."""
    here = origin + word(packed, CELL, 6 * cell) * width + excitation
    row = word(packed, CELL, 6 * cell + 2)
    total = neighbours(field, here, turn, cell, excitation, width, packed)
    if row >= 0:
        total = any_wall(total, field[np.uint64(here)], row, excitation, packed)
    field[np.uint64(here + turn)] = total


@device
def special_two(field, origin, turn, cell, excitation, width, packed):
    """The same in two excitations, half of the width apart."""
    here, apart = origin + word(packed, CELL, 6 * cell) * width + excitation, width // 2
    row = word(packed, CELL, 6 * cell + 2)
    total, other = neighbours_two(field, here, turn, cell, excitation, width, packed)
    if row >= 0:
        total = any_wall(total, field[np.uint64(here)], row, excitation, packed)
        other = any_wall(other, field[np.uint64(here + apart)], row, excitation + apart, packed)
    field[np.uint64(here + turn)] = total
    field[np.uint64(here + turn + apart)] = other
