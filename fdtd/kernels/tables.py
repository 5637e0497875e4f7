"""Tables that the time step reads and writes. All real arrays share one dtype; the last axis is the lane.

Symbols: p pressure (Pa), v face velocity into the wall (m/s), x its integral (m), u velocity of a loose link (m/s).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.floating]
Integer = NDArray[np.integer]

SLOTS = 12
ACROSS = 8


class AirTables(NamedTuple):
    """Rows of the air update p+ = w0 p + sum_k w_k p[i + offset_k] - p-.

    Runs are cells in a row that differ only in their weights along it: start, length (run,); offset, weight (run, 8) of
    the neighbours across the row; profile (run,) start of the run's weights in the five `along` arrays (for p[i],
    p[i - 1], p[i + 1], p[i - 2], p[i + 2]), which rows of like spacing share, each value once a lane.
    Singles: cell (n,), offset (n, 12), row (n,) into weight_table (row, 13).
    Rest: rows with more than 12 neighbours, as (cell, pointer, column, value, centre).

    run_chunk, single_chunk : (chunk + 1,) bounds of the share of each thread.
    """

    run_start: Integer
    run_length: Integer
    run_offset: Integer
    run_weight: Real
    run_profile: Integer
    along: Real
    single_cell: Integer
    single_offset: Integer
    single_row: Integer
    weight_table: Real
    rest_cell: Integer
    rest_pointer: Integer
    rest_column: Integer
    rest_value: Real
    rest_centre: Real
    run_chunk: Integer
    single_chunk: Integer


class FaceTables(NamedTuple):
    """Local wall faces, grouped by cell: first the simple cells (one face, one branch: row = face = state), then the
    general ones, last the cells of ports.

    cell : (boundary cell,); pointer : (boundary cell + 1,) into the faces; strength : (face,) c² dt rho A / (2 V)
    kind : (face,) admittance class; state : (face,) first branch state of the face
    Classes: coupling, damping, mass (class, lane), first (class + 1,) into branch rows; a, b, g (branch row, lane)
    simple, free : number of simple cells, of cells that belong to no port; inverse 1/(1 + strength a)
    simple_chunk, chunk : thread bounds within the simple and the general cells
    """

    cell: Integer
    pointer: Integer
    strength: Real
    kind: Integer
    state: Integer
    coupling: Real
    damping: Real
    mass: Real
    first: Integer
    a: Real
    b: Real
    g: Real
    simple: int
    free: int
    inverse: Real
    simple_chunk: Integer
    chunk: Integer


class ControlTables(NamedTuple):
    """State spaces in parallel to the branches of ports: x+ = matrix x + drive (p+ + p), v+ = read x+.

    size : (port,) states; matrix : (port, state, state, lane); drive, read, past (read times matrix) :
    (port, state, lane)
    """

    size: Integer
    matrix: Real
    drive: Real
    read: Real
    past: Real


class PortTables(NamedTuple):
    """Faces that move as one: members pointer (port + 1,), boundary (member,) row in `FaceTables.cell`,
    share (member,) of the port's area, strength (member,); class rows as for faces; solve (lane, port, port); the
    electronics of active ones."""

    pointer: Integer
    boundary: Integer
    share: Real
    strength: Real
    coupling: Real
    damping: Real
    mass: Real
    first: Integer
    a: Real
    b: Real
    g: Real
    solve: Real
    control: ControlTables


class LinkTables(NamedTuple):
    """Loose links with a velocity of their own: u+ = keep u + push (p_i - p_j) - pull x."""

    first: Integer
    second: Integer
    keep: Real
    push: Real
    pull: Real
    into_first: Real
    into_second: Real


class PointTables(NamedTuple):
    """Sources and seats as (cell, weight) lists. source_pointer : (lane + 1,); seat_pointer : (seat + 1,)
    every : steps between the samples of the seats that are kept."""

    source_pointer: Integer
    source_cell: Integer
    source_weight: Real
    signal: Real
    seat_pointer: Integer
    seat_cell: Integer
    seat_weight: Real
    every: int


class MapTables(NamedTuple):
    """Running Fourier sums: every `stride` steps add p cos and p sin, phases (sample, frequency)."""

    stride: int
    cosine: Real
    sine: Real


class State(NamedTuple):
    """Everything that changes. p_now, p_before : (cell, lane); sums for S = sum strength v of the step before."""

    p_now: Real
    p_before: Real
    face_v: Real
    face_x: Real
    cell_sum: Real
    port_v: Real
    port_x: Real
    port_before: Real
    control_x: Real
    link_u: Real
    link_x: Real
    map_real: Real
    map_imag: Real
