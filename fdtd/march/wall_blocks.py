"""Boundary cells sorted into blocks of like ones, whose coefficients the kernel reads once for many cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.tables import FaceTables

SHORTEST_BLOCK = 3
"""Like cells; fewer go by the general rule."""
MOST_FACES = 3
"""Faces of a cell in a block; more are rare."""
BLOCK_WIDTH = 128
"""Numbers (cells times faces times lanes) that the kernel takes at once from a block."""
DIGITS = 12
"""Coefficients that agree to so many are the same but for rounding."""


@dataclass(frozen=True)
class Block:
    """Cells of one chunk with `faces` faces of one branch each, alike face by face."""

    chunk: int
    faces: int
    cells: NDArray[np.int64]


def sort_cells(cell: NDArray, alike: NDArray, eligible: NDArray, bounds: NDArray) -> list[Block]:
    """Blocks by chunk, then by number of faces.

    cell : (face,) ascending; alike : (face,) equal for faces that have the same coefficients; eligible : (cell,) which
    may be in a block; bounds : (chunk + 1,) in cells
    """
    cells, first, count = np.unique(cell, return_index=True, return_counts=True)
    blocks: list[Block] = []
    for faces in range(1, MOST_FACES + 1):
        mine = np.flatnonzero((count == faces) & eligible[cells])
        keys = [np.searchsorted(bounds, cells[mine], side="right") - 1, *(alike[first[mine] + f] for f in range(faces))]
        order = np.lexsort((cells[mine], *keys[::-1]))
        if len(order) == 0:
            continue
        table = np.stack(keys)[:, order]
        cuts = np.flatnonzero((table[:, 1:] != table[:, :-1]).any(axis=0)) + 1
        parts = np.split(cells[mine][order], cuts)
        chunks = table[0, np.concatenate([[0], cuts])]
        blocks += [Block(int(c), faces, x) for c, x in zip(chunks, parts, strict=True) if len(x) >= SHORTEST_BLOCK]
    return sorted(blocks, key=lambda block: (block.chunk, block.faces))


def side_by_side(cell: NDArray) -> NDArray[np.int64]:
    """(row,) how many rows from each on, itself included, are of cells that follow each other."""
    ends = np.append(np.flatnonzero(np.diff(cell) != 1), len(cell) - 1)
    rows = np.arange(len(cell))
    return np.asarray(ends[np.searchsorted(ends, rows)] - rows + 1, dtype=np.int64)


def numbered(columns: list[NDArray]) -> NDArray[np.int64]:
    """(row,) the same number for rows whose columns agree but for rounding."""
    rounded = [np.round(x / max(np.abs(x).max(initial=0.0), 1e-300), DIGITS) for x in columns]
    return np.asarray(np.unique(np.column_stack(rounded), axis=0, return_inverse=True)[1].ravel(), dtype=np.int64)


def block_fields(blocks: list[Block], faces: FaceTables, denominator: NDArray, chunks: int, real: type) -> FaceTables:
    """`faces` with the tables of its blocks; its rows begin with the simple blocks, then come the others.

    denominator : (boundary cell, lane)
    """
    simple, edges = [b for b in blocks if b.faces == 1], [b for b in blocks if b.faces > 1]
    bounds = [
        np.concatenate([[0], np.cumsum([len(b.cells) for b in group])]).astype(np.int64) for group in (simple, edges)
    ]
    bounds[1] += faces.simple
    chunk = [np.searchsorted([b.chunk for b in group], np.arange(chunks + 1)) for group in (simple, edges)]
    lanes = faces.a.shape[1]
    width = lanes * max(MOST_FACES, BLOCK_WIDTH // lanes)
    kinds, tables = [], []
    for group, first in ((simple, bounds[0]), (edges, bounds[1])):
        known: dict[tuple, int] = {}
        rows: list[NDArray] = []
        kinds.append(np.zeros(len(group), dtype=np.int64))
        for k, block in enumerate(group):
            f0 = faces.pointer[first[k]]
            mine = slice(f0, f0 + block.faces)
            key = (tuple(faces.kind[mine].tolist()), tuple(f"{s:.{DIGITS}g}" for s in faces.strength[mine]))
            if key not in known:
                known[key] = len(rows)
                rows.append(_row(faces, mine, 1.0 / denominator[first[k]], width))
            kinds[-1][k] = known[key]
        tables.append(np.array(rows, dtype=float).reshape(-1, 5, width))
    return faces._replace(
        simple_chunk=bounds[0][chunk[0]],
        block_chunk=chunk[0],
        block_first=bounds[0],
        block_strength=faces.strength[faces.pointer[bounds[0][:-1]]],
        block_kind=kinds[0],
        block_table=np.ascontiguousarray(tables[0][:, [0, 1, 2, 4]]).astype(real),
        edge_chunk=chunk[1],
        edge_first=bounds[1],
        edge_faces=np.array([b.faces for b in edges], dtype=np.int64),
        edge_kind=kinds[1],
        edge_table=tables[1].astype(real),
    )


def _row(faces: FaceTables, mine: slice, inverse: NDArray, width: int) -> NDArray[np.float64]:
    """(5, width) a, b, g, strength by face and lane, and inverse by lane, repeated as often as they fit."""
    branch, lanes = faces.first[faces.kind[mine]], faces.a.shape[1]
    number = lanes * len(branch)
    values = [x[branch].ravel() for x in (faces.a, faces.b, faces.g)]
    values += [np.repeat(faces.strength[mine], lanes), inverse]
    row = np.zeros((5, width))
    for k, value in enumerate(values):
        times = width // number
        row[k, : times * len(value)] = np.tile(value, times)
    return row
