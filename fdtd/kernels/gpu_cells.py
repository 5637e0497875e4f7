"""What happens in one special cell of one lane on a graphics card: all its neighbours, loose links, walls.

`rare` holds all tables and states of it (see `Rare`). `field` holds both pressures: field[here] at step n, and
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
def at(rare, section, k):
    """Where element k of a section stands; unsigned, so that no check for counting from the end is made."""
    return np.uint64(rare.starts[section] + k)


@device
def number(rare, section):
    """One of the numbers among the starts."""
    return np.int64(rare.starts[section])


@device
def word(rare, section, k):
    """Element k of a section of whole numbers."""
    return np.int64(rare.words[at(rare, section, k)])


@device
def value(rare, section, k):
    """Element k of a section of constants."""
    return rare.values[at(rare, section, k)]


@device
def scalar(rare, which):
    """One of the scalars, in the real type of the march."""
    return rare.values[np.uint64(which)]


@device
def near_four(field, here, o, v, rare):
    """What four neighbours add to the cell at `here`; o, v : places of their offsets and values."""
    words, values = rare.words, rare.values
    o0, o1, o2, o3 = beside(words, o, 0, 0), beside(words, o, 1, 0), beside(words, o, 2, 0), beside(words, o, 3, 0)
    total = beside(values, v, 0, 0) * beside(field, here, o0, 0) + beside(values, v, 1, 0) * beside(field, here, o1, 0)
    total += beside(values, v, 2, 0) * beside(field, here, o2, 0)
    return total + beside(values, v, 3, 0) * beside(field, here, o3, 0)


@device
def link_ahead(over, v, k, u, x, apart, rare):
    """(velocity now, velocity next, displacement) of the half link k after those at v, u, x (theory.md, eq. 8);
    over : pressure across."""
    old, gone = beside(rare.memory, u, apart, 0), beside(rare.memory, x, apart, 0)
    new = beside(rare.values, v, 4 * k, 0) * old + beside(rare.values, v, 4 * k + 1, 0) * over
    return old, new - beside(rare.values, v, 4 * k + 2, 0) * gone, gone


@device
def move_four(over, which, ways, v, u, x, rare):
    """Move four half links on; by how much the velocity of each changes.

    over : pressures across; which : numbers from that at v on; ways : of their states from u and x; four of each
    All are read before any is written, so that their ways to memory overlap.
    """
    memory, dt = rare.memory, scalar(rare, DT)
    old0, new0, x0 = link_ahead(over[0], v, which[0], u, x, ways[0], rare)
    old1, new1, x1 = link_ahead(over[1], v, which[1], u, x, ways[1], rare)
    old2, new2, x2 = link_ahead(over[2], v, which[2], u, x, ways[2], rare)
    old3, new3, x3 = link_ahead(over[3], v, which[3], u, x, ways[3], rare)
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
def links_four(field, here, now, o, v, u, x, width, rare):
    """What four half links take away; they are moved on. o, v, u, x : places of their offsets, values and states."""
    words, values = rare.words, rare.values
    o0, o1, o2, o3 = beside(words, o, 0, 0), beside(words, o, 1, 0), beside(words, o, 2, 0), beside(words, o, 3, 0)
    p0, p1 = beside(field, here, o0, 0), beside(field, here, o1, 0)
    p2, p3 = beside(field, here, o2, 0), beside(field, here, o3, 0)
    i0, i1 = beside(values, v, 3, 0), beside(values, v, 7, 0)
    i2, i3 = beside(values, v, 11, 0), beside(values, v, 15, 0)
    over, ways = (now - p0, now - p1, now - p2, now - p3), (0, width, 2 * width, 3 * width)
    change = move_four(over, (0, 1, 2, 3), ways, v, u, x, rare)
    return i0 * change[0] + i1 * change[1] + (i2 * change[2] + i3 * change[3])


@device
def neighbours(field, here, turn, cell, lane, width, rare):
    """The new pressure of a special cell from its neighbours and loose links; here : element of p(n)."""
    near, link = word(rare, CELL, 6 * cell + 1), word(rare, CELL, 6 * cell + 3)
    last_near, last_link = word(rare, CELL, 6 * cell + 7), word(rare, CELL, 6 * cell + 9)
    now, total, spot = field[np.uint64(here)], -field[np.uint64(here + turn)], place(field, here)
    o, v = place(rare.words, at(rare, NEAR_OFFSET, near)), place(rare.values, at(rare, NEAR_VALUE, near))
    for _ in range(near, last_near, TOGETHER):
        total += near_four(field, spot, o, v, rare)
        o, v = moved(rare.words, o, TOGETHER), moved(rare.values, v, TOGETHER)
    o, v = place(rare.words, at(rare, LINK_OFFSET, link)), place(rare.values, at(rare, LINK, 4 * link))
    u = place(rare.memory, at(rare, LINK_U, link * width + lane))
    x = place(rare.memory, at(rare, LINK_X, link * width + lane))
    for _ in range(link, last_link, TOGETHER):
        total -= links_four(field, spot, now, o, v, u, x, width, rare)
        o, v = moved(rare.words, o, TOGETHER), moved(rare.values, v, 4 * TOGETHER)
        u, x = moved(rare.memory, u, TOGETHER * width), moved(rare.memory, x, TOGETHER * width)
    return total


@device
def links_two(field, here, now, then, o, v, u, x, width, rare):
    """The same of two half links in two lanes, half of the width apart: what they take away in each."""
    words, values, apart = rare.words, rare.values, width // 2
    o0, o1 = beside(words, o, 0, 0), beside(words, o, 1, 0)
    p0, p1 = beside(field, here, o0, 0), beside(field, here, o1, 0)
    q0, q1 = beside(field, here, o0, apart), beside(field, here, o1, apart)
    i0, i1 = beside(values, v, 3, 0), beside(values, v, 7, 0)
    over, ways = (now - p0, now - p1, then - q0, then - q1), (0, width, apart, width + apart)
    change = move_four(over, (0, 1, 0, 1), ways, v, u, x, rare)
    return i0 * change[0] + i1 * change[1], i0 * change[2] + i1 * change[3]


@device
def near_two(field, here, o, v, apart, rare):
    """What four neighbours add in two lanes."""
    words, values = rare.words, rare.values
    o0, o1, o2, o3 = (
        beside(words, o, 0, 0), beside(words, o, 1, 0), beside(words, o, 2, 0), beside(words, o, 3, 0)
    )  # fmt: skip
    v0, v1, v2, v3 = (
        beside(values, v, 0, 0), beside(values, v, 1, 0), beside(values, v, 2, 0), beside(values, v, 3, 0)
    )  # fmt: skip
    one = v0 * beside(field, here, o0, 0) + v1 * beside(field, here, o1, 0)
    two = v0 * beside(field, here, o0, apart) + v1 * beside(field, here, o1, apart)
    one += v2 * beside(field, here, o2, 0) + v3 * beside(field, here, o3, 0)
    return one, two + v2 * beside(field, here, o2, apart) + v3 * beside(field, here, o3, apart)


@device
def neighbours_two(field, here, turn, cell, lane, width, rare):
    """As `neighbours`, in two lanes."""
    near, link = word(rare, CELL, 6 * cell + 1), word(rare, CELL, 6 * cell + 3)
    last_near, last_link = word(rare, CELL, 6 * cell + 7), word(rare, CELL, 6 * cell + 9)
    apart, spot = width // 2, place(field, here)
    there = moved(field, spot, turn)
    now, then = beside(field, spot, 0, 0), beside(field, spot, 0, apart)
    total, other = -beside(field, there, 0, 0), -beside(field, there, 0, apart)
    o, v = place(rare.words, at(rare, NEAR_OFFSET, near)), place(rare.values, at(rare, NEAR_VALUE, near))
    for _ in range(near, last_near, TOGETHER):
        more, further = near_two(field, spot, o, v, apart, rare)
        total, other = total + more, other + further
        o, v = moved(rare.words, o, TOGETHER), moved(rare.values, v, TOGETHER)
    o, v = place(rare.words, at(rare, LINK_OFFSET, link)), place(rare.values, at(rare, LINK, 4 * link))
    u = place(rare.memory, at(rare, LINK_U, link * width + lane))
    x = place(rare.memory, at(rare, LINK_X, link * width + lane))
    for _ in range(link, last_link, 2):
        more, further = links_two(field, spot, now, then, o, v, u, x, width, rare)
        total, other = total - more, other - further
        o, v = moved(rare.words, o, 2), moved(rare.values, v, 8)
        u, x = moved(rare.memory, u, 2 * width), moved(rare.memory, x, 2 * width)
    return total, other


@device
def face_past(face, slot, lane, width, rare):
    """(what the face's velocity will be without pressure, velocity now, branches) of a face with states from `slot`."""
    memory, kind = rare.memory, word(rare, FACE_KIND, face)
    first = word(rare, FIRST, kind)
    branches = word(rare, FIRST, kind + 1) - first
    v = h = scalar(rare, ZERO)
    for m in range(branches):
        k = 3 * (first + m) * width + lane
        old = memory[at(rare, FACE_V, (slot + m) * width + lane)]
        v += old
        h += value(rare, BRANCHES, k + width) * old
        h -= value(rare, BRANCHES, k + 2 * width) * memory[at(rare, FACE_X, (slot + m) * width + lane)]
    k = 3 * kind * width + lane
    past = value(rare, CLASSES, k + width) * h + value(rare, CLASSES, k) * value(rare, CLASSES, k + 2 * width) * v
    return past, v, branches


@device
def eliminate(total, now, row, lane, rare):
    """(new pressure, denominator) of a boundary cell with any faces, before anything else moves in it
    (theory.md, eq. 12)."""
    memory, width = rare.memory, number(rare, WIDTH)
    slot, first = word(rare, ROW, 4 * row + 1), word(rare, ROW, 4 * row + 2)
    kept = at(rare, CELL_SUM, row * width + lane)
    lag, below, sum_now = memory[kept], scalar(rare, ONE), scalar(rare, ZERO)
    for face in range(first, first + word(rare, ROW, 4 * row + 3)):
        past, v, branches = face_past(face, slot, lane, width, rare)
        beta = value(rare, FACE_STRENGTH, face)
        y = value(rare, CLASSES, 3 * word(rare, FACE_KIND, face) * width + lane)
        sum_now += beta * v
        lag -= beta * (y * now + past)
        below += beta * y
        slot += branches
    memory[kept] = sum_now
    return (total + lag) / below, below


@device
def move_faces(new, now, row, lane, rare):
    """Velocities of the faces of a boundary cell, once its new pressure is known."""
    width = number(rare, WIDTH)
    slot, first = word(rare, ROW, 4 * row + 1), word(rare, ROW, 4 * row + 2)
    for face in range(first, first + word(rare, ROW, 4 * row + 3)):
        past, v, branches = face_past(face, slot, lane, width, rare)
        kind = word(rare, FACE_KIND, face)
        k = 3 * kind * width + lane
        both = new + now
        both -= value(rare, CLASSES, k + 2 * width) * (value(rare, CLASSES, k) * both + past - v)
        for m in range(branches):
            k = 3 * (word(rare, FIRST, kind) + m) * width + lane
            move_branch(both, BRANCHES, k, FACE_V, FACE_X, slot + m, lane, width, rare)
        slot += branches


@device
def move_branch(both, coefficients, k, velocities, places, slot, lane, width, rare):
    """One branch of a face or port; both : Pa, before and after; coefficients, velocities, places : sections."""
    memory = rare.memory
    v, x = at(rare, velocities, slot * width + lane), at(rare, places, slot * width + lane)
    old, gone = memory[v], memory[x]
    fresh = value(rare, coefficients, k) * both + value(rare, coefficients, k + width) * old
    fresh -= value(rare, coefficients, k + 2 * width) * gone
    memory[v] = fresh
    memory[x] = gone + scalar(rare, HALF_DT) * (fresh + old)


@device
def face_in_edge(now, face, slot, lane, rare):
    """(strength, admittance, past, velocity now, displacement) of a face of one branch."""
    width = number(rare, WIDTH)
    k, here = 3 * word(rare, FACE_BRANCH, face) * width + lane, slot * width + lane
    old, x = rare.memory[at(rare, FACE_V, here)], rare.memory[at(rare, FACE_X, here)]
    past = value(rare, BRANCHES, k + width) * old - value(rare, BRANCHES, k + 2 * width) * x
    return value(rare, FACE_STRENGTH, face), value(rare, BRANCHES, k), past, old, x


@device
def edge_wall(total, now, row, lane, rare):
    """The new pressure of a boundary cell whose two or three faces have one branch each; the faces moved on.

    Two faces stand in the place of three, the third without strength.
    """
    memory, width, half_dt = rare.memory, number(rare, WIDTH), scalar(rare, HALF_DT)
    slot, face = word(rare, ROW, 4 * row + 1), word(rare, ROW, 4 * row + 2)
    kept = at(rare, CELL_SUM, row * width + lane)
    s0, a0, past0, v0, x0 = face_in_edge(now, face, slot, lane, rare)
    s1, a1, past1, v1, x1 = face_in_edge(now, face + 1, slot + 1, lane, rare)
    s2, a2, past2, v2, x2 = face_in_edge(now, face + 2, slot + 2, lane, rare)
    total += memory[kept] - s0 * (a0 * now + past0) - s1 * (a1 * now + past1) - s2 * (a2 * now + past2)
    new = total / (scalar(rare, ONE) + s0 * a0 + s1 * a1 + s2 * a2)
    memory[kept] = s0 * v0 + s1 * v1 + s2 * v2
    v, x, one = at(rare, FACE_V, slot * width + lane), at(rare, FACE_X, slot * width + lane), np.uint64(width)
    fresh0, fresh1 = a0 * (new + now) + past0, a1 * (new + now) + past1
    fresh2 = a2 * (new + now) + past2
    memory[v], memory[v + one], memory[v + one + one] = fresh0, fresh1, fresh2
    memory[x], memory[x + one] = x0 + half_dt * (fresh0 + v0), x1 + half_dt * (fresh1 + v1)
    memory[x + one + one] = x2 + half_dt * (fresh2 + v2)
    return new


@device
def any_wall(total, now, row, lane, rare):
    """The new pressure of a special boundary cell; its faces moved on."""
    if word(rare, ROW, 4 * row) == EDGE:
        return edge_wall(total, now, row, lane, rare)
    total, _ = eliminate(total, now, row, lane, rare)
    move_faces(total, now, row, lane, rare)
    return total


@device
def special_cell(field, origin, turn, cell, lane, width, rare):
    """All of a special cell that is under no port; origin : element of field where p(n) begins."""
    here = origin + word(rare, CELL, 6 * cell) * width + lane
    row = word(rare, CELL, 6 * cell + 2)
    total = neighbours(field, here, turn, cell, lane, width, rare)
    if row >= 0:
        total = any_wall(total, field[np.uint64(here)], row, lane, rare)
    field[np.uint64(here + turn)] = total


@device
def special_two(field, origin, turn, cell, lane, width, rare):
    """The same in two lanes, half of the width apart."""
    here, apart = origin + word(rare, CELL, 6 * cell) * width + lane, width // 2
    row = word(rare, CELL, 6 * cell + 2)
    total, other = neighbours_two(field, here, turn, cell, lane, width, rare)
    if row >= 0:
        total = any_wall(total, field[np.uint64(here)], row, lane, rare)
        other = any_wall(other, field[np.uint64(here + apart)], row, lane + apart, rare)
    field[np.uint64(here + turn)] = total
    field[np.uint64(here + turn + apart)] = other
