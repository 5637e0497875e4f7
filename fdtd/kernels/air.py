"""The air: p+ of every cell from its neighbours, over the value of the step before last (theory.md, eq. 5)."""

from __future__ import annotations

from fdtd.kernels.compiled import inline, place, steady
from fdtd.kernels.rows import plain_rows, stencil_rows
from fdtd.kernels.vectors import uncompiled

_rows = plain_rows if uncompiled else stencil_rows


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
