"""The air: p+ of every cell from its neighbours, over the value of the step before last."""

from __future__ import annotations

import numba

from fdtd.kernels.compiled import inline, place, steady
from fdtd.kernels.rows import plain_pair, plain_row, stencil_pair, stencil_row

_uncompiled: bool = getattr(numba.config, "DISABLE_JIT", False)
_row = plain_row if _uncompiled else stencil_row
_pair = plain_pair if _uncompiled else stencil_pair


@inline
def _one(p, q, lanes, air, r):
    """One run of cells, over cells and lanes at once."""
    o, off, w = air.run_start[r] * lanes, air.run_offset, air.run_weight
    places = (
        o, o + off[r, 0] * lanes, o + off[r, 1] * lanes, o + off[r, 2] * lanes, o + off[r, 3] * lanes,
        o + off[r, 4] * lanes, o + off[r, 5] * lanes, o + off[r, 6] * lanes, o + off[r, 7] * lanes,
    )  # fmt: skip
    weights = (w[r, 0], w[r, 1], w[r, 2], w[r, 3], w[r, 4], w[r, 5], w[r, 6], w[r, 7], w[r, 8])
    _row(p, q, air.along, air.run_length[r] * lanes, air.run_profile[r], lanes, places, weights)


@inline
def _two(p, q, lanes, air, r, s):
    """A run and its mate s beside it."""
    a, b, off, w = air.run_start[r] * lanes, air.run_start[s] * lanes, air.run_offset, air.run_weight
    places = (
        a, b, a + off[r, 2] * lanes, a + off[r, 3] * lanes, b + off[s, 4] * lanes, b + off[s, 5] * lanes,
        a + off[r, 0] * lanes, a + off[r, 1] * lanes, a + off[r, 6] * lanes, a + off[r, 7] * lanes,
        b + off[s, 0] * lanes, b + off[s, 1] * lanes, b + off[s, 6] * lanes, b + off[s, 7] * lanes,
    )  # fmt: skip
    weights = (
        w[r, 0], w[r, 1], w[r, 2], w[r, 3], w[r, 4], w[r, 5], w[r, 6], w[r, 7], w[r, 8],
        w[s, 0], w[s, 1], w[s, 2], w[s, 3], w[s, 4], w[s, 5], w[s, 6], w[s, 7], w[s, 8],
    )  # fmt: skip
    _pair(p, q, air.along, air.run_length[r] * lanes, air.run_profile[r], lanes, places, weights)


@steady
def advance_air(p, q, lanes, air, chunk):
    """The cells of one chunk: runs, single cells and those with many neighbours."""
    for r in range(air.run_chunk[chunk], air.run_chunk[chunk + 1]):
        mate = air.run_mate[r]
        if mate > r:
            _two(p, q, lanes, air, r, mate)
        elif mate < 0:
            _one(p, q, lanes, air, r)
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
