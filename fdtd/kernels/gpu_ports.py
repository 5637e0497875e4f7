"""Faces that move as one, on a graphics card: a block of threads marches the cells under a group of ports, in stages.

The same order as on the processor: local faces of the cells, one velocity per port, back to the cells, then the
branches and electronics. Each stage is a function of one cell or one port in one lane; threads wait for each other in
between.
`field`, `origin`, `turn` and `rare` as in gpu_cells.py.
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
def cell_alone(field, origin, turn, cell, lane, rare):
    """Stage 1: the new pressure of a cell as if its ports kept still."""
    memory, width = rare.memory, number(rare, WIDTH)
    here = origin + word(rare, CELL, 6 * cell) * width + lane
    total = neighbours(field, here, turn, cell, lane, width, rare)
    new, below = eliminate(total, field[np.uint64(here)], word(rare, CELL, 6 * cell + 2), lane, rare)
    for k in range(word(rare, CELL, 6 * cell + 5), word(rare, CELL, 6 * cell + 11)):
        before = memory[at(rare, PORT_BEFORE, word(rare, MEMBER_PORT, k) * width + lane)]
        new += value(rare, MEMBER_STRENGTH, k) * before / below
    field[np.uint64(here + turn)] = new
    memory[at(rare, SCRATCH, (cell - number(rare, FREE_CELLS)) * width + lane)] = below


@device
def mean_pressure(field, origin, turn, port, lane, rare):
    """p(n) + p(n + 1), averaged over the port."""
    width, total = number(rare, WIDTH), scalar(rare, ZERO)
    for k in range(word(rare, PORT, 4 * port), word(rare, PORT, 4 * port + 4)):
        here = origin + word(rare, CELL, 6 * word(rare, SHARE_CELL, k)) * width + lane
        total += value(rare, SHARE, k) * (field[np.uint64(here)] + field[np.uint64(here + turn)])
    return total


@device
def port_drive(field, origin, turn, port, lane, rare):
    """Stage 2: the velocity of a port if the others kept still, and its velocity now into `port_before`."""
    memory, width, most = rare.memory, number(rare, WIDTH), number(rare, MOST)
    v = h = scalar(rare, ZERO)
    for m in range(word(rare, PORT, 4 * port + 1), word(rare, PORT, 4 * port + 5)):
        old, k = memory[at(rare, PORT_V, m * width + lane)], 3 * m * width + lane
        v += old
        h += value(rare, PORT_BRANCHES, k + width) * old
        h -= value(rare, PORT_BRANCHES, k + 2 * width) * memory[at(rare, PORT_X, m * width + lane)]
    for m in range(word(rare, PORT, 4 * port + 2)):
        state = memory[at(rare, CONTROL_X, (port * most + m) * width + lane)]
        k = 3 * (port * most + m) * width + lane
        v += value(rare, CONTROL, k + width) * state
        h += value(rare, CONTROL, k + 2 * width) * state
    k = 3 * port * width + lane
    coupling = value(rare, PORT_CLASSES, k)
    rhs = value(rare, PORT_CLASSES, k + width) * h + coupling * value(rare, PORT_CLASSES, k + 2 * width) * v
    rhs += coupling * mean_pressure(field, origin, turn, port, lane, rare)
    memory[at(rare, SCRATCH, (number(rare, PORT_CELLS) + port) * width + lane)] = rhs
    memory[at(rare, PORT_BEFORE, port * width + lane)] = v


@device
def port_velocity(port, first, last, lane, rare):
    """Stage 3: the velocity of a port among those of its group, first <= port < last (theory.md, eq. 17)."""
    memory, width, ports, velocity = rare.memory, number(rare, WIDTH), number(rare, PORTS), scalar(rare, ZERO)
    cells = number(rare, PORT_CELLS)
    for b in range(first, last):
        rhs = memory[at(rare, SCRATCH, (cells + b) * width + lane)]
        velocity += value(rare, SOLVE, (port * ports + b) * width + lane) * rhs
    memory[at(rare, SCRATCH, (cells + ports + port) * width + lane)] = velocity


@device
def cell_moved(field, origin, turn, cell, lane, rare):
    """Stage 4: the new pressure of a cell under moving ports, and its own faces."""
    memory, width = rare.memory, number(rare, WIDTH)
    here = origin + word(rare, CELL, 6 * cell) * width + lane
    new = field[np.uint64(here + turn)]
    below = memory[at(rare, SCRATCH, (cell - number(rare, FREE_CELLS)) * width + lane)]
    offset = number(rare, PORT_CELLS) + number(rare, PORTS)
    for k in range(word(rare, CELL, 6 * cell + 5), word(rare, CELL, 6 * cell + 11)):
        velocity = memory[at(rare, SCRATCH, (offset + word(rare, MEMBER_PORT, k)) * width + lane)]
        new -= value(rare, MEMBER_STRENGTH, k) * velocity / below
    field[np.uint64(here + turn)] = new
    move_faces(new, field[np.uint64(here)], word(rare, CELL, 6 * cell + 2), lane, rare)


@device
def port_moved(field, origin, turn, port, lane, rare):
    """Stage 5: branches and electronics of a port, once the cells' new pressures are known."""
    memory, width = rare.memory, number(rare, WIDTH)
    velocity = memory[at(rare, SCRATCH, (number(rare, PORT_CELLS) + number(rare, PORTS) + port) * width + lane)]
    change = velocity - memory[at(rare, PORT_BEFORE, port * width + lane)]
    both = mean_pressure(field, origin, turn, port, lane, rare)
    both -= value(rare, PORT_CLASSES, (3 * port + 2) * width + lane) * change
    for m in range(word(rare, PORT, 4 * port + 1), word(rare, PORT, 4 * port + 5)):
        move_branch(both, PORT_BRANCHES, 3 * m * width + lane, PORT_V, PORT_X, m, lane, width, rare)
    electronics(both, port, word(rare, PORT, 4 * port + 2), lane, rare)


@device
def electronics(both, port, size, lane, rare):
    """The states of a port's electronics, driven by the pressure before and after (theory.md, eq. 18)."""
    memory, width, most = rare.memory, number(rare, WIDTH), number(rare, MOST)
    base = port * most
    fresh = number(rare, PORT_CELLS) + 2 * number(rare, PORTS) + base
    for m in range(size):
        total = value(rare, CONTROL, 3 * (base + m) * width + lane) * both
        for k in range(size):
            coefficient = value(rare, MATRIX, ((base + m) * most + k) * width + lane)
            total += coefficient * memory[at(rare, CONTROL_X, (base + k) * width + lane)]
        memory[at(rare, SCRATCH, (fresh + m) * width + lane)] = total
    for m in range(size):
        state = memory[at(rare, SCRATCH, (fresh + m) * width + lane)]
        memory[at(rare, CONTROL_X, (base + m) * width + lane)] = state
