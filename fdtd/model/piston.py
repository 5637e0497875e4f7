"""Air mass in front of a small moving face: what the cells carry too much of, against a piston of the true shape.

A static solve of the scheme in front of a square face of n x n cells in a rigid wall, compared with the mass of a
rectangular piston in a baffle, leaves an excess that h (0.406 + 0.33 ln n) / n of air column describes within 3 % for
n = 1 to 12 on cubic cells (h : m, cell depth). For cells that are not cubic the depth counts; the fit is then rougher
(some 10 %), of a correction that is itself some tenths of the mass. Both numbers are ours; tests/exact holds
them against finite elements.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.grid.cells import Cells
from fdtd.model.overlay import Cover

SMALLEST_SHARE = 0.1
"""Share of the air column that always stays, so that every face keeps a mass."""
TOUCHING = 1e-6
"""m; a face this close to the end of its surface touches the next one."""


class ColumnExcess:
    """How much too deep the air columns under absorbers are; `of(face, cover, depth)` is the whole use of it."""

    def __init__(self, cells: Cells) -> None:
        self.cells, self.size = cells, cells.size
        self.extent: dict[int, tuple[NDArray, NDArray]] = {}
        faces = cells.faces
        for surface in range(len(cells.surfaces)):
            outlines = [faces.outline[k] for k in np.flatnonzero(faces.surface == surface)]
            corners = np.concatenate(outlines)
            self.extent[surface] = corners.min(axis=0), corners.max(axis=0)

    def of(self, face: int, cover: Cover, depth: float) -> float:
        """What the air column, `depth` m, of a face under `cover` has in excess, m; always less than `depth`."""
        faces = self.cells.faces
        normal = int(faces.axis[face])
        if normal < 0:
            return 0.0
        cell = self.size[faces.cell[face]]
        across = [axis for axis in range(3) if axis != normal]
        counts = []
        for k, axis in enumerate(across):
            width = cover.upper[k] - cover.lower[k]
            if self._mirrored(int(faces.surface[face]), cover, k):
                width *= 2.0
            counts.append(max(width / cell[axis], 1.0))
        excess = cell[normal] * np.mean([(0.406 + 0.33 * np.log(n)) / n for n in counts])
        return float(min(excess, (1.0 - SMALLEST_SHARE) * depth))

    def _mirrored(self, surface: int, cover: Cover, k: int) -> bool:
        """Whether the cover reaches an edge of its surface where another surface rises at a right angle."""
        low, high = self.extent[surface]
        at_low = cover.lower[k] - low[k] < TOUCHING
        at_high = high[k] - cover.upper[k] < TOUCHING
        if self.cells.surfaces[surface].startswith("block "):
            return bool(at_low and k == 1 and low[k] < TOUCHING)
        return bool(at_low or at_high)
