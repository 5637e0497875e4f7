"""Columns times layers: fine cells with their true volumes, the openings between them and the walls they touch.

Everything axis-aligned is exact because every hard plane is a line of the fine grid; slanted walls have been cut in
the plan, and sloped ceilings are cut here, cell by cell, with a memory for shapes that repeat. What is whole is worked
out for all layers at once, the rest piece by piece.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.grid.fine import FineFaces, FineLinks, FineRoom, Strips, joined
from fdtd.grid.plan import Plan
from fdtd.grid.polygons import Planes, Polygon, above_height, area_and_centroid, under_plane
from fdtd.grid.shape import AXIS_NAMES, TOLERANCE, RoomShape, ThinPartitionShape

SMALLEST_VOLUME = 1e-9
"""Share of a fine cell below which it is left out (its volume is below the promised accuracy)."""


@dataclass
class _Cut:
    """One part of a column under the ceiling within one layer."""

    volume: float
    centroid: NDArray
    top: float
    roof: list[tuple[int, Polygon]]


def _cut_under_ceiling(polygon: Polygon, bottom: float, top: float, planes: Planes) -> _Cut:
    open_above = above_height(polygon, planes, top)
    area, middle = area_and_centroid(open_above)
    volume = area * (top - bottom)
    moment = volume * np.array([*middle, 0.5 * (bottom + top)])
    roof = []
    for m, (a, b, c) in enumerate(planes):
        piece = under_plane(polygon, planes, m, bottom, top)
        piece_area, middle = area_and_centroid(piece)
        if piece_area <= 0.0:
            continue
        height = a + b * middle[0] + c * middle[1]
        piece_volume = piece_area * (height - bottom)
        volume += piece_volume
        moment += piece_volume * np.array([*middle, 0.5 * (bottom + height)])
        roof.append((m, piece))
    return _Cut(volume, moment / volume if volume > 0.0 else moment, area, roof)


class Extrusion:
    """Builds a `FineRoom` from a plan, the ceiling, boxes and thin partitions; `build()` is the whole use of it."""

    def __init__(self, shape: RoomShape, plan: Plan, fine: tuple[NDArray, NDArray, NDArray]) -> None:
        self.shape, self.plan, self.fine = shape, plan, fine
        self.corners = np.asarray(shape.plan, dtype=float)
        self.layers = len(fine[2]) - 1
        self.box_at = self._mark_boxes()
        self.cut: dict[tuple[int, int], _Cut] = {}
        self.area = np.zeros(len(plan.parts))
        self.cell = np.full((len(plan.parts), self.layers), -1, dtype=np.int32)
        self.faces = FineFaces()

    def build(self) -> FineRoom:
        """Cells, then what lies between them sideways, then above and below."""
        index, volume, centroid = self._cells()
        sideways = self._sideways_links()
        self._walls()
        links = joined(sideways, self._floors_and_ceilings())
        return FineRoom(index, volume, centroid, links, self.faces, self.shape.thin_partitions)

    def _mark_boxes(self) -> NDArray[np.int64]:
        middle = [0.5 * (f[1:] + f[:-1]) for f in self.fine]
        marked = np.full([len(m) for m in middle], -1, dtype=np.int64)
        for number, box in enumerate(self.shape.boxes):
            inside = [(m > lo) & (m < hi) for m, lo, hi in zip(middle, box.lower, box.upper, strict=True)]
            marked[np.ix_(*inside)] = number
        return marked

    def _cells(self) -> tuple[NDArray, NDArray, NDArray]:
        z, planes, parts = self.fine[2], self.shape.ceiling, self.plan.parts
        memory: dict[tuple, _Cut] = {}
        middle = np.zeros((len(parts), 2))
        column = np.array([(part.i, part.j) for part in parts], dtype=np.int32).reshape(-1, 2)
        air = self.box_at[column[:, 0], column[:, 1]] < 0
        for p, part in enumerate(parts):
            self.area[p], middle[p] = area_and_centroid(part.polygon)
            at_corners = np.array([a + part.polygon @ np.array([b, c]) for a, b, c in planes])
            lowest, highest = at_corners.min(), at_corners.max(axis=1).min()
            air[p] &= z[:-1] < highest - TOLERANCE
            for k in np.flatnonzero(air[p] & ~(lowest > z[1:] + TOLERANCE)).tolist():
                cut = self.cut[p, k] = self._cut(part.polygon, k, at_corners, memory)
                if cut.volume < SMALLEST_VOLUME * self.area[p] * (z[k + 1] - z[k]):
                    air[p, k] = False
        of, layer = np.nonzero(air)
        self.cell[of, layer] = np.arange(len(of))
        volume = self.area[of] * np.diff(z)[layer]
        centroid = np.column_stack([middle[of], 0.5 * (z[layer] + z[layer + 1])])
        for place, cut in self.cut.items():
            if air[place]:
                volume[self.cell[place]], centroid[self.cell[place]] = cut.volume, cut.centroid
        return np.column_stack([column[of], layer.astype(np.int32)]), volume, centroid

    def _cut(self, polygon: Polygon, k: int, at_corners: NDArray, memory: dict) -> _Cut:
        """The cut of one cell, from memory if the same shape has been cut before (a sloped roof repeats itself)."""
        z, corner = self.fine[2], polygon[0]
        relative = polygon - corner
        key = (relative.round(9).tobytes(), (at_corners[:, 0] - z[k]).round(9).tobytes(), round(z[k + 1] - z[k], 9))
        if key not in memory:
            planes = tuple(
                (float(h - z[k]), b, c) for h, (_, b, c) in zip(at_corners[:, 0], self.shape.ceiling, strict=True)
            )
            memory[key] = _cut_under_ceiling(relative, 0.0, z[k + 1] - z[k], planes)
        found = memory[key]
        shift = np.array([*corner, z[k]])
        return _Cut(found.volume, found.centroid + shift, found.top, [(m, p + corner) for m, p in found.roof])

    def _thin_partition(self, axis: int, position: float, outline: Polygon) -> int:
        """Number of the thin partition that lies in this outline, or -1."""
        for number in reversed(range(len(self.shape.thin_partitions))):
            thin_partition = self.shape.thin_partitions[number]
            if thin_partition.axis == axis and abs(thin_partition.position - position) < TOLERANCE:
                middle = outline.mean(axis=0)
                if _covers(thin_partition, (middle[0], middle[1])):
                    return number
        return -1

    def _sideways_links(self) -> FineLinks:
        lines = self.plan.links
        a, b, axis = (np.array([line[n] for line in lines], dtype=np.int32) for n in range(3))
        start, stop = (np.array([line[n] for line in lines]).reshape(-1, 2) for n in (3, 4))
        at = start[np.arange(len(lines)), axis]
        strips = Strips(start, stop, self.fine[2], self.shape.ceiling)
        line, layer = strips.line, strips.layer
        first, second = self.cell[a[line], layer], self.cell[b[line], layer]
        both = (first >= 0) & (second >= 0)

        def outline(strip: int) -> Polygon:
            n = line[strip]
            return strips.outline(strip) + np.array([start[n, 1 - axis[n]], 0.0])

        for strip in np.flatnonzero((first >= 0) != (second >= 0)).tolist():
            n = line[strip]
            self._box_face(
                int(first[strip]),
                int(second[strip]),
                (a[n], b[n]),
                layer[strip],
                int(axis[n]),
                at[n],
                strips.area[strip],
                outline(strip),
            )
        thin_partition, outlines = np.full(len(line), -1, dtype=np.int16), {}
        for strip in np.flatnonzero(both & self._at_thin_partition(axis, at)[line]).tolist():
            n = line[strip]
            thin_partition[strip] = self._thin_partition(int(axis[n]), at[n], outline(strip))
            if thin_partition[strip] >= 0:
                outlines[strip] = outline(strip)
        number = np.cumsum(both) - 1
        outlines = {int(number[strip]): polygon for strip, polygon in outlines.items()}
        kind = axis.astype(np.int8)[line[both]]
        return FineLinks(first[both], second[both], kind, strips.area[both], thin_partition[both], outlines)

    def _at_thin_partition(self, axis: NDArray, position: NDArray) -> NDArray[np.bool_]:
        """Which planes hold a thin partition."""
        found = np.zeros(len(position), dtype=bool)
        for thin_partition in self.shape.thin_partitions:
            found |= (axis == thin_partition.axis) & (np.abs(thin_partition.position - position) < TOLERANCE)
        return found

    def _box_face(
        self,
        first: int,
        second: int,
        parts: tuple[int, int],
        k: int,
        axis: int,
        at: float,
        area: float,
        outline: Polygon,
    ) -> None:
        """The face of a solid box towards the one cell of the pair that holds air."""
        solid = self.plan.parts[parts[1] if first >= 0 else parts[0]]
        box = self.box_at[solid.i, solid.j, k]
        if box < 0:
            return
        sign = -1 if first >= 0 else 1
        self._axis_face(max(first, second), self._box_surface(box, axis, sign), axis, sign, at, area, outline)

    def _box_surface(self, box: int, axis: int, sign: int) -> str:
        return f"block {self.shape.boxes[box].name} {'+' if sign > 0 else '-'}{AXIS_NAMES[axis]}"

    def _axis_face(
        self, cell: int, surface: str, axis: int, sign: int, at: float, area: float, outline: Polygon
    ) -> None:
        u, v = outline.sum(axis=0) / len(outline)
        point = np.array(((at, u, v), (u, at, v), (u, v, at))[axis])
        normal = np.zeros(3)
        normal[axis] = sign
        self.faces.add(cell, surface, area, point, normal, outline)

    def _walls(self) -> None:
        lines = self.plan.walls
        starts, stops = (np.array([line[n] for line in lines]).reshape(-1, 2) for n in (1, 2))
        strips = Strips(starts, stops, self.fine[2], self.shape.ceiling)
        bounds = np.searchsorted(strips.line, np.arange(len(lines) + 1))
        for (p, start, stop, wall), low, high in zip(lines, bounds[:-1].tolist(), bounds[1:].tolist(), strict=True):
            along = stop - start
            corner = self.corners[wall]
            direction = self.corners[(wall + 1) % len(self.corners)] - corner
            direction = direction / np.hypot(*direction)
            first, last = (start - corner) @ direction, (stop - corner) @ direction
            inward = np.array([-direction[1], direction[0], 0.0])
            middle = area_and_centroid(self.plan.parts[p].polygon)[1]
            if inward[:2] @ (middle - start) < 0.0:
                inward = -inward
            length = np.hypot(*along)
            for strip in range(low, high):
                cell = int(self.cell[p, strips.layer[strip]])
                if cell < 0:
                    continue
                outline = strips.outline(strip)
                height = outline[:, 1].mean()
                placed = outline.copy()
                placed[:, 0] = first + outline[:, 0] * (last - first) / length
                point = np.array([*(0.5 * (start + stop)), height])
                self.faces.add(cell, f"wall {wall + 1}", float(strips.area[strip]), point, inward, placed)

    def _floors_and_ceilings(self) -> FineLinks:
        z, cell = self.fine[2], self.cell
        air = cell >= 0
        special = np.zeros(cell.shape, dtype=bool)
        special[:, 0] = air[:, 0]
        special[:, :-1] |= air[:, 1:] != air[:, :-1]
        if self.cut:
            special[tuple(np.array(list(self.cut)).T)] = True
        for k in np.flatnonzero(self._at_thin_partition(np.full(self.layers, 2), z[1:])).tolist():
            special[:, k] = True
        area = np.zeros(cell.shape)
        area[:, :-1] = np.where(air[:, 1:] & air[:, :-1], self.area[:, None], 0.0)
        thin_partition = np.full(cell.shape, -1, dtype=np.int16)
        outlines: dict[tuple[int, int], Polygon] = {}
        for p, k in np.argwhere(special).tolist():
            area[p, k], thin_partition[p, k], outline = self._level(p, k)
            if thin_partition[p, k] >= 0:
                outlines[p, k] = outline
        at = np.nonzero(area > 0.0)
        above = (at[0], at[1] + 1)
        through = np.flatnonzero(thin_partition[at] >= 0).tolist()
        numbered = {row: outlines[int(at[0][row]), int(at[1][row])] for row in through}
        return FineLinks(cell[at], cell[above], np.full(len(at[0]), 2, np.int8), area[at], thin_partition[at], numbered)

    def _level(self, p: int, k: int) -> tuple[float, int, Polygon]:
        """Adds the faces of a cell at the floor, the ceiling and boxes above or below; area, thin partition and outline
        of the link to the cell above (area 0: no link)."""
        z, part = self.fine[2], self.plan.parts[p]
        cell, cut = int(self.cell[p, k]), self.cut.get((p, k))
        if cell >= 0 and k == 0:
            base = above_height(part.polygon, self.shape.ceiling, z[0])
            area = float(self.area[p]) if base is part.polygon else area_and_centroid(base)[0]
            self._axis_face(cell, "floor", 2, 1, z[0], area, base)
        if cell >= 0 and cut is not None:
            self._roof_faces(cell, cut)
        nothing = 0.0, -1, part.polygon
        if k + 1 == self.layers:
            return nothing
        upper = int(self.cell[p, k + 1])
        if cell < 0 and upper < 0:
            return nothing
        area, outline = float(self.area[p]), part.polygon
        if cut is not None or cell < 0:
            outline = above_height(part.polygon, self.shape.ceiling, z[k + 1])
            area = area_and_centroid(outline)[0]
        if area <= 0.0:
            return nothing
        if cell >= 0 and upper >= 0:
            return area, self._thin_partition(2, z[k + 1], outline), outline
        box = self.box_at[part.i, part.j, k + 1 if cell >= 0 else k]
        if box >= 0:
            sign = -1 if cell >= 0 else 1
            self._axis_face(max(cell, upper), self._box_surface(box, 2, sign), 2, sign, z[k + 1], area, outline)
        return nothing

    def _roof_faces(self, cell: int, cut: _Cut) -> None:
        for m, outline in cut.roof:
            a, b, c = self.shape.ceiling[m]
            stretch = float(np.sqrt(1.0 + b * b + c * c))
            area, middle = area_and_centroid(outline)
            point = np.array([*middle, a + b * middle[0] + c * middle[1]])
            normal = np.array([b, c, -1.0]) / stretch
            self.faces.add(cell, "ceiling", area * stretch, point, normal, outline)


def _covers(thin_partition: ThinPartitionShape, point: tuple[float, float]) -> bool:
    def within(rectangle: tuple[tuple[float, float], tuple[float, float]]) -> bool:
        (u0, v0), (u1, v1) = rectangle
        return u0 < point[0] < u1 and v0 < point[1] < v1

    return within(thin_partition.rectangle) and not any(within(opening) for opening in thin_partition.openings)
