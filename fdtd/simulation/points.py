"""Sources and seats at arbitrary points: cubic interpolation, four cells an axis, mirrored at walls.

The source spreading is the transpose of the read-out, so exchanging a source and a seat changes nothing (reciprocity).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import GeometryError
from fdtd.grid.cells import Cells


class PointWeights:
    """Interpolation weights on the cells of one room; `weights(point)` is the whole use of it."""

    def __init__(self, cells: Cells) -> None:
        self.cells = cells
        self.table = cells.lookup()
        self.next = np.full((len(cells.volume), 3, 2), -1, dtype=np.int64)
        links = cells.links
        whole = (links.thin_partition < 0) & (links.area > 0.0)
        # Where several links leave one side (cells divided by thin walls) the widest counts.
        order = np.flatnonzero(whole)[np.argsort(links.area[whole], kind="stable")]
        (low, high), axis = links.cells[order].T, links.axis[order]
        self.next[low, axis, 1] = high
        self.next[high, axis, 0] = low

    def home(self, point: tuple[float, float, float]) -> int:
        """The cell that holds `point`; raises GeometryError if there is no air."""
        spot = [
            int(np.clip(np.searchsorted(e, v, side="right") - 1, 0, len(e) - 2))
            for e, v in zip(self.cells.edges, point, strict=True)
        ]
        cell = int(self.table[tuple(spot)])
        if cell >= 0:
            return cell
        if cell == -2:
            shared = np.flatnonzero((self.cells.index == spot).all(axis=1))
            return int(shared[np.argmin(((self.cells.centroid[shared] - point) ** 2).sum(axis=1))])
        raise GeometryError(f"there is no air at {tuple(point)}")

    def _walk(self, cell: int, axis: int, direction: int) -> tuple[list[int], list[float]]:
        """The two cells beyond `cell` and their (mirrored) positions along the axis."""
        width = np.diff(self.cells.edges[axis])
        found, at = [], self._centre(cell, axis)
        positions = []
        for _ in range(2):
            following = int(self.next[cell, axis, direction])
            here = width[self.cells.index[cell, axis]]
            if following < 0:
                direction_step = here
                direction = 1 - direction
                following = cell
            else:
                direction_step = 0.5 * (here + width[self.cells.index[following, axis]])
            at += direction_step
            found.append(following)
            positions.append(at)
            cell = following
        return found, positions

    def _centre(self, cell: int, axis: int) -> float:
        edges = self.cells.edges[axis]
        k = self.cells.index[cell, axis]
        return 0.5 * (edges[k] + edges[k + 1])

    def _along(self, cell: int, axis: int, value: float) -> list[tuple[int, float]]:
        """Cubic Lagrange weights of the four cells along one axis around `value` (theory.md, eq. 19)."""
        centre = self._centre(cell, axis)
        up_cells, up_at = self._walk(cell, axis, 1)
        down_cells, down_at = self._walk(cell, axis, 0)
        down_at = [2.0 * centre - v for v in down_at]
        first = int(value >= centre)
        cells = [*down_cells[::-1], cell, *up_cells][first : first + 4]
        at = np.array([*down_at[::-1], centre, *up_at])[first : first + 4]
        weights = [float(np.prod([(value - at[m]) / (at[k] - at[m]) for m in range(4) if m != k])) for k in range(4)]
        return list(zip(cells, weights, strict=True))

    def weights(self, point: tuple[float, float, float]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Cells and weights, adding up to 1, that interpolate the pressure at `point` (m).

        Raises GeometryError if the point is not in air.
        """
        total: dict[int, float] = {}
        for i, wx in self._along(self.home(point), 0, point[0]):
            for j, wy in self._along(i, 1, point[1]):
                for k, wz in self._along(j, 2, point[2]):
                    total[k] = total.get(k, 0.0) + wx * wy * wz
        cells = np.array(sorted(total), dtype=np.int64)
        values = np.array([total[c] for c in cells.tolist()])
        return cells, values
