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

    Runs are cells in a row that differ only in their weights along it: run_start (run,). Bundles are runs of one chunk
    that differ only in where they start, and follow each other here even where others start between them:
    bundle_first (bundle + 1,) bounds in runs; length (bundle,); offset (bundle, 8) of the neighbours across the row,
    weight (bundle, 9) of those and what they add to the weight of the cell itself; profile (bundle,) start of the
    weights in the five `along` arrays (for p[i], p[i - 1], p[i + 1], p[i - 2], p[i + 2]), which rows of like spacing
    share, each value once or once a lane (`rows.repeated`). bundle_part (bundle, 2) : bounds in parts; part (part, 2) :
    stretches of whole vectors of a run: the number (cells times lanes) at which each ends, and, where all its weights
    along the row are the same, their place after `profile`, else -1. What is left of a run after its last whole vector
    belongs to no part.
    Singles: cell (n,), offset (n, 12), row (n,) into weight_table (row, 13).
    Rest: rows with more than 12 neighbours, as (cell, pointer, column, value, centre).

    Chunks are stretches of cells that are advanced together, by one thread, while they are in the cache; runs end at
    their bounds. cell_chunk, bundle_chunk, single_chunk, rest_chunk : (chunk + 1,) bounds in cells, bundles, singles,
    rest.
    """

    run_start: Integer
    bundle_first: Integer
    bundle_length: Integer
    bundle_offset: Integer
    bundle_weight: Real
    bundle_profile: Integer
    bundle_part: Integer
    part: Integer
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
    bundle_chunk: Integer
    single_chunk: Integer
    rest_chunk: Integer
    cell_chunk: Integer


class FaceTables(NamedTuple):
    """Local wall faces, grouped by cell: first the simple cells (one face, one branch: row = face = state), then the
    general ones, last the cells of ports; the first two by chunk, simple ones within it in blocks of like faces.

    cell : (boundary cell,); beside : (boundary cell,) how many rows from each on are of cells that follow each other;
    pointer : (boundary cell + 1,) into the faces; strength : (face,) c² dt rho A / (2 V)
    kind : (face,) admittance class; state : (face,) first branch state of the face
    Classes: coupling, damping, mass (class, lane), first (class + 1,) into branch rows; a, b, g (branch row, lane)
    simple, free : number of simple cells, of cells that belong to no port; inverse 1/(1 + strength a)
    simple_chunk, chunk : bounds of the chunks within the simple and the general cells
    block_chunk : (chunk + 1,) bounds in blocks; block_first : (block + 1,) bounds in simple cells; block_strength,
    block_kind : (block,) into block_table (kind, 4, width): a, b, g and inverse of a cell's lanes, over and over
    edge_chunk, edge_first : likewise for the blocks of cells with edge_faces (block,) faces of one branch each, which
    come after the simple cells; edge_kind : (block,) into edge_table (kind, 5, width): a, b, g and strength of the
    cell's faces and lanes, over and over, and inverse of its lanes
    """

    cell: Integer
    beside: Integer
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
    block_chunk: Integer
    block_first: Integer
    block_strength: Real
    block_kind: Integer
    block_table: Real
    edge_chunk: Integer
    edge_first: Integer
    edge_faces: Integer
    edge_kind: Integer
    edge_table: Real


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
    """Loose links with a velocity of their own: u+ = keep u + push (p_i - p_j) - pull x.

    A link between two chunks stands twice, and gives (into_first, into_second) to one cell each time; the second ones
    follow after all the first ones. chunk : (chunk + 1,) bounds in order (link,), the links of each chunk.
    """

    first: Integer
    second: Integer
    keep: Real
    push: Real
    pull: Real
    into_first: Real
    into_second: Real
    chunk: Integer
    order: Integer


class PointTables(NamedTuple):
    """Sources and seats as (cell, weight) lists. source_pointer : (lane + 1,); seat_pointer : (seat + 1,)
    every : steps between the samples of the seats that are kept; drive_chunk : (chunk + 1,) bounds in drive_spot,
    drive_weight: the sources once more by chunk, spot being cell times lanes plus lane."""

    source_pointer: Integer
    source_cell: Integer
    source_weight: Real
    signal: Real
    seat_pointer: Integer
    seat_cell: Integer
    seat_weight: Real
    every: int
    drive_chunk: Integer
    drive_spot: Integer
    drive_weight: Real


class MapTables(NamedTuple):
    """Running Fourier sums: every `stride` steps add p cos and p sin, phases (sample, frequency)."""

    stride: int
    cosine: Real
    sine: Real


class State(NamedTuple):
    """Everything that changes. p_now, p_before : (cell, lane); sums for S = sum strength v of the step before.

    map_kept : (sample, cell, lane) samples of the field until they are added to the map sums (CPU only)."""

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
    map_kept: Real
