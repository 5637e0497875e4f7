"""The air: p+ of every cell from its neighbours, over the value of the step before last (theory.md, eq. 5)."""

from __future__ import annotations

from fdtd.kernels.compiled import inline, place, steady
from fdtd.kernels.rows import plain_rows, stencil_rows
from fdtd.kernels.vectors import uncompiled

_rows = plain_rows if uncompiled else stencil_rows


@inline
def _advance_bundle(p, q, lanes, air, k):
    """Rows that differ only in where they stand, over cells and lanes at once."""
    off, w = air.bundle_offset, air.bundle_weight
    offsets = (
        off[k, 0] * lanes, off[k, 1] * lanes, off[k, 2] * lanes, off[k, 3] * lanes,
        off[k, 4] * lanes, off[k, 5] * lanes, off[k, 6] * lanes, off[k, 7] * lanes,
    )  # fmt: skip
    weights = (w[k, 0], w[k, 1], w[k, 2], w[k, 3], w[k, 4], w[k, 5], w[k, 6], w[k, 7], w[k, 8])
    part = (air.bundle_part[k, 0], air.bundle_part[k, 1])
    _rows(
        p, q, air.along, air.run_start, air.bundle_first[k], air.bundle_first[k + 1], air.bundle_length[k] * lanes,
        air.part, part, air.bundle_profile[k], lanes, offsets, weights,
    )  # fmt: skip


@steady
def advance_air(p, q, lanes, air, chunk):
    """The cells of one chunk: runs, single cells and those with many neighbours."""
    for k in range(air.bundle_chunk[chunk], air.bundle_chunk[chunk + 1]):
        _advance_bundle(p, q, lanes, air, k)
    for s in range(air.single_chunk[chunk], air.single_chunk[chunk + 1]):
        cell, row = air.single_cell[s], place(air.single_row[s])
        for lane in range(place(lanes)):
            base = place(cell * lanes) + lane
            total = air.weight_table[row, 0] * p[base] - q[base]
            for k in range(12):
                other = place((cell + air.single_offset[place(s), k]) * lanes) + lane
                total += air.weight_table[row, k + 1] * p[other]
            q[base] = total
    for s in range(air.rest_chunk[chunk], air.rest_chunk[chunk + 1]):
        base = air.rest_cell[s] * lanes
        for lane in range(lanes):
            total = air.rest_centre[s] * p[base + lane] - q[base + lane]
            for k in range(air.rest_pointer[s], air.rest_pointer[s + 1]):
                total += air.rest_value[k] * p[air.rest_column[k] * lanes + lane]
            q[base + lane] = total
