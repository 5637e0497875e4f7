"""Draw what is in the room: outline, blocks, sheets, fills, patches, absorbers, sources, seats, in any view."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.patches import Patch as LegendPatch
from matplotlib.patches import PathPatch, Polygon
from matplotlib.path import Path
from numpy.typing import NDArray

from fdtd.scene.schema import Absorber, Block, Fill, Patch, Rectangle, Scene, Sheet, Variant
from fdtd.show.geometry import View, outlines, surface_corners
from fdtd.show.labels import line_boxes, no_boxes
from fdtd.show.style import ABSORBER_COLOUR, PATCH_COLOUR, SEAT_COLOUR, SOURCE_COLOUR, safe_text

NEAR = 0.3
"""A source or seat closer to the drawn plane than this, m, is drawn filled; farther ones hollow."""

_BLOCK: dict[str, Any] = {"facecolor": "#c9c9c9", "edgecolor": "#404040", "linewidth": 0.6}
_FILL: dict[str, Any] = {"facecolor": "none", "edgecolor": "#606060", "linewidth": 0.6, "hatch": "....."}
_AWAY: dict[str, Any] = {"facecolor": "none", "edgecolor": "#606060", "linewidth": 0.6, "linestyle": (0, (2, 2))}
_SHEET_CLOSED: dict[str, Any] = {"color": "black", "linewidth": 1.6, "solid_capstyle": "butt"}
_SHEET_OPEN: dict[str, Any] = {"color": "black", "linewidth": 1.6, "linestyle": (0, (1.6, 0.8))}


@dataclass(frozen=True)
class Mark:
    """Something that was drawn: name, kind, the point that its label belongs to, the thick line if it is one."""

    name: str
    kind: str
    at: tuple[float, float]
    line: tuple[tuple[float, float], ...] = ()


def room_path(scene: Scene, view: View) -> Path:
    """The room's outline in `view` as one path, for drawing and for clipping maps."""
    pieces = [Path(np.vstack([piece, piece[:1]]), closed=True) for piece in outlines(scene.room, view)]
    return Path.make_compound_path(*pieces) if pieces else Path(np.zeros((1, 2)))


def draw_room(axes: Any, scene: Scene, variant: Variant, view: View, *, patches: bool = False) -> list[Mark]:
    """Draw the room of `variant` in `view` on `axes` and return what can be labelled.

    What the plane does not cut (a block above it, a sheet's lintel) is drawn in thin dashes. `patches` adds patches of
    another material.
    """
    marks: list[Mark] = []
    patches_before, lines_before = len(axes.patches), len(axes.lines)
    for fill in variant.fills:
        marks.append(_draw_box(axes, fill, view, "porous fill", _FILL))
    for block in variant.blocks:
        marks.append(_draw_box(axes, block, view, "block", _BLOCK))
    for sheet in variant.sheets:
        marks.append(_draw_sheet(axes, sheet, view))
    # A block or sheet may be written taller than a sloped ceiling; it ends there.
    inside = PathPatch(room_path(scene, view), transform=axes.transData)
    for artist in [*axes.patches[patches_before:], *axes.lines[lines_before:]]:
        artist.set_clip_path(inside)
    axes.add_patch(PathPatch(room_path(scene, view), facecolor="none", edgecolor="black", linewidth=1.2, zorder=4))
    faces: list[tuple[Patch | Absorber, str, str, float]] = []
    if patches:
        faces += [(patch, "patch", PATCH_COLOUR, 2.0) for patch in variant.patches]
    faces += [(absorber, "absorber", ABSORBER_COLOUR, 3.0) for absorber in variant.absorbers]
    for face, kind, colour, width in faces:
        corners = surface_corners(scene, variant, face.on, face.rectangle)
        if corners is not None:
            at, line = _draw_face(axes, corners[:, list(view.axes)], colour, width)
            marks.append(Mark(face.name, kind, at, line))
    marks += _draw_points(axes, variant, view)
    return marks


