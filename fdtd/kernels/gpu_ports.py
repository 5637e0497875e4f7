"""Faces that move as one, on a GPU: a block of threads simulations the cells under a group of ports, in stages.

The same order as on the processor: local faces of the cells, one velocity per port, back to the cells, then the
branches and electronics. Each stage is a function of one cell or one port in one excitation; threads wait for each
other in between.
`field`, `origin`, `turn` and `packed` as in gpu_cells.py.
"""

from __future__ import annotations

import numpy as np

from fdtd.kernels.gpu_cells import (
    at,
    device,
    eliminate,
    move_branch,
    move_faces,
    neighbours,
    number,
    scalar,
    value,
    word,
)
from fdtd.kernels.gpu_tables import (
    CELL,
    CONTROL,
    CONTROL_X,
    FREE_CELLS,
    MATRIX,
    MEMBER_PORT,
    MEMBER_STRENGTH,
    MOST,
    PORT,
    PORT_BEFORE,
    PORT_BRANCHES,
    PORT_CELLS,
    PORT_CLASSES,
    PORT_V,
    PORT_X,
    PORTS,
    SCRATCH,
    SHARE,
    SHARE_CELL,
    SOLVE,
    WIDTH,
    ZERO,
)


@device
def cell_alone(field, origin, turn, cell, excitation, packed):
    """Stage 1: the new pressure of a cell as if its ports kept still."""
    memory, width = packed.memory, number(packed, WIDTH)
    here = origin + word(packed, CELL, 6 * cell) * width + excitation
    total = neighbours(field, here, turn, cell, excitation, width, packed)
    new, below = eliminate(total, field[np.uint64(here)], word(packed, CELL, 6 * cell + 2), excitation, packed)
    for k in range(word(packed, CELL, 6 * cell + 5), word(packed, CELL, 6 * cell + 11)):
        before = memory[at(packed, PORT_BEFORE, word(packed, MEMBER_PORT, k) * width + excitation)]
        new += value(packed, MEMBER_STRENGTH, k) * before / below
    field[np.uint64(here + turn)] = new
    memory[at(packed, SCRATCH, (cell - number(packed, FREE_CELLS)) * width + excitation)] = below


@device
def mean_pressure(field, origin, turn, port, excitation, packed):
    """p(n) + p(n + 1), averaged over the port."""
    width, total = number(packed, WIDTH), scalar(packed, ZERO)
    for k in range(word(packed, PORT, 4 * port), word(packed, PORT, 4 * port + 4)):
        here = origin + word(packed, CELL, 6 * word(packed, SHARE_CELL, k)) * width + excitation
        total += value(packed, SHARE, k) * (field[np.uint64(here)] + field[np.uint64(here + turn)])
    return total


@device
def port_drive(field, origin, turn, port, excitation, packed):
    """Stage 2: the velocity of a port if the others kept still, and its velocity now into `port_before`."""
    memory, width, most = packed.memory, number(packed, WIDTH), number(packed, MOST)
    v = h = scalar(packed, ZERO)
    for m in range(word(packed, PORT, 4 * port + 1), word(packed, PORT, 4 * port + 5)):
        old, k = memory[at(packed, PORT_V, m * width + excitation)], 3 * m * width + excitation
        v += old
        h += value(packed, PORT_BRANCHES, k + width) * old
        h -= value(packed, PORT_BRANCHES, k + 2 * width) * memory[at(packed, PORT_X, m * width + excitation)]
    for m in range(word(packed, PORT, 4 * port + 2)):
        state = memory[at(packed, CONTROL_X, (port * most + m) * width + excitation)]
        k = 3 * (port * most + m) * width + excitation
        v += value(packed, CONTROL, k + width) * state
        h += value(packed, CONTROL, k + 2 * width) * state
    k = 3 * port * width + excitation
    coupling = value(packed, PORT_CLASSES, k)
    rhs = value(packed, PORT_CLASSES, k + width) * h + coupling * value(packed, PORT_CLASSES, k + 2 * width) * v
    rhs += coupling * mean_pressure(field, origin, turn, port, excitation, packed)
    memory[at(packed, SCRATCH, (number(packed, PORT_CELLS) + port) * width + excitation)] = rhs
    memory[at(packed, PORT_BEFORE, port * width + excitation)] = v


