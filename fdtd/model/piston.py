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
"""m; a face this close to the end of its cells reaches it."""


class ColumnExcess:
    """How much too deep the air columns under absorbers are; `of(face, cover, depth)` is the whole use of it."""

    def __init__(self, cells: Cells) -> None:
        self.cells, self.size, self.centre = cells, cells.size, cells.centre
        links = cells.links
        self.linked = np.zeros((len(cells.volume), 3, 2), dtype=bool)
        for side, way in ((0, 1), (1, 0)):
            through = (links.thin_partition < 0) & (links.area > 0.0)
            self.linked[links.cells[through, side], links.axis[through], way] = True
        faces = cells.faces
        corners = np.concatenate(faces.outline)
        count = np.array([len(outline) for outline in faces.outline], dtype=np.int64)
        first: NDArray[np.int64] = np.cumsum(count) - count
        self.low, self.high = np.minimum.reduceat(corners, first), np.maximum.reduceat(corners, first)
        self.known: dict[tuple[int, Cover], tuple[int, int]] = {}

    def of(self, face: int, cover: Cover, depth: float) -> float:
        """What the air column, `depth` m, of a face under `cover` has in excess, m; always less than `depth`
        (theory.md, eq. 15)."""
        faces = self.cells.faces
        normal = int(faces.axis[face])
        if normal < 0:
            return 0.0
        cell = self.size[faces.cell[face]]
        across = [axis for axis in range(3) if axis != normal]
        key = (int(faces.surface[face]), cover)
        if key not in self.known:
            self.known[key] = (self._walls(*key, 0, across[0]), self._walls(*key, 1, across[1]))
        parts = []
        for k, axis in enumerate(across):
            # One wall mirrors the face; between two walls there is no edge for the air to flow round.
            walls = self.known[key][k]
            n = max((1 + walls) * (cover.upper[k] - cover.lower[k]) / cell[axis], 1.0)
            parts.append(0.0 if walls == 2 else (0.406 + 0.33 * np.log(n)) / n)
        return float(min(cell[normal] * 0.5 * sum(parts), (1.0 - SMALLEST_SHARE) * depth))

    def _walls(self, surface: int, cover: Cover, k: int, axis: int) -> int:
        """At how many of the two ends of `cover` along its coordinate `k` something hard rises from the surface."""
        faces = self.cells.faces
        mine = np.flatnonzero(faces.surface == surface)
        inside = (self.low[mine] < np.array(cover.upper) - TOUCHING) & (
            self.high[mine] > np.array(cover.lower) + TOUCHING
        )
        mine = mine[inside.all(axis=1)]
        place, middle = self.centre[faces.cell[mine], axis], 0.5 * (self.low[mine, k] + self.high[mine, k])
        # A wall's own coordinate may run against the room's axis.
        against = np.sum((place - place.mean()) * (middle - middle.mean())) < 0.0
        count = 0
        for end, at in ((0, self.low[mine, k]), (1, -self.high[mine, k])):
            last = mine[at < at.min() + TOUCHING]
            reaches = (cover.lower[k], -cover.upper[k])[end] - at.min() < TOUCHING
            blocked = ~self.linked[faces.cell[last], axis, end if not against else 1 - end]
            count += int(reaches and blocked.mean() > 0.5)
        return count
