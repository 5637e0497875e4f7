"""Figures of a placement study: ranked places, the plan, what each more unit adds, before and after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from fdtd.scene.schema import Scene
from fdtd.scene.spots import Candidate
from fdtd.show.geometry import outlines, plan_view, surface_corners
from fdtd.show.labels import Label, line_boxes, no_boxes, place_labels
from fdtd.show.style import (
    BLUE,
    FULL_WIDTH,
    LINE_COLOURS,
    SEAT_COLOUR,
    SOURCE_COLOUR,
    VERMILION,
    figure_style,
    frequency_axis,
    line_style,
    new_figure,
    safe_text,
)
from fdtd.show.things import all_lines, draw_room

FAINT = "#b8b8b8"
LOW, HIGH = 20.0, 160.0
"""Hz, band that is judged and drawn."""
DEEPEST = 45.0
"""dB below the highest level; deeper nulls run out of the picture."""
LARGEST_CHANGE = 15.0


@dataclass(frozen=True)
class Bar:
    """One place for a unit. label : its name and where it is; benefit : dB; low, high : dB, 10 and 90 % of perturbed
    rooms, NaN where not known."""

    label: str
    benefit: float
    low: float = float("nan")
    high: float = float("nan")


@dataclass(frozen=True)
class Count:
    """The best design of `count` units. benefit, low, high : dB as in `Bar`; shorter : (seat,) share by which decays
    that rang have become shorter; even : (seat,) dB more even; both against no unit."""

    count: int
    benefit: float
    shorter: NDArray[np.float64]
    even: NDArray[np.float64]
    low: float = float("nan")
    high: float = float("nan")


def draw_ranking(title: str, bars: Sequence[Bar], places: int) -> Figure:
    """Bars of the best places for one unit, best on top; places : how many were compared."""
    with figure_style():
        figure = new_figure(FULL_WIDTH, 0.8 + 0.24 * len(bars))
        axes = figure.add_subplot()
        at = np.arange(len(bars))
        axes.barh(at, [b.benefit for b in bars], height=0.62, color="#9cc7e4", edgecolor=BLUE, linewidth=0.6)
        known = np.array([[b.low, b.high] for b in bars], dtype=float).reshape(-1, 2)
        sure = np.isfinite(known).all(axis=1)
        axes.hlines(at[sure], known[sure, 0], known[sure, 1], color="black", linewidth=1.4, zorder=4)
        axes.plot(known[sure].ravel(), np.repeat(at[sure], 2), "|", color="black", markersize=6, zorder=4)
        axes.set_yticks(at, [safe_text(b.label, 72) for b in bars])
        axes.invert_yaxis()
        axes.axvline(0.0, color="#404040", linewidth=0.6)
        axes.grid(True, axis="x")
        axes.set_xlabel("benefit in dB against no unit")
        lines = "; lines: 10–90 % of perturbed rooms, on larger cells" if sure.any() else ""
        axes.set_title(f"one unit: the best {len(bars)} of {places} places{lines}", loc="right", fontsize=7.0)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        figure.suptitle(safe_text(title, 90))
        return figure


def draw_best_places(scene: Scene, candidates: Sequence[Candidate], designs: Sequence[Sequence[int]]) -> Figure:
    """The plan with all candidates faint and the best choice of 1, 2, 3 ... units marked.

    designs : for each count from 1 the indices in `candidates`
    """
    assert scene.spots is not None  # a study has them
    with figure_style():
        variant = scene.spots.start
        view = plan_view(variant)
        corners = np.vstack(outlines(scene.room, view))
        wide, high = np.ptp(corners, axis=0)
        margin = 0.12 * max(wide, high)
        height = (FULL_WIDTH - 0.6) * (high + 2 * margin) / (wide + 2 * margin) + 0.7
        figure = new_figure(FULL_WIDTH, float(np.clip(height, 3.0, 8.5)))
        axes = figure.add_subplot()
        marks = draw_room(axes, scene, variant, view)
        for one in candidates:
            _draw_face(axes, scene, one, FAINT, 3.0)
        used: dict[int, list[int]] = {}
        for count, design in enumerate(designs, start=1):
            for index in design:
                used.setdefault(index, []).append(count)
        for column in _columns(candidates, used):
            first = min(min(used[index]) for index in column)
            _draw_face(axes, scene, candidates[column[0]], LINE_COLOURS[first], 5.0)
        lower, upper = corners.min(axis=0) - margin, corners.max(axis=0) + margin
        axes.set_xlim(lower[0], upper[0])
        axes.set_ylim(lower[1], upper[1])
        axes.set_aspect("equal")
        axes.set_xlabel("x in m", labelpad=1)
        axes.set_ylabel("y in m", labelpad=1)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        axes.set_title("grey: places that were tried; coloured: the best choice of each number of units", pad=3.0)
        figure.suptitle(safe_text(f"{scene.title or 'room'}: where units do most", 90))
        figure.draw_without_rendering()
        things = [m for m in marks if m.kind != "absorber"]
        colours = {"source": SOURCE_COLOUR, "seat": SEAT_COLOUR}
        labels = _best_labels(candidates, used)
        labels += [
            Label(safe_text(m.name, 26), m.at, colours.get(m.kind, "#606060"), m.kind not in colours and not m.line)
            for m in sorted(things, key=lambda m: m.kind not in colours)
        ]
        outline = [line_boxes(axes, np.vstack([piece, piece[:1]]), 4.0) for piece in outlines(scene.room, view)]
        lines = all_lines(axes, scene, view, things)
        place_labels(axes, labels, no_boxes(), np.vstack([*outline, lines]), size=6.5)
        return figure


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
            lines.append(f"{one.number}, {_height(one)}: with {units} unit{'' if counts == [1] else 's'}")
        first = min(min(used[k]) for k in column)
        labels.append(Label("\n".join(lines), candidates[column[0]].at[:2], LINE_COLOURS[first]))
    return labels


def _height(one: Candidate) -> str:
    """Height of the bottom of the unit or of its cabinet."""
    level = one.on in ("floor", "ceiling") or one.on.endswith("z")
    bottom = one.cabinet[0][2] if one.cabinet else one.at[2] if level else one.rectangle.lower[1]
    return "on the floor" if bottom < 0.01 else f"{bottom:.2f} m up"


def _draw_face(axes: object, scene: Scene, one: Candidate, colour: str, width: float) -> None:
    assert scene.spots is not None
    corners = surface_corners(scene, scene.spots.start, one.on, one.rectangle)
    assert corners is not None  # the surface is one of the room's
    flat = corners[:, :2]
    if one.on in ("floor", "ceiling") or one.on.endswith("z"):
        closed = np.vstack([flat, flat[:1]])
        axes.plot(closed[:, 0], closed[:, 1], color=colour, linewidth=0.3 * width, zorder=4 + width)  # type: ignore[attr-defined]
    else:
        axes.plot(flat[:2, 0], flat[:2, 1], color=colour, linewidth=width, solid_capstyle="butt", zorder=4 + width)  # type: ignore[attr-defined]


def draw_returns(title: str, counts: Sequence[Count], seats: Sequence[str]) -> Figure:
    """Benefit against the number of units, and decay and evenness at each seat."""
    with figure_style():
        figure = new_figure(FULL_WIDTH, 2.9 + 0.14 * ((len(seats) + 2) // 3))
        left, middle, right = figure.subplots(1, 3)
        number = [0, *(c.count for c in counts)]
        left.plot(number, [0.0, *(c.benefit for c in counts)], "o-", color="black", markersize=4)
        known = [c for c in counts if np.isfinite(c.low) and np.isfinite(c.high)]
        left.vlines([c.count for c in known], [c.low for c in known], [c.high for c in known], color=VERMILION,
                    linewidth=3.0, alpha=0.6, zorder=1)  # fmt: skip
        left.set_title("benefit in dB" + ("; red: 10–90 % of\nperturbed rooms, larger cells" if known else "\n"))
        for k, seat in enumerate(seats):
            look = {**line_style(k + 1), "marker": "o", "markersize": 4}
            name = safe_text(seat, 26)
            middle.plot(number, [0.0, *(100.0 * float(c.shorter[k]) for c in counts)], label=name, **look)
            right.plot(number, [0.0, *(float(c.even[k]) for c in counts)], **look)
        middle.set_title("decay of what rings,\n% shorter than without units")
        right.set_title("level, dB more even\nthan without units")
        for axes in (left, middle, right):
            axes.set_xlabel("number of units")
            axes.xaxis.set_major_locator(MaxNLocator(integer=True))
            axes.axhline(0.0, color="#808080", linewidth=0.6)
            axes.grid(True)
            axes.set_ylim(min(axes.get_ylim()[0], 0.0))
        figure.suptitle(safe_text(title, 90))
        figure.legend(*middle.get_legend_handles_labels(), loc="outside lower center", ncols=min(len(seats), 3))
        return figure


def draw_before_after(
    title: str, frequency: NDArray[np.float64], seats: Sequence[str], names: Sequence[str],
    levels: Sequence[NDArray[np.float64]],
) -> Figure:  # fmt: skip
    """Level at every seat without units and with designs, and what these change, 20 to 160 Hz.

    names : of the curves, the room without units first; levels : for each (frequency, seat), dB
    """
    with figure_style():
        figure = new_figure(FULL_WIDTH, 0.7 + 1.9 * len(seats))
        grid = figure.subplots(len(seats), 2, sharex=True, squeeze=False, width_ratios=[3, 2])
        for k, seat in enumerate(seats):
            level, change = grid[k]
            curves = [one[:, k] for one in levels]
            for number, (name, curve) in enumerate(zip(names, curves, strict=True)):
                level.plot(frequency, curve, label=safe_text(name, 60), **line_style(number))
                if number:
                    change.plot(frequency, curve - curves[0], **line_style(number))
            shown = np.array(curves)[:, (frequency >= LOW) & (frequency <= HIGH)]
            top = float(shown.max()) + 3.0
            level.set_ylim(max(float(shown.min()) - 3.0, top - DEEPEST), top)
            change.axhline(0.0, color="#808080", linewidth=0.6)
            largest = float(np.abs(shown - shown[0]).max())
            size = float(np.clip(1.1 * largest, 3.0, LARGEST_CHANGE))
            change.set_ylim(-size, size)
            for axes in (level, change):
                frequency_axis(axes, LOW, HIGH)
            level.set_ylabel("level in dB re\nfree field at 1 m")
            change.set_ylabel("change in dB")
            level.set_title(safe_text(f"at “{seat}”", 48))
        for axes in grid[-1]:
            axes.set_xlabel("frequency in Hz")
        figure.suptitle(safe_text(title, 90))
        figure.legend(*grid[0, 0].get_legend_handles_labels(), loc="outside lower center", ncols=len(names))
        return figure
