"""Boundary cells sorted into blocks of like ones, whose coefficients the kernel reads once for many cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SHORTEST_BLOCK = 3
"""Like cells; fewer go by the general rule."""
MOST_FACES = 3
"""Faces of a cell in a block; more are packed."""
BLOCK_WIDTH = 128
"""Numbers (cells times faces times excitations) that the kernel takes at once from a block."""
DIGITS = 12
"""Coefficients that agree to so many are the same but for rounding."""


@dataclass(frozen=True)
class Block:
    """Cells of one tile with `faces` faces of one branch each, alike face by face."""

    tile: int
    faces: int
    cells: NDArray[np.int64]


def sort_cells(cell: NDArray, alike: NDArray, eligible: NDArray, bounds: NDArray) -> list[Block]:
    """Blocks by tile, then by number of faces.

    cell : (face,) ascending; alike : (face,) equal for faces that have the same coefficients; eligible : (cell,) which
    may be in a block; bounds : (tile + 1,) in cells
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
        tiles = table[0, np.concatenate([[0], cuts])]
        blocks += [Block(int(c), faces, x) for c, x in zip(tiles, parts, strict=True) if len(x) >= SHORTEST_BLOCK]
    return sorted(blocks, key=lambda block: (block.tile, block.faces))


def numbered(columns: list[NDArray]) -> NDArray[np.int64]:
    """(row,) the same number for rows whose columns agree but for rounding."""
    rounded = [np.round(x / max(np.abs(x).max(initial=0.0), 1e-300), DIGITS) for x in columns]
    return np.asarray(np.unique(np.column_stack(rounded), axis=0, return_inverse=True)[1].ravel(), dtype=np.int64)


def block_fields(
    blocks: list[Block], faces: dict[str, NDArray], simple: int, denominator: NDArray, tiles: int
) -> dict[str, NDArray]:
    """Fields of `FaceTables` that are about blocks.

    faces : its other fields; its rows begin with the simple blocks, `simple` cells, then come the others
    denominator : (boundary cell, excitation)
    """
    groups = [b for b in blocks if b.faces == 1], [b for b in blocks if b.faces > 1]
    bounds = [np.concatenate([[0], np.cumsum([len(b.cells) for b in group])]).astype(np.int64) for group in groups]
    bounds[1] += simple
    tile = [np.searchsorted([b.tile for b in group], np.arange(tiles + 1)) for group in groups]
    excitations = faces["a"].shape[1]
    width = excitations * max(MOST_FACES, BLOCK_WIDTH // excitations)
    kinds, tables = [], []
    for group, first in zip(groups, bounds, strict=True):
        known: dict[tuple, int] = {}
        rows: list[NDArray] = []
        kinds.append(np.zeros(len(group), dtype=np.int64))
        for k, block in enumerate(group):
            f0 = faces["pointer"][first[k]]
            mine = slice(f0, f0 + block.faces)
            key = (tuple(faces["kind"][mine].tolist()), tuple(f"{s:.{DIGITS}g}" for s in faces["strength"][mine]))
            if key not in known:
                known[key] = len(rows)
                rows.append(_row(faces, mine, 1.0 / denominator[first[k]], width))
            kinds[-1][k] = known[key]
        tables.append(np.array(rows, dtype=float).reshape(-1, 5, width))
    return {
        "block_tile": tile[0],
        "block_first": bounds[0],
        "block_strength": faces["strength"][faces["pointer"][bounds[0][:-1]]],
        "block_kind": kinds[0],
        "block_table": np.ascontiguousarray(tables[0][:, [0, 1, 2, 4]]),
        "edge_tile": tile[1],
        "edge_first": bounds[1],
        "edge_faces": np.array([b.faces for b in groups[1]], dtype=np.int64),
        "edge_kind": kinds[1],
        "edge_table": tables[1],
    }


def _row(faces: dict[str, NDArray], mine: slice, inverse: NDArray, width: int) -> NDArray[np.float64]:
    """(5, width) a, b, g, strength by face and excitation, and inverse by excitation, repeated as often as they fit."""
    branch, excitations = faces["first"][faces["kind"][mine]], faces["a"].shape[1]
    number = excitations * len(branch)
    values = [faces[name][branch].ravel() for name in ("a", "b", "g")]
    values += [np.repeat(faces["strength"][mine], excitations), inverse]
    row = np.zeros((5, width))
    for k, value in enumerate(values):
        times = width // number
        row[k, : times * len(value)] = np.tile(value, times)
    return row