def _draw_box(axes: Any, box: Block | Fill, view: View, kind: str, look: dict[str, Any]) -> Mark:
    u, v = view.axes
    lower, upper = np.array(box.lower), np.array(box.upper)
    corners = [(lower[u], lower[v]), (upper[u], lower[v]), (upper[u], upper[v]), (lower[u], upper[v])]
    cut = view.cuts(box.lower[view.normal], box.upper[view.normal])
    axes.add_patch(Polygon(corners, closed=True, zorder=3, **(look if cut else _AWAY)))
    middle = 0.5 * (lower + upper)
    return Mark(box.name, kind, (float(middle[u]), float(middle[v])))


def _draw_sheet(axes: Any, sheet: Sheet, view: View) -> Mark:
    if sheet.axis == view.normal:
        (low_1, low_2), (high_1, high_2) = sheet.rectangle.lower, sheet.rectangle.upper
        corners = [(low_1, low_2), (high_1, low_2), (high_1, high_2), (low_1, high_2)]
        axes.add_patch(Polygon(corners, closed=True, zorder=3, **_AWAY))
        return Mark(sheet.name, "sheet", (0.5 * (low_1 + high_1), 0.5 * (low_2 + high_2)))
    along = next(k for k in view.axes if k != sheet.axis)
    lower, upper = _span(sheet, sheet.rectangle, along)
    cut = view.cuts(*_span(sheet, sheet.rectangle, view.normal))
    gaps = [_span(sheet, o, along) for o in sheet.openings if view.cuts(*_span(sheet, o, view.normal))]
    solid = _SHEET_OPEN if sheet.open_fraction > 0.0 else _SHEET_CLOSED
    thin = {"color": "#404040", "linewidth": 0.6, "linestyle": (0, (2, 2))}
    pieces = _without(lower, upper, gaps) if cut else []
    for start, end in [(lower, upper)] if not cut else gaps:
        axes.plot(*_line(view, sheet, start, end), zorder=4, **thin)
    for start, end in pieces:
        axes.plot(*_line(view, sheet, start, end), zorder=5, **solid)
    start, end = max(pieces, key=lambda p: p[1] - p[0]) if pieces else (lower, upper)
    xs, ys = _line(view, sheet, start, end)
    at = (float(np.mean(xs)), float(np.mean(ys)))
    return Mark(sheet.name, "sheet", at, tuple(zip(*_line(view, sheet, lower, upper), strict=True)))


def _span(sheet: Sheet, rectangle: Rectangle, axis: int) -> tuple[float, float]:
    """Range of a rectangle of the sheet along one of the sheet's own two axes."""
    number = [k for k in range(3) if k != sheet.axis].index(axis)
    return rectangle.lower[number], rectangle.upper[number]


def _line(view: View, sheet: Sheet, start: float, end: float) -> tuple[list[float], list[float]]:
    across = [sheet.position, sheet.position]
    return (across, [start, end]) if view.axes[0] == sheet.axis else ([start, end], across)


