"""Fine cells of a room before they are joined: their volumes, the links between them, the walls they touch."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fdtd.grid.polygons import Planes, Polygon, area_and_centroid, strip_under_ceiling
from fdtd.grid.shape import TOLERANCE, ThinPartitionShape


@dataclass
class FineFaces:
    """Wall faces of fine cells, one row each: cell, surface name, area (m²), a point on it, its unit normal (axis
    aligned or not), and its outline in the coordinates of its surface."""

    cell: list[int] = field(default_factory=list)
    surface: list[str] = field(default_factory=list)
    area: list[float] = field(default_factory=list)
    point: list[NDArray] = field(default_factory=list)
    normal: list[NDArray] = field(default_factory=list)
    outline: list[Polygon] = field(default_factory=list)

    def add(self, cell: int, surface: str, area: float, point: NDArray, normal: NDArray, outline: Polygon) -> None:
        """Append one face."""
        self.cell.append(cell)
        self.surface.append(surface)
        self.area.append(area)
        self.point.append(point)
        self.normal.append(normal)
        self.outline.append(outline)


@dataclass(frozen=True)
class FineLinks:
    """Links between fine cells: first, second (link,) cells, axis, area (m²), thin partition number or -1; and for
    those through thin partitions, by their number, the outline on the plane that they cross."""

    first: NDArray[np.int32]
    second: NDArray[np.int32]
    axis: NDArray[np.int8]
    area: NDArray[np.float64]
    thin_partition: NDArray[np.int16]
    outline: dict[int, Polygon]

    def pairs(self) -> NDArray[np.int32]:
        """(link, 2) cells."""
        return np.column_stack([self.first, self.second])


def joined(one: FineLinks, other: FineLinks) -> FineLinks:
    """The links of both, in that order."""
    outline = one.outline | {len(one.area) + number: polygon for number, polygon in other.outline.items()}
    return FineLinks(
        np.concatenate([one.first, other.first]),
        np.concatenate([one.second, other.second]),
        np.concatenate([one.axis, other.axis]),
        np.concatenate([one.area, other.area]),
        np.concatenate([one.thin_partition, other.thin_partition]),
        dict(sorted(outline.items())),
    )


@dataclass
class FineRoom:
    """Fine cells: index (cell, 3) on the fine grid, volume, centroid; links between them; faces."""

    index: NDArray[np.int32]
    volume: NDArray[np.float64]
    centroid: NDArray[np.float64]
    links: FineLinks
    faces: FineFaces
    thin_partitions: tuple[ThinPartitionShape, ...]


class Strips:
    """The vertical strips over lines of the plan, layer by layer, as far as the ceiling lets them.

    line, layer : (strip,) by line, then layer; area : (strip,) m²; length : (line,) m
    """

    def __init__(self, start: NDArray, stop: NDArray, z: NDArray, planes: Planes) -> None:
        self.z = z
        self.length = np.hypot(*(stop - start).T)
        ends = np.array([[a + b * q[:, 0] + c * q[:, 1] for a, b, c in planes] for q in (start, stop)])
        lowest, highest = ends.min(axis=(0, 1)), ends.max(axis=0).min(axis=0)
        whole = np.searchsorted(z[1:] - TOLERANCE, lowest, side="right")
        reach = np.searchsorted(z[:-1] + TOLERANCE, highest, side="left")
        line = np.repeat(np.arange(len(start), dtype=np.int32), reach)
        first = (np.cumsum(reach) - reach).astype(np.int32)
        layer = np.arange(len(line), dtype=np.int32) - first[line]
        area = self.length[line] * np.diff(z)[layer]
        cut: dict[int, Polygon] = {}
        for row in np.flatnonzero(layer >= whole[line]).tolist():
            n, k = line[row], layer[row]
            cut[row] = strip_under_ceiling(start[n], stop[n], z[k], z[k + 1], planes)
            area[row] = area_and_centroid(cut[row])[0]
        keep = np.ones(len(line), dtype=bool)
        keep[[row for row in cut if area[row] <= 0.0]] = False
        self.line, self.layer, self.area = line[keep], layer[keep], area[keep]
        number = np.cumsum(keep) - 1 if cut else keep
        self._cut = {int(number[row]): outline for row, outline in cut.items() if keep[row]}

    def outline(self, strip: int) -> Polygon:
        """Of one strip, in distance along its line and height, m."""
        if strip in self._cut:
            return self._cut[strip]
        length, k = float(self.length[self.line[strip]]), int(self.layer[strip])
        low, high = self.z[k], self.z[k + 1]
        return np.array([[0.0, low], [length, low], [length, high], [0.0, high]])
