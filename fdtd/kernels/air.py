"""The air: p+ of every cell from its neighbours, over the value of the step before last (theory.md, eq. 5)."""

from __future__ import annotations

from typing import Any

import numba

from fdtd.kernels.compiled import inline, place, steady
from fdtd.kernels.tables import OWN_CODE


@steady
def plain_rows(p, q, along, start, begin, end, count, parts, part, first, excitations, offsets, weights):
    """For rows begin <= r < end and numbers 0 <= t < count of each, with o = start[r] excitations:

    q[o + t] = sum along[k, first + t] p[o + t + excitations (0, -1, 1, -2, 2)[k]]
               + sum weights[k] p[o + offsets[k] + t] + weights[8] p[o + t] - q[o + t]

    along : as in `AirTables`; parts, part : where its weights are alike, for vectors of them (`machine_code`)
    offsets : 8 int64, of the rows across; weights : 9, of those eight and of the row itself
    """
    w0, w1, w2, w3, w4, w5, w6, w7, own = weights
    o0, o1, o2, o3, o4, o5, o6, o7 = offsets
    width, times = place(excitations), 1 if excitations in OWN_CODE else excitations
    for r in range(begin, end):
        for cell in range(place(count // excitations)):
            base, f = place(start[r]) * width + cell * width, place(first) + cell * place(times)
            c0, c1, c2, c3, c4 = along[0, f] + own, along[1, f], along[2, f], along[3, f], along[4, f]
            for t in range(base, base + width):
                total = c0 * p[t] - q[t] + c1 * p[t - width] + c2 * p[t + width]
                total += c3 * p[t - place(2) * width] + c4 * p[t + place(2) * width]
                total += w0 * p[t + o0] + w1 * p[t + o1] + w2 * p[t + o2] + w3 * p[t + o3]
                q[t] = total + w4 * p[t + o4] + w5 * p[t + o5] + w6 * p[t + o6] + w7 * p[t + o7]


_rows: Any = plain_rows
if not getattr(numba.config, "DISABLE_JIT", False):
    try:
        from fdtd.kernels.machine_code import stencil_rows as _rows
    except ImportError:
        pass


@inline
def _advance_bundle(p, q, excitations, air, k):
    """Rows that differ only in where they stand, over cells and excitations at once."""
    off, w = air.bundle_offset, air.bundle_weight
    offsets = (
        off[k, 0] * excitations,
        off[k, 1] * excitations,
        off[k, 2] * excitations,
        off[k, 3] * excitations,
        off[k, 4] * excitations,
        off[k, 5] * excitations,
        off[k, 6] * excitations,
        off[k, 7] * excitations,
    )
    weights = (w[k, 0], w[k, 1], w[k, 2], w[k, 3], w[k, 4], w[k, 5], w[k, 6], w[k, 7], w[k, 8])
    part = (air.bundle_part[k, 0], air.bundle_part[k, 1])
    _rows(
        p,
        q,
        air.along,
        air.run_start,
        air.bundle_first[k],
        air.bundle_first[k + 1],
        air.bundle_length[k] * excitations,
        air.part,
        part,
        air.bundle_profile[k],
        excitations,
        offsets,
        weights,
    )


@steady
def advance_air(p, q, excitations, air, tile):
    """The cells of one tile: runs, single cells and those with many neighbours."""
    for k in range(air.bundle_tile[tile], air.bundle_tile[tile + 1]):
        _advance_bundle(p, q, excitations, air, k)
    for s in range(air.single_tile[tile], air.single_tile[tile + 1]):
        cell, row = air.single_cell[s], place(air.single_row[s])
        for excitation in range(place(excitations)):
            base = place(cell * excitations) + excitation
            total = air.weight_table[row, 0] * p[base] - q[base]
            for k in range(12):
                other = place((cell + air.single_offset[place(s), k]) * excitations) + excitation
                total += air.weight_table[row, k + 1] * p[other]
            q[base] = total
    for s in range(air.rest_tile[tile], air.rest_tile[tile + 1]):
        base = air.rest_cell[s] * excitations
        for excitation in range(excitations):
            total = air.rest_centre[s] * p[base + excitation] - q[base + excitation]
            for k in range(air.rest_pointer[s], air.rest_pointer[s + 1]):
                total += air.rest_value[k] * p[air.rest_column[k] * excitations + excitation]
            q[base + excitation] = total
