"""The best places for one, two, three ... units on the plan, as the units would stand."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import Any

import numpy as np
import shapely
from matplotlib.figure import Figure
from numpy.typing import NDArray

from fdtd.scene.schema import Scene
from fdtd.scene.spots import Candidate
from fdtd.show.geometry import plan_view
from fdtd.show.labels import Boxes, no_boxes, overlap
from fdtd.show.page import lay_out, room_frame
from fdtd.show.plan import NARROW, letters, plan_axes, write_plan
from fdtd.show.style import FULL_WIDTH, SMALL, figure_style, look, safe_text
from fdtd.show.units import badge, draw_outline, draw_unit, footprint, in_columns, into_room
from fdtd.wording.places import height_text

OFF, THING = 2.0, 4.5
"""Points from the front of a unit to its badge; half the width of the mark of a seat or a loudspeaker."""
STEPS = (0.0, 7.0, 14.0, 21.0, 28.0, 40.0)
SHIFTS = (0.0, 7.0, -7.0, 14.0, -14.0, 21.0, -21.0, 30.0, -30.0)
"""Points by which a badge may stand farther from its unit, and aside."""
LEADER_FROM = 8.0
"""Points; a badge farther away than this has a line to its unit."""
KEY_COLUMNS = 2
"""Columns of the key below a plan across the page."""


def draw_best_places(
    scene: Scene,
    candidates: Sequence[Candidate],
    designs: Sequence[Sequence[int]],
    advised: int = 1,
    width: float = FULL_WIDTH,
) -> Figure:
    """The plan with all candidates faint and the best choice of 1, 2, 3 ... units marked, the advised one filled.

    designs : for each count from 1 the indices in `candidates`; advised : the count that is advised; width : inches
    """
    assert scene.spots is not None  # a study has them
    with figure_style():
        variant = scene.spots.start
        heading = f"{safe_text(scene.title or 'room', 60)}: where units do most"
        advised = min(max(advised, 1), max(len(designs), 1))
        chosen = "the best place for one unit" if advised == 1 else f"the best places for {advised} units"
        used = used_places(designs)
        note = f"Filled: {chosen}; outlined: other best choices{_others(len(candidates) - len(used))}."
        columns = _columns(candidates, used)
        key = [_text(candidates[index], used[index]) for column in columns for index in column]
        across = 1 if width < NARROW else KEY_COLUMNS
        rows = -(-len(key) // across)
        page = lay_out(
            width, [room_frame(scene, plan_view(variant))], heading, note, foot=0.13 * rows + 0.08, titled=False
        )
        for k in range(0, len(key), max(rows, 1)):
            page.figure.text(
                0.02 + k / max(rows, 1) / across,
                (0.04 + page.foot[3]) / page.figure.get_figheight(),
                "\n".join(key[k : k + rows]),
                fontsize=SMALL,
                va="top",
                linespacing=1.3,
            )
        (axes,) = page.axes
        drawing = plan_axes(axes, scene, variant, labels=False)
        for column in in_columns(candidates):
            draw_unit(axes, scene, variant, column[0], look().faint)
        winners = set(designs[advised - 1]) if designs else set()
        taken = _mark(axes, scene, candidates, columns, winners)
        write_plan(axes, scene, drawing, taken=taken, without=("absorber", "patch"), limit=letters(width))
        return page.figure


def _others(count: int) -> str:
    """What is said of so many places that no design uses."""
    if count == 0:
        return ""
    return "; grey: the other place tried" if count == 1 else f"; grey: the other {count} places tried"


def used_places(designs: Sequence[Sequence[int]]) -> dict[int, list[int]]:
    """Index of each place that a design uses, with the numbers of units of these designs."""
    used: dict[int, list[int]] = {}
    for count, design in enumerate(designs, start=1):
        for index in design:
            used.setdefault(index, []).append(count)
    return used


def _mark(
    axes: Any, scene: Scene, candidates: Sequence[Candidate], columns: Sequence[Sequence[int]], winners: set[int]
) -> Boxes:
    """Draw the units of every column, and a badge of each that covers none; returns all boxes taken, pixels."""
    assert scene.spots is not None
    start, colour = scene.spots.start, look().absorber
    prints = [footprint(scene, start, candidates[column[0]]) for column in columns]
    strong = [bool(winners & {*column}) for column in columns]
    for column, corners, filled in zip(columns, prints, strong, strict=True):
        draw_unit(axes, scene, start, candidates[column[0]], colour, strong=filled)
        draw_outline(axes, corners, colour)
    things = [one.at[:2] for one in start.sources] + [one.at[:2] for one in start.seats]
    points = axes.transData.transform(np.array(things).reshape(-1, 2))
    units = np.vstack([no_boxes(), *(np.hstack(_ends(axes.transData.transform(corners)))[None] for corners in prints)])
    taken = np.vstack([units, np.hstack([points - THING * _point(axes), points + THING * _point(axes)])])
    for column, corners, filled in zip(columns, prints, strong, strict=True):
        way = into_room(scene, candidates[column[0]])
        numbers = "/".join(str(candidates[k].number) for k in column)
        box = _write_badge(axes, scene, corners, way, numbers, colour if filled else look().muted, taken)
        taken = np.vstack([taken, box])
    return taken


def _point(axes: Any) -> float:
    return float(axes.figure.dpi) / 72.0


def _ends(corners: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return corners.min(axis=0), corners.max(axis=0)


def _write_badge(
    axes: Any,
    scene: Scene,
    corners: NDArray[np.float64],
    way: NDArray[np.float64],
    numbers: str,
    colour: str,
    taken: Boxes,
) -> Boxes:
    """Write a badge before a unit, where it covers least of `taken`, with a line to the unit if it is far from it."""
    middle = corners.mean(axis=0)
    front = axes.transData.transform(middle + float(((corners - middle) @ way).max()) * way)
    trial = badge(axes, tuple(middle), numbers)[0]
    axes.texts[-1].remove()
    half = 0.5 * (trial[2:] - trial[:2])
    air = shapely.Polygon(axes.transData.transform(np.array(scene.room.plan)))
    # Before a unit on a wall; beside one that lies flat, or on it if there is no room.
    level = not np.any(way)
    out = np.array([0.0, 1.0]) if level else way
    across = np.array([-out[1], out[0]])
    tries = []
    for step, shift in product(STEPS, SHIFTS):
        first = 0.0 if level else OFF + float(np.abs(way) @ half) / _point(axes)
        at = front + ((first + step) * out + shift * across) * _point(axes)
        box = np.concatenate([at - half, at + half])
        tries.append(
            (round(overlap(box, taken)), not air.contains(shapely.box(*box)), np.hypot(step, shift), tuple(at))
        )
    _, _, far, best = min(tries)
    x, y = axes.transData.inverted().transform(best)
    if far > LEADER_FROM:
        ends = axes.transData.inverted().transform([front, best])
        axes.plot(*ends.T, color=colour, linewidth=0.8, zorder=11)
    return badge(axes, (float(x), float(y)), numbers, colour=colour)


def _columns(candidates: Sequence[Candidate], used: dict[int, list[int]]) -> list[list[int]]:
    """The indices in `used` in groups that are in one place on the plan, the highest first."""
    columns: dict[tuple[float, float], list[int]] = {}
    for index in sorted(used, key=lambda k: -candidates[k].at[2]):
        columns.setdefault((round(candidates[index].at[0], 3), round(candidates[index].at[1], 3)), []).append(index)
    return list(columns.values())


def _text(one: Candidate, counts: Sequence[int]) -> str:
    """A line of the key: the number of a place, how high it is, the numbers of units that it is best for."""
    units = " or ".join(filter(None, [", ".join(map(str, counts[:-1])), str(counts[-1])]))
    return f"{one.number}, {height_text(one)}: with {units} unit{'' if list(counts) == [1] else 's'}"
