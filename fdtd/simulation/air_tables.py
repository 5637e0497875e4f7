"""From the sparse operator to rows that the kernel walks: runs of like cells, single cells, and the rest."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.tables import AirTables, repeated, vector_size
from fdtd.model.problem import Problem
from fdtd.simulation.air_parts import row_parts
from fdtd.simulation.air_rows import DIGITS, Profiles, Rows, like_rows, rows_of
from fdtd.simulation.tiles import aligned_zeros, tile_bounds

LONG_ROW = 16
"""Numbers (cells times excitations); shorter rows are better joined to the next ones."""
BLOCK = 16_384
"""Cells whose rows are looked at together, at least: about 2 kB each while it lasts."""


def air_tables(problem: Problem, excitations: int, tiles: int, real: type) -> AirTables:
    """Rows of p+ = 2 p - p- - c² dt² V⁻¹ K p (theory.md, eq. 5), in `tiles` tiles."""
    bounds = tile_bounds(problem, tiles)
    profiles = Profiles()
    rows = _joined(problem, _cuts(problem, bounds, excitations), profiles)
    along = profiles.along()
    times = repeated(excitations)
    aligned = aligned_zeros((5, along.shape[1] * times), real)
    aligned[:] = np.repeat(along, times, axis=1)
    rows, first = _bundled(rows, bounds)
    lead = first[:-1]
    bundle_part, part = row_parts(along, rows.run_profile[lead], rows.run_length[lead], excitations, vector_size(real))
    same = {name: value for name, value in rows._asdict().items() if name in AirTables._fields}
    own = {name: value.astype(real) if value.dtype.kind == "f" else value for name, value in same.items()}
    return AirTables(
        **own,
        bundle_first=first,
        bundle_length=rows.run_length[lead],
        bundle_offset=rows.run_offset[lead],
        bundle_weight=rows.run_weight[lead].astype(real),
        bundle_profile=rows.run_profile[lead] * times,
        bundle_part=bundle_part,
        part=part,
        along=aligned,
        rest_pointer=np.concatenate([[0], np.cumsum(rows.rest_count)]),
        bundle_tile=np.searchsorted(rows.run_start[lead], bounds),
        single_tile=np.searchsorted(rows.single_cell, bounds),
        rest_tile=np.searchsorted(rows.rest_cell, bounds),
        cell_tile=bounds,
    )


def _bundled(rows: Rows, bounds: NDArray) -> tuple[Rows, NDArray[np.int64]]:
    """The runs of each tile in an order in which like ones follow each other; (bundle + 1,) bounds of those."""
    tile = np.searchsorted(bounds, rows.run_start, side="right")
    fields = (tile, rows.run_length, rows.run_profile, rows.run_offset, rows.run_weight.round(DIGITS))
    _, lead, kind = np.unique(np.column_stack(fields), axis=0, return_index=True, return_inverse=True)
    order = np.argsort(lead[kind.ravel()], kind="stable")  # bundles in the order of their first runs
    first = np.flatnonzero(np.diff(lead[kind.ravel()][order], prepend=-1, append=-1))
    runs = {name: value[order] for name, value in rows._asdict().items() if name.startswith("run_")}
    return rows._replace(**runs), first


def _joined(problem: Problem, cuts: NDArray[np.int64], profiles: Profiles) -> Rows:
    """The rows of all cells, a block at a time to save memory; blocks end at cuts, so that no run is torn."""
    count = len(problem.cells.volume)
    wanted = np.searchsorted(cuts, np.arange(BLOCK, count, BLOCK))
    ends = np.unique(np.concatenate([[0], cuts[wanted], [count]]))
    parts = [rows_of(problem, int(a), int(b), cuts, profiles) for a, b in zip(ends[:-1], ends[1:], strict=True)]
    table, kind = like_rows(np.concatenate([part.weight_table for part in parts]))
    begins = np.cumsum([0, *(len(part.weight_table) for part in parts)])
    single = [kind[part.single_row + begin] for part, begin in zip(parts, begins, strict=False)]
    joined = Rows(*(np.concatenate(column) for column in zip(*parts, strict=True)))
    return joined._replace(single_row=np.concatenate(single), weight_table=table)


def _cuts(problem: Problem, bounds: NDArray, excitations: int) -> NDArray[np.int64]:
    """Cells at which runs end whatever follows, 0 and the number of cells among them: bounds of tiles, and ends of
    long rows, so that like rows begin and end alike."""
    index, count = problem.cells.index, len(problem.cells.volume)
    rows = np.flatnonzero(np.concatenate([[True], (index[1:, 1:] != index[:-1, 1:]).any(axis=1)]))
    long = np.diff(np.append(rows, count)) * excitations >= LONG_ROW
    # The kernel reads two cells beyond either end of a run: the very first and last cells stay single.
    ends = np.clip([1, 2, count - 2, count - 1], 0, count)
    return np.unique(np.concatenate([bounds, rows[long], rows[np.concatenate([[False], long[:-1]])], ends]))