def _without(lower: float, upper: float, gaps: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """The range lower..upper less the gaps."""
    pieces, start = [], lower
    for gap_start, gap_end in sorted(gaps):
        if gap_start > start + 1e-9:
            pieces.append((start, gap_start))
        start = max(start, gap_end)
    if upper > start + 1e-9:
        pieces.append((start, upper))
    return pieces


def _draw_face(
    axes: Any, corners: NDArray[np.float64], colour: str, width: float
) -> tuple[tuple[float, float], tuple[tuple[float, float], ...]]:
    """A face seen from the front (hatched polygon) or from its edge (thick line)."""
    nxt = np.roll(corners, -1, axis=0)
    area = 0.5 * abs(float(np.sum(corners[:, 0] * nxt[:, 1] - nxt[:, 0] * corners[:, 1])))
    extent = float(np.ptp(corners, axis=0).max())
    if area > 1e-6 * extent * extent:
        look = {"facecolor": "none", "edgecolor": colour, "linewidth": 1.0, "hatch": "////"}
        axes.add_patch(Polygon(corners, closed=True, zorder=5, **look))
        line: tuple[tuple[float, float], ...] = ()
    else:
        axes.plot(corners[:, 0], corners[:, 1], color=colour, linewidth=width, solid_capstyle="butt", zorder=6)
        line = tuple((float(x), float(y)) for x, y in corners)
    middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
    return (float(middle[0]), float(middle[1])), line


def _draw_points(axes: Any, variant: Variant, view: View) -> list[Mark]:
    u, v = view.axes
    marks = []
    groups = (("source", variant.sources, "^", SOURCE_COLOUR), ("seat", variant.seats, "o", SEAT_COLOUR))
    for kind, things, marker, colour in groups:
        for thing in things:
            near = view.normal == 2 or abs(thing.at[view.normal] - view.position) <= NEAR
            look = {"markerfacecolor": colour if near else "white", "markeredgecolor": "white" if near else colour}
            axes.plot(thing.at[u], thing.at[v], marker, markersize=5.5, markeredgewidth=0.7, zorder=8, **look)
            marks.append(Mark(thing.name, kind, (float(thing.at[u]), float(thing.at[v]))))
    return marks


def thing_handle(kind: str) -> Any:
    """Legend handle for one kind of thing."""
    if kind == "source":
        return Line2D([], [], marker="^", linestyle="none", color=SOURCE_COLOUR, markersize=5.5)
    if kind == "seat":
        return Line2D([], [], marker="o", linestyle="none", color=SEAT_COLOUR, markersize=5.5)
    if kind == "absorber":
        return Line2D([], [], color=ABSORBER_COLOUR, linewidth=3.0)
    if kind == "sheet":
        return Line2D([], [], **_SHEET_CLOSED)
    return LegendPatch(**(_BLOCK if kind == "block" else _FILL))


def frame_room(axes: Any, scene: Scene, view: View) -> None:
    """Limits a little wider than the room, equal scales, axis names, no box around."""
    corners = np.vstack(outlines(scene.room, view))
    lower, upper = corners.min(axis=0), corners.max(axis=0)
    margin = 0.03 * float((upper - lower).max())
    axes.set_xlim(lower[0] - margin, upper[0] + margin)
    axes.set_ylim(lower[1] - margin, upper[1] + margin)
    axes.set_aspect("equal")
    if axes.get_subplotspec().is_last_row():
        axes.set_xlabel(f"{'xyz'[view.axes[0]]} in m", labelpad=1)
    if axes.get_subplotspec().is_first_col():
        axes.set_ylabel(f"{'xyz'[view.axes[1]]} in m", labelpad=1)
    for side in axes.spines.values():
        side.set_visible(False)


def all_lines(axes: Any, scene: Scene, view: View, marks: list[Mark]) -> NDArray[np.float64]:
    """Boxes along the room's outline and everything drawn as a thick line, for labels to keep off."""
    outline = [line_boxes(axes, np.vstack([piece, piece[:1]])) for piece in outlines(scene.room, view)]
    return np.vstack([no_boxes(), *outline, *(line_boxes(axes, mark.line, 4.0) for mark in marks if mark.line)])


TAG_LETTER = {"source": "S", "seat": "L", "absorber": "A"}
MOST_TAGS = 12


def tag_things(variants: list[Variant]) -> dict[tuple[str, str], str]:
    """Short tags (S1 source, L1 listening place, A1 absorber) for the named things of all variants, by (kind, name).

    Empty if there are more than fit on a map.
    """
    tags: dict[tuple[str, str], str] = {}
    for kind, letter in TAG_LETTER.items():
        names: dict[str, None] = {}
        for variant in variants:
            groups: dict[str, tuple[Any, ...]] = {
                "source": variant.sources,
                "seat": variant.seats,
                "absorber": variant.absorbers,
            }
            names.update(dict.fromkeys(thing.name for thing in groups[kind]))
        tags.update({(kind, name): f"{letter}{k}" for k, name in enumerate(names, start=1)})
    return tags if len(tags) <= MOST_TAGS else {}


def legend_entries(marks: list[Mark], tags: dict[tuple[str, str], str]) -> tuple[list[Any], list[str]]:
    """Handles and labels: one entry per tagged thing, one per kind for the rest."""
    entries: dict[str, Any] = {}
    for (kind, name), tag in tags.items():
        entries[f"{tag} {safe_text(name, 24)}"] = thing_handle(kind)
    for kind in dict.fromkeys(mark.kind for mark in marks):
        if not any(kind == tagged for tagged, _ in tags):
            entries[kind] = thing_handle(kind)
    return list(entries.values()), list(entries)
