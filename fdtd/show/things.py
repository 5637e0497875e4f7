"""Draw what is in the room: outline, blocks, sheets, fills, patches, absorbers, sources, seats, in any view."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.colors import to_rgba
from matplotlib.lines import Line2D
from matplotlib.patches import Patch as LegendPatch
from matplotlib.patches import PathPatch, Polygon
from matplotlib.path import Path
from numpy.typing import NDArray

from fdtd.scene.schema import Absorber, Block, PorousVolume, Scene, Variant
from fdtd.show.geometry import View, outlines, surface_corners
from fdtd.show.labels import Label, line_boxes, no_boxes
from fdtd.show.style import look, safe_text
from fdtd.show.thin_partitions import cut_sheet_look, draw_thin_partition
from fdtd.show.walls import draw_openings, draw_walls

NEAR = 0.3
"""A source or seat closer to the drawn plane than this, m, is drawn filled; farther ones hollow."""
SQUARE, ROUND = Path.unit_rectangle(), Path.unit_circle()
LOUDSPEAKER = Path.make_compound_path(
    Path(2.0 * np.asarray(SQUARE.vertices) - 1.0, SQUARE.codes),
    Path(0.55 * np.asarray(ROUND.vertices)[::-1], ROUND.codes),
)
"""Mark of a source: a box with a hole for its cone."""
DOTS = ".."
"""Hatch of a porous fill through which a map is seen; finer ones make huge files."""
SYMBOLS: dict[str, Any] = {"source": LOUDSPEAKER, "seat": "o"}


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


def draw_room(
    axes: Any,
    scene: Scene,
    variant: Variant,
    view: View,
    *,
    patches: bool = False,
    walls: bool = False,
    beyond: bool = False,
    tinted: bool | None = None,
) -> list[Mark]:
    """Draw the room of `variant` in `view` on `axes` and return what can be labelled.

    What the plane cuts is solid, what lies beyond it is tinted, what lies before it (a loft over a plan, a sheet's
    lintel) is drawn in thin dashes. An absorber and the cabinet that was made for it are one thing with one mark.

    patches : also patches of another material; walls : solid walls around the air; beyond : leave out what lies before
    the plane, as in an architect's section; tinted : furniture has a light colour (None: with solid walls), not only an
    outline through which a map is seen
    """
    marks: list[Mark] = []
    patches_before, lines_before = len(axes.patches), len(axes.lines)
    cabinets = {f"block {a.name} cabinet": a for a in variant.absorbers}
    bodies: tuple[PorousVolume | Block, ...] = (*variant.porous_volumes, *variant.blocks)
    for body in bodies:
        if not (beyond and _before(body, view)):
            at = _draw_box(axes, body, view, walls if tinted is None else tinted)
            if f"block {body.name}" not in cabinets or not isinstance(body, Block):
                marks.append(Mark(body.name, "block" if isinstance(body, Block) else "porous fill", at))
    for thin_partition in variant.thin_partitions:
        marks.append(Mark(thin_partition.name, "sheet", *draw_thin_partition(axes, thin_partition, view)))
    # A block or sheet may be written taller than a sloped ceiling; it ends there.
    inside = PathPatch(room_path(scene, view), transform=axes.transData)
    for artist in [*axes.patches[patches_before:], *axes.lines[lines_before:]]:
        artist.set_clip_path(inside)
    colours = look()
    if walls:
        draw_walls(axes, scene.room, view)
    edge = 0.8 if walls else 1.2
    axes.add_patch(PathPatch(room_path(scene, view), facecolor="none", edgecolor=colours.ink, linewidth=edge, zorder=4))
    if patches:
        marks += [Mark(p.name, "patch", at, line or ()) for p, at, line in draw_openings(axes, scene, variant, view)]
    for absorber in variant.absorbers:
        mark = _draw_absorber(axes, scene, variant, view, absorber, beyond)
        marks += [mark] if mark is not None else []
    return marks + _draw_points(axes, scene, variant, view, beyond)


def _before(body: Block | PorousVolume, view: View) -> bool:
    """Whether a box lies wholly between the plane and whoever looks at it."""
    span = body.lower[view.normal], body.upper[view.normal]
    return not view.cuts(*span) and not view.beyond(*span)


def _box_look(body: Block | PorousVolume, view: View, tinted: bool) -> dict[str, Any]:
    """Solid where it is cut; seen from outside tinted, or an outline over a map; dashed before the plane."""
    colours, kind = look(), isinstance(body, Block)
    if _before(body, view):
        return {"facecolor": "none", "edgecolor": colours.muted, "linewidth": 0.6, "linestyle": (0, (2, 2))}
    cut = view.cuts(body.lower[view.normal], body.upper[view.normal])
    if tinted:
        face = to_rgba(colours.solid, 1.0 if cut else 0.35) if kind else to_rgba(colours.shade, 1.0)
        return {"facecolor": face, "edgecolor": colours.muted, "linewidth": 0.9 if cut else 0.5}
    if cut:
        style = {"facecolor": colours.solid} if kind else {"facecolor": "none", "hatch": DOTS}
        return {"edgecolor": colours.muted, "linewidth": 0.6, **style}
    return {"facecolor": "none", "edgecolor": colours.muted, "linewidth": 0.6}


def _draw_box(axes: Any, body: Block | PorousVolume, view: View, tinted: bool) -> tuple[float, float]:
    u, v = view.axes
    (x0, y0), (x1, y1) = (body.lower[u], body.lower[v]), (body.upper[u], body.upper[v])
    cut = view.cuts(body.lower[view.normal], body.upper[view.normal])
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    axes.add_patch(Polygon(corners, closed=True, zorder=3.0 if cut else 2.5, **_box_look(body, view, tinted)))
    return 0.5 * (x0 + x1), 0.5 * (y0 + y1)


def _draw_absorber(
    axes: Any, scene: Scene, variant: Variant, view: View, absorber: Absorber, beyond: bool
) -> Mark | None:
    corners = surface_corners(scene, variant, absorber.on, absorber.rectangle)
    if corners is None:
        return None
    depth = corners[:, view.normal]
    if beyond and not view.cuts(depth.min(), depth.max()) and not view.beyond(depth.min(), depth.max()):
        return None
    at, line = draw_face(axes, corners[:, list(view.axes)], look().absorber, 3.0)
    cabinet = next((b for b in variant.blocks if b.name == f"{absorber.name} cabinet"), None)
    if cabinet is not None and absorber.on.startswith(f"block {cabinet.name} "):
        # Its name stands off the whole cabinet.
        (x0, y0), (x1, y1) = (tuple(corner[k] for k in view.axes) for corner in (cabinet.lower, cabinet.upper))
        line = ((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0))
    return Mark(absorber.name, "absorber", at, line)


def draw_face(
    axes: Any, corners: NDArray[np.float64], colour: str, width: float
) -> tuple[tuple[float, float], tuple[tuple[float, float], ...]]:
    """A face seen from the front (tinted polygon) or from its edge (line `width` points thick): its middle and line."""
    nxt = np.roll(corners, -1, axis=0)
    area = 0.5 * abs(float(np.sum(corners[:, 0] * nxt[:, 1] - nxt[:, 0] * corners[:, 1])))
    extent = float(np.ptp(corners, axis=0).max())
    if area > 1e-6 * extent * extent:
        style = {"facecolor": to_rgba(colour, 0.25), "edgecolor": colour, "linewidth": 1.0}
        axes.add_patch(Polygon(corners, closed=True, zorder=5, **style))
        line: tuple[tuple[float, float], ...] = ()
    else:
        axes.plot(corners[:, 0], corners[:, 1], color=colour, linewidth=width, solid_capstyle="butt", zorder=6)
        line = tuple((float(x), float(y)) for x, y in corners)
    middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
    return (float(middle[0]), float(middle[1])), line


def _draw_points(axes: Any, scene: Scene, variant: Variant, view: View, beyond: bool) -> list[Mark]:
    (u, v), colours, marks = view.axes, look(), []
    outline = room_path(scene, view)
    groups = (("source", variant.sources, colours.source), ("seat", variant.seats, colours.seat))
    for kind, things, colour in groups:
        for thing in things:
            depth = thing.at[view.normal]
            near = view.normal == 2 or abs(depth - view.position) <= NEAR
            if beyond and not near and not view.beyond(depth, depth):
                continue
            if not near and not outline.contains_point((thing.at[u], thing.at[v])):
                continue  # in another arm of the room, behind a wall
            face: Any = colour if near else to_rgba(colour, 0.35) if beyond else colours.paper
            style = {"markerfacecolor": face, "markeredgecolor": colours.paper if near else colour}
            mark = {"marker": SYMBOLS[kind], "markersize": 6.0, "markeredgewidth": 0.7}
            axes.plot(thing.at[u], thing.at[v], zorder=8, linestyle="none", **mark, **style)
            marks.append(Mark(thing.name, kind, (float(thing.at[u]), float(thing.at[v]))))
    return marks


def thing_handle(kind: str) -> Any:
    """Legend handle for one kind of thing."""
    colours = look()
    if kind in SYMBOLS:
        colour = colours.source if kind == "source" else colours.seat
        return Line2D([], [], marker=SYMBOLS[kind], linestyle="none", color=colour, markersize=6.0, markeredgewidth=0.0)
    if kind == "absorber":
        return Line2D([], [], color=colours.absorber, linewidth=3.0)
    if kind == "sheet":
        return Line2D([], [], **cut_sheet_look())
    face: dict[str, Any] = (
        {"facecolor": colours.solid} if kind == "block" else {"facecolor": colours.shade, "hatch": DOTS}
    )
    return LegendPatch(edgecolor=colours.muted, linewidth=0.6, **face)


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


def all_lines(axes: Any, scene: Scene, view: View, marks: Sequence[Mark]) -> NDArray[np.float64]:
    """Boxes along the room's outline and everything drawn as a thick line, for labels to keep off."""
    outline = [line_boxes(axes, np.vstack([piece, piece[:1]])) for piece in outlines(scene.room, view)]
    return np.vstack([no_boxes(), *outline, *(line_boxes(axes, mark.line, 4.0) for mark in marks if mark.line)])


