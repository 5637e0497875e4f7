"""Parts of rows: stretches of whole vectors whose weights along the row are all the same, and those between."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.tables import repeated
from fdtd.simulation.air_rows import SAME_WEIGHT

LEAST = 2
"""Vectors with the same weights along the row; fewer are not worth a part of their own."""


def row_parts(
    along: NDArray, profile: NDArray, length: NDArray, excitations: int, size: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """(row, 2) bounds in parts of each kind of row, and the parts, (part, 2), as in `AirTables`.

    along : (5, ...) for one excitation; profile, length : (row,) where a row's weights begin and how many cells it has;
    size : numbers in a vector. What is left after the last whole vector belongs to no part.
    """
    changes = np.flatnonzero(np.abs(np.diff(along, axis=1)).max(axis=0) > SAME_WEIGHT) + 1
    known: dict[tuple[int, int], tuple[int, int]] = {}
    parts: list[tuple[int, int]] = []
    bounds = np.zeros((len(profile), 2), dtype=np.int64)
    for row, kind in enumerate(zip(profile.tolist(), length.tolist(), strict=True)):
        if kind not in known:
            fitting = size if kind[1] * excitations >= size else size // 2
            begin, end = kind[0], kind[0] + kind[1]
            inside = changes[np.searchsorted(changes, begin, side="right") : np.searchsorted(changes, end)]
            added = _parts((np.append(inside, end) - begin) * excitations, excitations, fitting)
            known[kind] = len(parts), len(parts) + len(added)
            parts += added
        bounds[row] = known[kind]
    return bounds, np.array(parts, dtype=np.int64).reshape(-1, 2)


def _parts(ends: NDArray[np.int64], excitations: int, size: int) -> list[tuple[int, int]]:
    """The parts of one row; ends : numbers at which stretches of equal weights end, the last with the row."""
    parts: list[tuple[int, int]] = []
    t = 0
    for end in ends.tolist():
        whole = (end - t) // size
        if whole >= LEAST:
            parts.append((t + whole * size, t // excitations * repeated(excitations)))
            t += whole * size
        while t < end and t + size <= ends[-1]:  # a vector in which the weights change
            t += size
            if parts and parts[-1][1] < 0:
                parts[-1] = (t, -1)
            else:
                parts.append((t, -1))
    return parts
