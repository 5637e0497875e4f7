"""Tables that the time step reads and writes. All real arrays share one dtype; the last axis is the excitation.

Symbols: p pressure (Pa), v face velocity into the wall (m/s), x its integral (m), u velocity of an impedance link
(m/s).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.floating]
Integer = NDArray[np.integer]

SLOTS = 12
ACROSS = 8


VECTOR_BYTES = 32
"""Of a vector; with longer ones the weights do not fit in the registers of most machines."""
OWN_CODE = (1, 8)
"""Numbers of excitations that have code of their own, the most usual ones: one, or whole vectors of them."""


def vector_size(real: type) -> int:
    """Numbers in a vector."""
    return VECTOR_BYTES // np.dtype(real).itemsize


def repeated(excitations: int) -> int:
    """How often each weight stands in `AirTables.along`."""
    return 1 if excitations in OWN_CODE else excitations


class AirTables(NamedTuple):
    """Rows of the air update p+ = w0 p + sum_k w_k p[i + offset_k] - p-.

    Runs are cells in a row that differ only in their weights along it: run_start (run,). Bundles are runs of one tile
    that differ only in where they start, and follow each other here even where others start between them:
    bundle_first (bundle + 1,) bounds in runs; length (bundle,); offset (bundle, 8) of the neighbours across the row,
    weight (bundle, 9) of those and what they add to the weight of the cell itself; profile (bundle,) start of the
    weights in the five `along` arrays (for p[i], p[i - 1], p[i + 1], p[i - 2], p[i + 2]), which rows of like spacing
    share, each value once or once an excitation (`rows.repeated`). bundle_part (bundle, 2) : bounds in parts; part
    (part, 2) : stretches of whole vectors of a run: the number (cells times excitations) at which each ends, and, where
    all its weights along the row are the same, their place after `profile`, else -1. What is left of a run after its
    last whole vector belongs to no part.
    Singles: cell (n,), offset (n, 12), row (n,) into weight_table (row, 13).
    Rest: rows with more than 12 neighbours, as (cell, pointer, column, value, centre).

    Chunks are stretches of cells that are advanced together, by one thread, while they are in the cache; runs end at
    their bounds. cell_tile, bundle_tile, single_tile, rest_tile : (tile + 1,) bounds in cells, bundles, singles,
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
    bundle_tile: Integer
    single_tile: Integer
    rest_tile: Integer
    cell_tile: Integer


class FaceTables(NamedTuple):
    """Local wall faces, grouped by cell: first the simple cells (one face, one branch: row = face = state), then the
    general ones, last the cells of ports; the first two by tile, simple ones within it in blocks of like faces.

    cell : (boundary cell,); pointer : (boundary cell + 1,) into the faces; strength : (face,) c² dt rho A / (2 V)
    kind : (face,) admittance class; state : (face,) first branch state of the face
    Classes: coupling, damping, mass (class, excitation), first (class + 1,) into branch rows; a, b, g (branch row,
    excitation)
    simple, free : number of simple cells, of cells that belong to no port
    tile : bounds of the tiles within the general cells
    block_tile : (tile + 1,) bounds in blocks; block_first : (block + 1,) bounds in simple cells; block_strength,
    block_kind : (block,) into block_table (kind, 4, width): a, b, g and 1/(1 + strength a) of a cell's
    excitations, over and over
    edge_tile, edge_first : likewise for the blocks of cells with edge_faces (block,) faces of one branch each, which
    come after the simple cells; edge_kind : (block,) into edge_table (kind, 5, width): a, b, g and strength of the
    cell's faces and excitations, over and over, and inverse of its excitations
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
    tile: Integer
    block_tile: Integer
    block_first: Integer
    block_strength: Real
    block_kind: Integer
    block_table: Real
    edge_tile: Integer
    edge_first: Integer
    edge_faces: Integer
    edge_kind: Integer
    edge_table: Real


class ControlTables(NamedTuple):
    """State spaces in parallel to the branches of ports: x+ = matrix x + drive (p+ + p), v+ = read x+.

    size : (port,) states; matrix : (port, state, state, excitation); drive, read, past (read times matrix) :
    (port, state, excitation)
    """

    size: Integer
    matrix: Real
    drive: Real
    read: Real
    past: Real


class PortTables(NamedTuple):
    """Faces that move as one: members pointer (port + 1,), boundary (member,) row in `FaceTables.cell`,
    share (member,) of the port's area, strength (member,); class rows as for faces; solve (excitation, port, port); the
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
    """Impedance links with a velocity of their own: u+ = keep u + push (p_i - p_j) - pull x.

    A link between two tiles stands twice, and gives (into_first, into_second) to one cell each time; the second ones
    follow after all the first ones. tile : (tile + 1,) bounds in order (link,), the links of each tile.
    """

    first: Integer
    second: Integer
    keep: Real
    push: Real
    pull: Real
    into_first: Real
    into_second: Real
    tile: Integer
    order: Integer


class PointTables(NamedTuple):
    """Sources and seats as (cell, weight) lists. source_pointer : (excitation + 1,); seat_pointer : (seat + 1,)
    every : steps between the samples of the seats that are kept; drive_tile : (tile + 1,) bounds in drive_spot,
    drive_weight: the sources once more by tile, spot being cell times excitations plus excitation."""

    source_pointer: Integer
    source_cell: Integer
    source_weight: Real
    signal: Real
    seat_pointer: Integer
    seat_cell: Integer
    seat_weight: Real
    every: int
    drive_tile: Integer
    drive_spot: Integer
    drive_weight: Real


class MapTables(NamedTuple):
    """Running Fourier sums: every `stride` steps add p cos and p sin, phases (sample, frequency)."""

    stride: int
    cosine: Real
    sine: Real


class Tables(NamedTuple):
    """All that a simulation reads."""

    air: AirTables
    faces: FaceTables
    ports: PortTables
    links: LinkTables
    points: PointTables
    maps: MapTables


class State(NamedTuple):
    """Everything that changes. p_now, p_before : (cell, excitation); sums for S = sum strength v of the step before.

    map_kept : (sample, cell, excitation) samples of the field until they are added to the map sums (CPU only)."""

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