@device
def port_velocity(port, first, last, excitation, packed):
    """Stage 3: the velocity of a port among those of its group, first <= port < last (theory.md, eq. 17)."""
    memory, width, ports, velocity = packed.memory, number(packed, WIDTH), number(packed, PORTS), scalar(packed, ZERO)
    cells = number(packed, PORT_CELLS)
    for b in range(first, last):
        rhs = memory[at(packed, SCRATCH, (cells + b) * width + excitation)]
        velocity += value(packed, SOLVE, (port * ports + b) * width + excitation) * rhs
    memory[at(packed, SCRATCH, (cells + ports + port) * width + excitation)] = velocity


@device
def cell_moved(field, origin, turn, cell, excitation, packed):
    """Stage 4: the new pressure of a cell under moving ports, and its own faces."""
    memory, width = packed.memory, number(packed, WIDTH)
    here = origin + word(packed, CELL, 6 * cell) * width + excitation
    new = field[np.uint64(here + turn)]
    below = memory[at(packed, SCRATCH, (cell - number(packed, FREE_CELLS)) * width + excitation)]
    offset = number(packed, PORT_CELLS) + number(packed, PORTS)
    for k in range(word(packed, CELL, 6 * cell + 5), word(packed, CELL, 6 * cell + 11)):
        velocity = memory[at(packed, SCRATCH, (offset + word(packed, MEMBER_PORT, k)) * width + excitation)]
        new -= value(packed, MEMBER_STRENGTH, k) * velocity / below
    field[np.uint64(here + turn)] = new
    move_faces(new, field[np.uint64(here)], word(packed, CELL, 6 * cell + 2), excitation, packed)


@device
def port_moved(field, origin, turn, port, excitation, packed):
    """Stage 5: branches and electronics of a port, once the cells' new pressures are known."""
    memory, width = packed.memory, number(packed, WIDTH)
    velocity = memory[
        at(packed, SCRATCH, (number(packed, PORT_CELLS) + number(packed, PORTS) + port) * width + excitation)
    ]
    change = velocity - memory[at(packed, PORT_BEFORE, port * width + excitation)]
    both = mean_pressure(field, origin, turn, port, excitation, packed)
    both -= value(packed, PORT_CLASSES, (3 * port + 2) * width + excitation) * change
    for m in range(word(packed, PORT, 4 * port + 1), word(packed, PORT, 4 * port + 5)):
        move_branch(both, PORT_BRANCHES, 3 * m * width + excitation, PORT_V, PORT_X, m, excitation, width, packed)
    electronics(both, port, word(packed, PORT, 4 * port + 2), excitation, packed)


@device
def electronics(both, port, size, excitation, packed):
    """The states of a port's electronics, driven by the pressure before and after (theory.md, eq. 18)."""
    memory, width, most = packed.memory, number(packed, WIDTH), number(packed, MOST)
    base = port * most
    fresh = number(packed, PORT_CELLS) + 2 * number(packed, PORTS) + base
    for m in range(size):
        total = value(packed, CONTROL, 3 * (base + m) * width + excitation) * both
        for k in range(size):
            coefficient = value(packed, MATRIX, ((base + m) * most + k) * width + excitation)
            total += coefficient * memory[at(packed, CONTROL_X, (base + k) * width + excitation)]
        memory[at(packed, SCRATCH, (fresh + m) * width + excitation)] = total
    for m in range(size):
        state = memory[at(packed, SCRATCH, (fresh + m) * width + excitation)]
        memory[at(packed, CONTROL_X, (base + m) * width + excitation)] = state
