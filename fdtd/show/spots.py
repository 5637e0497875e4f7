"""The candidate places of a placement study on the plan, each with its number.

Numbers stand outside the walls, each with a line to its unit. Where there is no room for a number at every unit,
neighbours on the same surface share one at a bracket: "57–80".
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, product
from typing import Any

import numpy as np
import shapely
from matplotlib.figure import Figure
from numpy.typing import NDArray

from fdtd.scene.faces import wall_number
from fdtd.scene.schema import Scene, Variant
from fdtd.scene.spots import Candidate
from fdtd.show.geometry import plan_view
from fdtd.show.labels import Boxes, no_boxes, text_box
from fdtd.show.page import BORDER, lay_out, room_frame
from fdtd.show.plan import letters, plan_axes, write_plan
from fdtd.show.style import FULL_WIDTH, TINY, figure_style, look, safe_text
from fdtd.show.units import draw_unit, footprint, in_columns, into_room, lies
from fdtd.show.walls import wall_thickness
from fdtd.wording.places import height_text

Column = Sequence[Candidate]
Vector = NDArray[np.float64]
GAP = 2.0
"""Points between a wall or a unit and the number beside it."""
SHIFTS = (0.0, 3.0, -3.0, 6.0, -6.0, 9.0, -9.0, 13.0, -13.0)
"""Points along the surface by which a number may stand off its unit, at the end of a line."""
STEPS = (0.0, 9.0, 18.0)
"""Points by which it may stand farther away."""
SIZES = (TINY, 5.0, 4.0)
"""Points: numbers on units that lie flat are made smaller until they fit."""
IN_BOX = (0.0, 0.2, -0.2, 0.35, -0.35)
"""Where in such a unit they are tried, in parts of its sides."""


def draw_spots(
    scene: Scene, candidates: Sequence[Candidate], variant_index: int | None = None, width: float = FULL_WIDTH
) -> Figure:
    """The plan of one variant with the candidates; None: of the room that [spots] starts from, if there is one.

    Places above one another share a label: "7–9" are numbers 7 to 9, the lowest first. width : inches
    """
    with figure_style():
        start = scene.spots.start if scene.spots is not None else scene.variants[0]
        variant = start if variant_index is None else scene.variants[variant_index]
        columns = in_columns(candidates)
        heading = f"{safe_text(scene.title or 'room', 60)}: {len(candidates)} places for a unit"
        beyond = numbers_width(columns) + 4.0
        page = lay_out(
            width,
            [room_frame(scene, plan_view(variant))],
            heading,
            _note(columns),
            titled=False,
            border=BORDER - 0.08 + beyond / 72.0,
        )
        (axes,) = page.axes
        drawing = plan_axes(axes, scene, variant, labels=False)
        for column in columns:
            draw_unit(axes, scene, variant, column[0], look().line_colours[4])
        taken = write_numbers(axes, scene, variant, columns)
        write_plan(axes, scene, drawing, taken=taken, without=("absorber",), limit=letters(width), beyond=beyond)
        return page.figure


def _note(columns: Sequence[Sequence[Candidate]]) -> str:
    kind = "Orange: units as they would stand" if any(c[0].cabinet for c in columns) else "Orange: faces of units"
    stacked = max(columns, key=len, default=())
    if len(stacked) < 2:
        return f"{kind}."
    low, high = (f"{one.number}: {height_text(one)}" for one in (stacked[0], stacked[-1]))
    return f"{kind}. Several numbers: one above another, from the lowest ({low}) to the highest ({high})."


def ranges(numbers: Iterable[int]) -> str:
    """'7', '7–9', '7–9, 12': numbers in rising order."""
    runs = [[n for _, n in run] for _, run in groupby(enumerate(sorted(numbers)), lambda pair: pair[1] - pair[0])]
    return ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs)


def numbers_width(columns: Sequence[Column]) -> float:
    """Points that the longest number outside a wall takes, about."""
    upright = [column for column in columns if not lies(column[0])]
    return 0.62 * TINY * max((len(ranges(c.number for c in column)) for column in upright), default=0)


def write_numbers(axes: Any, scene: Scene, variant: Variant, columns: Sequence[Column]) -> Boxes:
    """Write the numbers of all columns on a plan; returns the boxes that they and the units take, pixels."""
    return _Board(axes, scene, variant, columns).write()


@dataclass(frozen=True)
class _Place:
    """Where a text is tried: the middle of its box, the box, the line that leads to it (all in pixels)."""

    middle: Vector
    box: Any
    line: Any
    angle: float = 0.0
    size: float = TINY

    @property
    def shapes(self) -> tuple[Any, ...]:
        return self.box, self.line


class _Board:
    """A plan, its columns, and all that their numbers must not cover."""

    def __init__(self, axes: Any, scene: Scene, variant: Variant, columns: Sequence[Column]) -> None:
        self.axes, self.scene, self.columns = axes, scene, columns
        self.point = float(axes.figure.dpi) / 72.0
        self.halves: dict[tuple[str, float], Vector] = {}
        prints = [footprint(scene, variant, column[0]) for column in columns]
        self.units = np.array([shapely.Polygon(axes.transData.transform(corners)) for corners in prints], dtype=object)
        self.air = shapely.Polygon(axes.transData.transform(np.array(scene.room.plan)))
        pixels = float(np.diff(axes.transData.transform([(0.0, 0.0), (1.0, 0.0)])[:, 0])[0])
        self.thick = wall_thickness(scene.room) * pixels
        self.house = self.air.buffer(self.thick, join_style="mitre", mitre_limit=2.0)
        frame = axes.get_window_extent()
        self.frame = shapely.box(frame.x0, frame.y0, frame.x1, frame.y1)
        things = [one.at[:2] for one in variant.sources] + [one.at[:2] for one in variant.seats]
        self.taken = [shapely.Point(axes.transData.transform(at)).buffer(4.5 * self.point) for at in things]

    def write(self) -> Boxes:
        kept = len(self.taken)
        for _, run in groupby(range(len(self.columns)), self._surface):
            self._write_run(list(run))
        boxes = [shapely.bounds(shape) for shape in (*self.units, *self.taken[kept:])]
        return np.vstack([no_boxes(), *boxes])

    def _surface(self, column: int) -> str:
        one = self.columns[column][0]
        return f"{column}" if lies(one) else one.on

    def _write_run(self, run: list[int]) -> None:
        """The numbers along one surface: at each unit, or of as few together as there is room for."""
        for together, within, angle in product(range(1, len(run) + 1), (False, True), (0.0, 90.0)):
            groups = [run[k : k + together] for k in range(0, len(run), together)]
            if (found := self._all_free(groups, angle, within)) is not None:
                break
        else:
            groups, found = [run], [min(self._places(run, 0.0), key=lambda place: self._covered(place, run))]
            self.taken += found[0].shapes
        for group, place in zip(groups, found, strict=True):
            self._draw(group, place)

    def _all_free(self, groups: list[list[int]], angle: float, within: bool) -> list[_Place] | None:
        """A free place for the number of every group, then taken; None, and nothing taken, if one has none.

        within : numbers of units on walls may stand in the room
        """
        found, before = [], len(self.taken)
        for group in groups:
            places = self._places(group, angle, within)
            place = next((p for p in places if self._covered(p, group) == 0.0), None)
            if place is None:
                del self.taken[before:]
                return None
            found.append(place)
            self.taken += place.shapes
        return found

    def _covered(self, place: _Place, group: list[int]) -> float:
        """Pixels² of what must stay free that a number would cover there, or a line would cross."""
        others = self.units[~np.isin(np.arange(len(self.units)), group)]
        covered = float(np.sum(shapely.area(shapely.intersection(others, place.box))))
        covered += place.box.difference(self.frame).area
        taken = np.array(self.taken, dtype=object)
        for own in place.shapes:
            hit = taken[shapely.intersects(taken, own)]
            covered += float(np.sum(np.maximum(shapely.area(shapely.intersection(hit, own)), 1.0)))
        return covered

    def _places(self, group: list[int], angle: float, within: bool = True) -> Iterator[_Place]:
        one = self.columns[group[0]][0]
        return self._in_unit(group[0], angle) if lies(one) else self._beside(group, one, angle, within)

    def _in_unit(self, column: int, angle: float) -> Iterator[_Place]:
        x0, y0, x1, y1 = self.units[column].bounds
        middle = np.array([0.5 * (x0 + x1), 0.5 * (y0 + y1)])
        for size, right, up in product(SIZES, IN_BOX, IN_BOX):
            at = middle + [right * (x1 - x0), up * (y1 - y0)]
            box = self._box(at, [column], angle, size)
            if self.units[column].contains(box):
                yield _Place(at, box, shapely.Point(at), angle, size)
        yield _Place(middle, self._box(middle, [column], angle, SIZES[-1]), shapely.Point(middle), angle, SIZES[-1])

    def _beside(self, group: list[int], one: Candidate, angle: float, within: bool) -> Iterator[_Place]:
        """Outside a wall, then (`within`) before it; before the side of a block."""
        way = into_room(self.scene, one)
        faces = self.axes.transData.transform([self.columns[k][0].at[:2] for k in group])
        anchor = 0.5 * (faces[0] + faces[-1])
        deep = max(float(((np.array(self.units[k].exterior.coords) - anchor) @ way).max()) for k in group)
        wall = wall_number(one.on) > 0
        sides = [(-way, self.thick)] * wall + [(way, deep)] * (within or not wall)
        half = 0.5 * np.array(self._box(anchor, group, angle).bounds) @ [[-1, 0], [0, -1], [1, 0], [0, 1]]
        bracket = 0.0 if len(group) == 1 else 2.0
        for (out, start), step, shift in product(sides, STEPS, SHIFTS):
            far = start + (GAP + bracket + step) * self.point + float(np.abs(out) @ half)
            along = np.array([-out[1], out[0]]) * shift * self.point
            middle = anchor + far * out + along
            box = self._box(middle, group, angle)
            inside = self.air.contains(box) if out is way else box.disjoint(self.house)
            if inside:
                yield _Place(middle, box, self._line(faces, start * out, along, out, far, half), angle)

    def _line(self, faces: Vector, to_edge: Vector, along: Vector, out: Vector, far: float, half: Vector) -> Any:
        """From the face of a unit to its number, or along those of several, outside the wall, and on."""
        end = 0.5 * (faces[0] + faces[-1]) + along + (far - float(np.abs(out) @ half)) * out
        if len(faces) == 1:
            return shapely.LineString([faces[0], faces[0] + to_edge, end])
        over = to_edge + 1.5 * self.point * out
        tips = [faces[0], faces[0] + over, faces[-1] + over, faces[-1]]
        return shapely.MultiLineString([tips, [0.5 * (tips[1] + tips[2]), end]])

    def _box(self, middle: Vector, group: list[int], angle: float, size: float = TINY) -> Any:
        sentence = self._label(group)
        if (sentence, size) not in self.halves:
            text = self._text(sentence, size)
            left, bottom, right, top = text_box(text)[0]
            text.remove()
            # A little air at the ends, so that two numbers in a row don't read as one.
            self.halves[sentence, size] = 0.5 * np.array([right - left + 2.0 * self.point, top - bottom])
        half = self.halves[sentence, size]
        half = half[::-1] if angle else half
        return shapely.box(*(middle - half), *(middle + half))

    def _label(self, group: list[int]) -> str:
        return ranges(c.number for k in group for c in self.columns[k])

    def _text(self, sentence: str, size: float) -> Any:
        return self.axes.text(0.0, 0.0, sentence, fontsize=size, color=look().ink, zorder=11, va="center", ha="center")

    def _draw(self, group: list[int], place: _Place) -> None:
        text = self._text(self._label(group), place.size)
        text.set_position(self.axes.transData.inverted().transform(place.middle))
        text.set_rotation(place.angle)
        text.set_in_layout(False)
        for line in shapely.get_parts(place.line):
            if line.length > 0.0:
                corners = self.axes.transData.inverted().transform(np.array(line.coords))
                self.axes.plot(*corners.T, color=look().line_colours[4], linewidth=0.6, zorder=5, clip_on=False)
