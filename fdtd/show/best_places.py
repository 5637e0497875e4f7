"""The best places for one, two, three ... units on the plan, as the units would stand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from fdtd.scene.schema import Scene
from fdtd.scene.spots import Candidate
from fdtd.show.geometry import plan_view
from fdtd.show.labels import Boxes, Label, no_boxes
from fdtd.show.page import lay_out, room_frame
from fdtd.show.plan import NARROW, letters, plan_axes, write_plan
from fdtd.show.style import FULL_WIDTH, SMALL, figure_style, look, safe_text
from fdtd.show.units import badge, draw_unit, footprint, in_columns, into_room

OFF = 9.0
"""Points from the front of a unit to the middle of its badge."""


def draw_best_places(
    scene: Scene, candidates: Sequence[Candidate], designs: Sequence[Sequence[int]], advised: int = 1,
    width: float = FULL_WIDTH,
) -> Figure:  # fmt: skip
    """The plan with all candidates faint and the best choice of 1, 2, 3 ... units marked, the advised one filled.

    designs : for each count from 1 the indices in `candidates`; advised : the count that is advised; width : inches
    """
    assert scene.spots is not None  # a study has them
    with figure_style():
        variant = scene.spots.start
        heading = f"{safe_text(scene.title or 'room', 60)}: where units do most"
        advised = min(max(advised, 1), max(len(designs), 1))
        chosen = "the best place for one unit" if advised == 1 else f"the best places for {advised} units"
        note = f"Filled: {chosen}; outlined: other best choices; grey: the other {len(candidates)} places tried."
        used = used_places(designs)
        told = _best_labels(candidates, used)
        # In a narrow figure what the numbers mean is told below the plan.
        lines = [] if width >= NARROW else [line for label in told for line in label.text.split("\n")]
        page = lay_out(width, [room_frame(scene, plan_view(variant))], heading, _counted(note, candidates, designs),
                       foot=0.13 * len(lines) + (0.06 if lines else 0.0), titled=False)  # fmt: skip
        if lines:
            page.figure.text(0.02, 0.04 / page.figure.get_figheight(), "\n".join(lines), fontsize=SMALL, va="bottom",
                             linespacing=1.3)  # fmt: skip
        (axes,) = page.axes
        drawing = plan_axes(axes, scene, variant, labels=False)
        for column in in_columns(candidates):
            draw_unit(axes, scene, variant, column[0], look().faint)
        winners = set(designs[advised - 1]) if designs else set()
        anchors, taken = [], no_boxes()
        for indices in _columns(candidates, used):
            strong = bool(winners & set(indices))
            at, box = _mark(axes, scene, candidates, indices, strong)
            anchors.append(at)
            taken = np.vstack([taken, box])
        labels = [] if lines else [Label(one.text, at, gap=OFF - 2.0) for one, at in zip(told, anchors, strict=True)]
        write_plan(axes, scene, drawing, first=labels, taken=taken, without=("absorber", "patch"), limit=letters(width))
        return page.figure


def _counted(note: str, candidates: Sequence[Candidate], designs: Sequence[Sequence[int]]) -> str:
    rest = len(candidates) - len({index for design in designs for index in design})
    return note.replace(f"other {len(candidates)} places", f"other {rest} places")


def used_places(designs: Sequence[Sequence[int]]) -> dict[int, list[int]]:
    """Index of each place that a design uses, with the numbers of units of these designs."""
    used: dict[int, list[int]] = {}
    for count, design in enumerate(designs, start=1):
        for index in design:
            used.setdefault(index, []).append(count)
    return used


def _mark(
    axes: Any, scene: Scene, candidates: Sequence[Candidate], indices: Sequence[int], strong: bool
) -> tuple[tuple[float, float], Boxes]:
    """Draw the units of a column and its badge; returns where the badge is, m, and its box."""
    assert scene.spots is not None
    one, colours = candidates[indices[0]], look()
    draw_unit(axes, scene, scene.spots.start, one, colours.absorber, strong=strong)
    corners, way = footprint(scene, scene.spots.start, one), into_room(scene, one)
    front = corners.mean(axis=0) + float(((corners - corners.mean(axis=0)) @ way).max()) * way
    pixels = axes.transData.transform(front) + way * OFF * axes.figure.dpi / 72.0
    x, y = axes.transData.inverted().transform(pixels)
    numbers = "/".join(str(candidates[k].number) for k in indices)
    colour = colours.absorber if strong else colours.muted
    low, high = axes.transData.transform([corners.min(axis=0), corners.max(axis=0)])
    return (float(x), float(y)), np.vstack([badge(axes, (float(x), float(y)), numbers, colour=colour), [*low, *high]])


def _columns(candidates: Sequence[Candidate], used: dict[int, list[int]]) -> list[list[int]]:
    """The indices in `used` in groups that are in one place on the plan, the highest first."""
    columns: dict[tuple[float, float], list[int]] = {}
    for index in sorted(used, key=lambda k: -candidates[k].at[2]):
        columns.setdefault((round(candidates[index].at[0], 3), round(candidates[index].at[1], 3)), []).append(index)
    return list(columns.values())


def _best_labels(candidates: Sequence[Candidate], used: dict[int, list[int]]) -> list[Label]:
    """A label for each place on the plan; places above one another share it."""
    labels = []
    for column in _columns(candidates, used):
        lines = []
        for index in column:
            one, counts = candidates[index], used[index]
            units = " or ".join(filter(None, [", ".join(map(str, counts[:-1])), str(counts[-1])]))
            lines.append(f"{one.number}, {one.height}: with {units} unit{'' if counts == [1] else 's'}")
        labels.append(Label("\n".join(lines), candidates[column[0]].at[:2]))
    return labels
