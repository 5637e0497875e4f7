"""Columns times layers: fine cells with their true volumes, the openings between them and the walls they touch.

Everything axis-aligned is exact because every hard plane is a line of the fine grid; slanted walls have been cut in
the plan, and sloped ceilings are cut here, cell by cell, with a memory for shapes that repeat.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fdtd.grid.plan import Plan
from fdtd.grid.polygons import (
    Planes,
    Polygon,
    above_height,
    area_and_centroid,
    strip_under_ceiling,
    under_plane,
)
from fdtd.grid.shape import AXIS_NAMES, TOLERANCE, RoomShape, SheetShape

SMALLEST_VOLUME = 1e-9
"""Share of a fine cell below which it is left out (its volume is below the promised accuracy)."""


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


@dataclass
class FineRoom:
    """Fine cells: index (cell, 3) on the fine grid, volume, centroid; links between them (cell, cell, axis, area,
    sheet number or -1, rectangle on the plane they cross); faces."""

    index: NDArray[np.int64]
    volume: NDArray[np.float64]
    centroid: NDArray[np.float64]
    links: list[tuple[int, int, int, float, int, Polygon]]
    faces: FineFaces
    sheets: tuple[SheetShape, ...]


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
    """Builds a `FineRoom` from a plan, the ceiling, boxes and sheets; `build()` is the whole use of it."""

    def __init__(self, shape: RoomShape, plan: Plan, fine: tuple[NDArray, NDArray, NDArray]) -> None:
        self.shape, self.plan, self.fine = shape, plan, fine
        self.corners = np.asarray(shape.plan, dtype=float)
        self.layers = len(fine[2]) - 1
        self.box_at = self._mark_boxes()
        self.cut: dict[tuple[int, int], _Cut] = {}
        self.cell = np.full((len(plan.parts), self.layers), -1, dtype=np.int64)
        self.links: list[tuple[int, int, int, float, int, Polygon]] = []
        self.faces = FineFaces()

    def build(self) -> FineRoom:
        """Cells, then what lies between them sideways, then above and below."""
        index, volume, centroid = self._cells()
        self._sideways_links()
        self._walls()
        self._floors_and_ceilings()
        return FineRoom(index, volume, centroid, self.links, self.faces, self.shape.sheets)

    def _mark_boxes(self) -> NDArray[np.int64]:
        middle = [0.5 * (f[1:] + f[:-1]) for f in self.fine]
        marked = np.full([len(m) for m in middle], -1, dtype=np.int64)
        for number, box in enumerate(self.shape.boxes):
            inside = [(m > lo) & (m < hi) for m, lo, hi in zip(middle, box.lower, box.upper, strict=True)]
            marked[np.ix_(*inside)] = number
        return marked

    def _cells(self) -> tuple[NDArray, NDArray, NDArray]:
        z, planes = self.fine[2], self.shape.ceiling
        memory: dict[tuple, _Cut] = {}
        index: list[tuple[int, int, int]] = []
        volume: list[float] = []
        centroid: list[NDArray] = []
        for p, part in enumerate(self.plan.parts):
            area, middle = area_and_centroid(part.polygon)
            at_corners = np.array([a + part.polygon @ np.array([b, c]) for a, b, c in planes])
            lowest, highest = at_corners.min(), at_corners.max(axis=1).min()
            for k in range(self.layers):
                if z[k] >= highest - TOLERANCE or self.box_at[part.i, part.j, k] >= 0:
                    continue
                if lowest > z[k + 1] + TOLERANCE:
                    cell_volume, centre = area * (z[k + 1] - z[k]), np.array([*middle, 0.5 * (z[k] + z[k + 1])])
                else:
                    cut = self._cut(part.polygon, k, at_corners, memory)
                    cell_volume, centre = cut.volume, cut.centroid
                    self.cut[p, k] = cut
                    if cell_volume < SMALLEST_VOLUME * area * (z[k + 1] - z[k]):
                        continue
                self.cell[p, k] = len(volume)
                index.append((part.i, part.j, k))
                volume.append(cell_volume)
                centroid.append(centre)
        return np.array(index, dtype=np.int64).reshape(-1, 3), np.array(volume), np.array(centroid).reshape(-1, 3)

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

    def _strips(self, start: NDArray, stop: NDArray) -> list[tuple[int, float, Polygon]]:
        """(layer, area, outline in distance and height) of a vertical line's strip as far as the ceiling lets it."""
        z, planes, length = self.fine[2], self.shape.ceiling, float(np.hypot(*(stop - start)))
        ends = np.array([[a + b * q[0] + c * q[1] for a, b, c in planes] for q in (start, stop)])
        lowest, highest = ends.min(), ends.max(axis=0).min()
        strips = []
        for k in range(self.layers):
            if highest <= z[k] + TOLERANCE:
                break
            if lowest >= z[k + 1] - TOLERANCE:
                outline = np.array([[0.0, z[k]], [length, z[k]], [length, z[k + 1]], [0.0, z[k + 1]]])
                strips.append((k, length * (z[k + 1] - z[k]), outline))
            else:
                outline = strip_under_ceiling(start, stop, z[k], z[k + 1], planes)
                area = area_and_centroid(outline)[0]
                if area > 0.0:
                    strips.append((k, area, outline))
        return strips

    def _sheet(self, axis: int, position: float, point: tuple[float, float]) -> int:
        for number in reversed(range(len(self.shape.sheets))):
            sheet = self.shape.sheets[number]
            if sheet.axis == axis and abs(sheet.position - position) < TOLERANCE and _covers(sheet, point):
                return number
        return -1

    def _sideways_links(self) -> None:
        for a, b, axis, start, stop in self.plan.links:
            for k, area, outline in self._strips(start, stop):
                first, second = self.cell[a, k], self.cell[b, k]
                outline = outline + np.array([start[1 - axis], 0.0])
                if first >= 0 and second >= 0:
                    middle = outline.mean(axis=0)
                    sheet = self._sheet(axis, start[axis], (middle[0], middle[1]))
                    self.links.append((first, second, axis, area, sheet, outline))
                elif first >= 0 or second >= 0:
                    self._box_face(first, second, (a, b), k, axis, start[axis], area, outline)

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
        point = np.insert(outline.mean(axis=0), axis, at)
        normal = np.zeros(3)
        normal[axis] = sign
        self.faces.add(cell, surface, area, point, normal, outline)

    def _walls(self) -> None:
        for p, start, stop, wall in self.plan.walls:
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
            for k, area, outline in self._strips(start, stop):
                if self.cell[p, k] < 0:
                    continue
                height = outline[:, 1].mean()
                placed = outline.copy()
                placed[:, 0] = first + outline[:, 0] * (last - first) / length
                self.faces.add(
                    self.cell[p, k],
                    f"wall {wall + 1}",
                    area,
                    np.array([*(0.5 * (start + stop)), height]),
                    inward,
                    placed,
                )

    def _floors_and_ceilings(self) -> None:
        z = self.fine[2]
        for p, part in enumerate(self.plan.parts):
            whole = area_and_centroid(part.polygon)[0]
            for k in range(self.layers):
                cell = self.cell[p, k]
                cut = self.cut.get((p, k))
                if cell >= 0 and k == 0:
                    base = above_height(part.polygon, self.shape.ceiling, z[0])
                    self._axis_face(cell, "floor", 2, 1, z[0], area_and_centroid(base)[0], base)
                if cell >= 0 and cut is not None:
                    self._roof_faces(cell, cut)
                if k + 1 == self.layers:
                    continue
                upper = self.cell[p, k + 1]
                if cell < 0 and upper < 0:
                    continue
                outline = part.polygon if cut is None else above_height(part.polygon, self.shape.ceiling, z[k + 1])
                area = whole if cut is None else area_and_centroid(outline)[0]
                if cell < 0:
                    outline = above_height(part.polygon, self.shape.ceiling, z[k + 1])
                    area = area_and_centroid(outline)[0]
                if area > 0.0:
                    self._between_layers(cell, upper, part.i, part.j, k, area, outline)

    def _between_layers(self, cell: int, upper: int, i: int, j: int, k: int, area: float, outline: Polygon) -> None:
        height = self.fine[2][k + 1]
        if cell >= 0 and upper >= 0:
            middle = outline.mean(axis=0)
            self.links.append((cell, upper, 2, area, self._sheet(2, height, (middle[0], middle[1])), outline))
            return
        box = self.box_at[i, j, k + 1 if cell >= 0 else k]
        if box >= 0:
            sign = -1 if cell >= 0 else 1
            self._axis_face(max(cell, upper), self._box_surface(box, 2, sign), 2, sign, height, area, outline)

    def _roof_faces(self, cell: int, cut: _Cut) -> None:
        for m, outline in cut.roof:
            a, b, c = self.shape.ceiling[m]
            stretch = float(np.sqrt(1.0 + b * b + c * c))
            area, middle = area_and_centroid(outline)
            point = np.array([*middle, a + b * middle[0] + c * middle[1]])
            normal = np.array([b, c, -1.0]) / stretch
            self.faces.add(cell, "ceiling", area * stretch, point, normal, outline)


def _covers(sheet: SheetShape, point: tuple[float, float]) -> bool:
    def within(rectangle: tuple[tuple[float, float], tuple[float, float]]) -> bool:
        (u0, v0), (u1, v1) = rectangle
        return u0 < point[0] < u1 and v0 < point[1] < v1

    return within(sheet.rectangle) and not any(within(opening) for opening in sheet.openings)
