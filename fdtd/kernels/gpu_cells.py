"""What happens in one special cell of one lane on a graphics card: all its neighbours, loose links, walls.

`rare` holds all tables and states of it (see `Rare`). `field` holds both pressures: field[here] at step n, and
field[here + turn] at n - 1, which n + 1 replaces.
"""

from __future__ import annotations

import numpy as np
from numba import cuda

from fdtd.kernels.gpu_tables import (
    BRANCHES,
    CELL,
    CELL_SUM,
    CLASSES,
    DT,
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
    WIDTH,
    ZERO,
)

device = cuda.jit(device=True)


@device
def at(rare, section, k):
    """Where element k of a section stands; unsigned, so that no check for counting from the end is made."""
    return np.uint64(np.int64(rare.words[np.uint64(section)]) + k)


@device
def number(rare, section):
    """A number that the header holds."""
    return np.int64(rare.words[np.uint64(section)])


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
def neighbours(field, here, turn, cell, lane, rare):
    """The new pressure of a special cell from its neighbours and loose links; here : element of p(n)."""
    memory, width = rare.memory, number(rare, WIDTH)
    now, total = field[np.uint64(here)], -field[np.uint64(here + turn)]
    for k in range(word(rare, CELL, 6 * cell + 1), word(rare, CELL, 6 * cell + 7)):
        total += value(rare, NEAR_VALUE, k) * field[np.uint64(here + word(rare, NEAR_OFFSET, k))]
    for k in range(word(rare, CELL, 6 * cell + 3), word(rare, CELL, 6 * cell + 9)):
        u, x = at(rare, LINK_U, k * width + lane), at(rare, LINK_X, k * width + lane)
        old, place = memory[u], memory[x]
        over = now - field[np.uint64(here + word(rare, LINK_OFFSET, k))]
        new = value(rare, LINK, 4 * k) * old + value(rare, LINK, 4 * k + 1) * over
        new -= value(rare, LINK, 4 * k + 2) * place
        memory[u] = new
        memory[x] = place + scalar(rare, DT) * new
        total -= value(rare, LINK, 4 * k + 3) * (new - old)
    return total


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
    """(new pressure, denominator) of a boundary cell with any faces, before anything else moves in it."""
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
    old, place = memory[v], memory[x]
    fresh = value(rare, coefficients, k) * both + value(rare, coefficients, k + width) * old
    fresh -= value(rare, coefficients, k + 2 * width) * place
    memory[v] = fresh
    memory[x] = place + scalar(rare, HALF_DT) * (fresh + old)


@device
def special_cell(field, origin, turn, cell, lane, rare):
    """All of a special cell that is under no port; origin : element of field where p(n) begins."""
    here = origin + word(rare, CELL, 6 * cell) * number(rare, WIDTH) + lane
    total = neighbours(field, here, turn, cell, lane, rare)
    row = word(rare, CELL, 6 * cell + 2)
    if row >= 0:
        now = field[np.uint64(here)]
        total, _ = eliminate(total, now, row, lane, rare)
        move_faces(total, now, row, lane, rare)
    field[np.uint64(here + turn)] = total