def name_labels(marks: Iterable[Mark], limit: int = 26) -> list[Label]:
    """A label with the name of every mark; small ones first, their labels must stand close by."""
    colours = look()
    # Doors and windows are named in the grey of the walls that they are in: their own colour is too pale for letters.
    own = {"source": colours.source, "seat": colours.seat, "absorber": colours.absorber, "patch": colours.muted}
    points = ("source", "seat", "absorber")
    return [
        Label(safe_text(m.name, limit), m.at, own.get(m.kind, ""), inside=m.kind not in SYMBOLS and not m.line)
        for m in sorted(marks, key=lambda mark: mark.kind not in points)
    ]


TAG_SHAPE = {"source": "■", "seat": "●", "absorber": "▬"}
"""What a short tag begins with: the shape of the mark. Letters would be read as left, right or seat."""
MOST_TAGS = 12


def tag_things(variants: list[Variant]) -> dict[tuple[str, str], str]:
    """Short tags (■1 source, ●1 seat, ▬1 absorber) for the named things of all variants, by (kind, name).

    Empty if there are more than fit on a map.
    """
    tags: dict[tuple[str, str], str] = {}
    for kind, shape in TAG_SHAPE.items():
        names: dict[str, None] = {}
        for variant in variants:
            things: tuple[Any, ...] = getattr(variant, f"{kind}s")
            names.update(dict.fromkeys(thing.name for thing in things))
        tags.update({(kind, name): f"{shape}{k}" for k, name in enumerate(names, start=1)})
    return tags if len(tags) <= MOST_TAGS else {}


def legend_entries(marks: list[Mark], tags: dict[tuple[str, str], str]) -> tuple[list[Any], list[str]]:
    """Handles and labels: one entry per tagged thing, one per kind for the rest.

    The handle of a tagged thing is the shape that its tag begins with.
    """
    handles, labels = [], []
    for (kind, name), tag in tags.items():
        handles.append(thing_handle(kind))
        labels.append(f"{tag[1:]} {safe_text(name, 24)}")
    for kind in dict.fromkeys(mark.kind for mark in marks):
        if not any(kind == tagged for tagged, _ in tags):
            handles.append(thing_handle(kind))
            labels.append(kind)
    return handles, labels
