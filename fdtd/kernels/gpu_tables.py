"""Tables of the time step on a GPU: flat arrays, indexes in 32 bit, real numbers of one dtype, excitations innermost.

`width` is the number of excitations rounded up; element (row, excitation) of any array with excitations stands at row *
width + excitation. Cells are counted from `PAD`, so that the two cells before the first and after the last can be read.
An *offset* is the way to another cell in elements.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.floating]
Integer = NDArray[np.integer]

PAD = 2
"""Cells of silence before the first and after the last."""
ACROSS = 8
"""Neighbours across the row that a pattern holds; with more a cell is special."""
PIECE_WORDS = 7
"""Integers of an element: first cell, number of cells, pattern, profile, simple walls (a bit a cell, two words), first
wall row."""
MOST_SIDE_BY_SIDE = 8
"""Excitations up to which neighbouring threads take neighbouring cells of a row; with more a thread walks along it."""
TOGETHER = 4
"""Neighbours, or half links, of a special cell that are read at a time, so that their ways to memory overlap."""
OTHER, EDGE = -1, -2
"""In place of a branch row: walls of any kind; walls of up to three faces of one branch each, filled up to three."""
LONGEST_ELEMENT = 64
"""Cells: as many as there are bits."""
SLACK = 64
"""Elements that may be read past the end of an element."""


class Air(NamedTuple):
    """Cells in elements: stretches of a row with the same neighbours and weights across it (a pattern).

    element : (element * 7,), see PIECE_WORDS; offset, weight : (pattern * 8,)
    along : (5 * position,) weights along the row for p[i], p[i - 1], p[i + 1], p[i - 2], p[i + 2], from the profile on;
    with few excitations all of the first kind first, with many the five of a position together
    """

    element: Integer
    offset: Integer
    weight: Real
    along: Real


class Walls(NamedTuple):
    """Boundary cells in the order of the simulation: simple ones (one face of one branch), special ones, those under
    ports.

    row : (cell * 4,) branch row of a simple cell, else `OTHER` or `EDGE`; first state; first face; faces
    strength : (cell,) of the one face of a simple cell
    face_branch, face_kind, face_strength : (face,) first branch row, class, strength
    first : (class + 1,) into branch rows; classes : (class * 3 * width,) coupling, damping, mass;
    branches : (branch row * 3 * width,) a, b, g
    """

    row: Integer
    strength: Real
    face_branch: Integer
    face_kind: Integer
    face_strength: Real
    first: Integer
    classes: Real
    branches: Real


class Special(NamedTuple):
    """Cells that are more than a pattern and a simple wall: many neighbours, impedance links, several faces; first
    those that a thread finishes by itself, then those under ports.

    cell : (cell * 6 + 6,) cell, first neighbour, wall row or -1, first half link, unused, first membership of a port
    near_offset, near_value : the whole row of the update, the cell itself included
    Each side of an impedance link moves it by itself: link_offset : (half link,) to the other side,
    link : (half link * 4,) keep, push, pull, into. Neighbours and half links of a cell are filled up to a multiple of
    `TOGETHER` with some that do nothing. source_place : (source,) element of one
    pressure array, source_weight : (source,)
    member_port, member_strength : by cell
    """

    cell: Integer
    near_offset: Integer
    near_value: Real
    link_offset: Integer
    link: Real
    source_place: Integer
    source_weight: Real
    member_port: Integer
    member_strength: Real


class Ports(NamedTuple):
    """Faces that move as one, in groups that share no cell; a block of threads simulations a group with all its cells.

    group : (group * 2 + 2,) first port, first special cell; port : (port * 4 + 4,) first share, first branch row,
    states, unused; share_cell, share : by port; classes, branches as for walls; solve : (port * port * width,)
    matrix : (port * most * most * width,); control : (port * most * 3 * width,) drive, read, past
    """

    group: Integer
    port: Integer
    share_cell: Integer
    share: Real
    classes: Real
    branches: Real
    solve: Real
    matrix: Real
    control: Real


class Readers(NamedTuple):
    """Seats in parts of a few cells: part : (part + 1,) into cell, weight; first : (seat + 1,) into parts.

    signal : (step,) of the source; cosine, sine : (sample * frequency,) of the maps
    """

    part: Integer
    cell: Integer
    weight: Real
    first: Integer
    signal: Real
    cosine: Real
    sine: Real


class Numbers(NamedTuple):
    """Scalars. dt, half_dt, zero, one : of the real dtype, so that nothing is computed in another.

    every : steps between the samples of the seats; stride : steps between those of the maps
    most : states of electronics
    """

    dt: np.floating
    half_dt: np.floating
    zero: np.floating
    one: np.floating
    cells: int
    width: int
    every: int
    stride: int
    samples: int
    frequencies: int
    parts: int
    elements: int
    sources: int
    free_cells: int
    port_cells: int
    ports: int
    port_groups: int
    most: int


class Sizes(NamedTuple):
    """Rows of each state array: pressure, faces, boundary cells, half links, port branches, ports, port states."""

    cells: int
    face: int
    wall: int
    link: int
    branch: int
    port: int
    control: int
    scratch: int


class Layout(NamedTuple):
    """All of it, ready to be sent to a GPU. volume : (cell,) m³ with the padding; cost : (element,) relative work."""

    air: Air
    walls: Walls
    special: Special
    ports: Ports
    readers: Readers
    numbers: Numbers
    sizes: Sizes
    volume: Real
    cost: Real
    excitations: int


# What only some cells need is packed into three arrays, so that a thread holds three addresses in registers and not
# fifty: whole numbers (`words`), real constants (`values`) and real state (`memory`). Where each section starts in its
# array, and a few numbers, are arguments of the kernel, which take no register. The first values hold the scalars.
SECTIONS: tuple[str, ...] = (
    "row",
    "face_branch",
    "face_kind",
    "first",
    "cell",
    "near_offset",
    "link_offset",
    "source_place",
    "member_port",
    "group",
    "port",
    "share_cell",
    "part",
    "seat_cell",
    "seat_first",
    "strength",
    "face_strength",
    "classes",
    "branches",
    "near_value",
    "link",
    "source_weight",
    "member_strength",
    "share",
    "port_classes",
    "port_branches",
    "solve",
    "matrix",
    "control",
    "seat_weight",
    "signal",
    "cosine",
    "sine",
    "face_v",
    "face_x",
    "cell_sum",
    "link_u",
    "link_x",
    "port_v",
    "port_x",
    "port_before",
    "control_x",
    "scratch",
    "width",
    "every",
    "stride",
    "samples",
    "frequencies",
    "parts",
    "free_cells",
    "port_cells",
    "ports",
    "port_groups",
    "most",
    "signal_steps",
    "elements",
    "sources",
)
(
    ROW,
    FACE_BRANCH,
    FACE_KIND,
    FIRST,
    CELL,
    NEAR_OFFSET,
    LINK_OFFSET,
    SOURCE_PLACE,
    MEMBER_PORT,
    GROUP,
    PORT,
    SHARE_CELL,
    PART,
    SEAT_CELL,
    SEAT_FIRST,
    STRENGTH,
    FACE_STRENGTH,
    CLASSES,
    BRANCHES,
    NEAR_VALUE,
    LINK,
    SOURCE_WEIGHT,
    MEMBER_STRENGTH,
    SHARE,
    PORT_CLASSES,
    PORT_BRANCHES,
    SOLVE,
    MATRIX,
    CONTROL,
    SEAT_WEIGHT,
    SIGNAL,
    COSINE,
    SINE,
    FACE_V,
    FACE_X,
    CELL_SUM,
    LINK_U,
    LINK_X,
    PORT_V,
    PORT_X,
    PORT_BEFORE,
    CONTROL_X,
    SCRATCH,
    WIDTH,
    EVERY,
    STRIDE,
    SAMPLES,
    FREQUENCIES,
    PARTS,
    FREE_CELLS,
    PORT_CELLS,
    PORTS,
    PORT_GROUPS,
    MOST,
    SIGNAL_STEPS,
    ELEMENTS,
    SOURCES,
) = range(len(SECTIONS))
DT, HALF_DT, ZERO, ONE = range(4)


class Packed(NamedTuple):
    """words (int32), values (real, constant), memory (real, state); starts : by section, and the numbers."""

    text: Integer
    values: Real
    memory: Real
    starts: tuple[int, ...]


def pack(layout: Layout) -> tuple[NDArray[np.int32], Real, int, tuple[int, ...]]:
    """(words, values, elements of memory, starts)."""
    a, w, s, p, r = layout.air, layout.walls, layout.special, layout.ports, layout.readers
    n, z = layout.numbers, layout.sizes
    whole = (
        w.row,
        w.face_branch,
        w.face_kind,
        w.first,
        s.cell,
        s.near_offset,
        s.link_offset,
        s.source_place,
        s.member_port,
        p.group,
        p.port,
        p.share_cell,
        r.part,
        r.cell,
        r.first,
    )
    real = (
        w.strength,
        w.face_strength,
        w.classes,
        w.branches,
        s.near_value,
        s.link,
        s.source_weight,
        s.member_strength,
        p.share,
        p.classes,
        p.branches,
        p.solve,
        p.matrix,
        p.control,
        r.weight,
        r.signal,
        r.cosine,
        r.sine,
    )
    rows = (z.face, z.face, z.wall, z.link, z.link, z.branch, z.branch, z.port, z.control, z.scratch)
    numbers = (
        n.width,
        n.every,
        n.stride,
        n.samples,
        n.frequencies,
        n.parts,
        n.free_cells,
        n.port_cells,
        n.ports,
        n.port_groups,
        n.most,
        len(r.signal),
        n.cells * n.width,
        n.sources,
    )
    text = np.concatenate(whole).astype(np.int32)
    values = np.concatenate([np.array([n.dt, n.half_dt, n.zero, n.one], a.weight.dtype), *real])
    starts = (
        *_starts([len(x) for x in whole], 0),
        *_starts([len(x) for x in real], 4),
        *_starts([x * n.width for x in rows], 0),
        *numbers,
    )
    return text, values, sum(rows) * n.width, starts


def _starts(lengths: list[int], first: int) -> list[int]:
    return [first + sum(lengths[:k]) for k in range(len(lengths))]
