"""Walls, floor and ceiling as solid bodies outside the air, windows and doors in them, numbers and lengths."""

from __future__ import annotations

import re
from itertools import product
from typing import Any

import numpy as np
import shapely
from matplotlib.colors import to_rgba
from matplotlib.patches import PathPatch
from matplotlib.patches import Polygon as PolygonPatch
from matplotlib.path import Path
from numpy.typing import NDArray
from shapely.geometry import Polygon

from fdtd.scene.faces import wall_number
from fdtd.scene.schema import Patch, Room, Scene, Variant
from fdtd.show.geometry import View, outlines, outward, surface_corners, wall_line
from fdtd.show.labels import Boxes, line_boxes, no_boxes, note, overlap, text_box
from fdtd.show.style import look

GLASS = re.compile(r"\b(window|glaz|glass|pane|skylight)", re.IGNORECASE)
DOOR = re.compile(r"(door|hatch|gate)\b", re.IGNORECASE)


def wall_thickness(room: Room) -> float:
    """Thickness in m with which walls are drawn. Scenes have none: it is a fiftieth of the room, 0.06 to 0.3 m."""
    return float(np.clip(0.02 * np.ptp(np.array(room.plan), axis=0).max(), 0.06, 0.3))


def draw_walls(axes: Any, room: Room, view: View) -> None:
    """Fill what is solid around the air: walls in a plan; walls, floor and ceiling in a section."""
    air = _air(room, view)
    solid = air.buffer(wall_thickness(room), join_style="mitre", mitre_limit=2.0).difference(air)
    rings = []
    for part in shapely.get_parts(solid):
        rings += [part.exterior, *part.interiors]
    if rings:
        path = Path.make_compound_path(*(Path(np.asarray(ring.coords), closed=True) for ring in rings))
        axes.add_patch(PathPatch(path, facecolor=look().muted, edgecolor="none", linewidth=0.0, zorder=2.5))


def outside(axes: Any, room: Room, view: View) -> Boxes:
    """Boxes over the walls and a little beyond, for the names of things in the room to keep off."""
    width = 12.0
    scale = float(np.diff(axes.transData.transform([(0.0, 0.0), (1.0, 0.0)])[:, 0])[0])
    reach = wall_thickness(room) + 0.5 * width * axes.figure.dpi / 72.0 / scale
    around = _air(room, view).buffer(reach, join_style="mitre", mitre_limit=2.0)
    rings = [np.asarray(part.exterior.coords) for part in shapely.get_parts(around)]
    return np.vstack([no_boxes(), *(line_boxes(axes, ring, width) for ring in rings)])


def _air(room: Room, view: View) -> Any:
    return shapely.union_all([Polygon(piece) for piece in outlines(room, view) if Polygon(piece).area > 0.0])


def draw_openings(
    axes: Any, scene: Scene, variant: Variant, view: View
) -> list[tuple[Patch, tuple[float, float], Any]]:
    """Draw the patches of another material; returns each with the middle of its mark and, if seen edge on, its line.

    In a wall that is seen edge on, windows are a gap with lines of glass, doors one with a leaf; other patches are a
    band of colour on the wall. Those seen from the front have an outline and a tint. In a section those behind whoever
    looks are left out.
    """
    drawn = []
    for patch in variant.patches:
        corners = surface_corners(scene, variant, patch.on, patch.rectangle)
        if corners is None:
            continue
        depth = corners[:, view.normal]
        if view.normal != 2 and not (view.cuts(depth.min(), depth.max()) or view.beyond(depth.min(), depth.max())):
            continue
        flat = corners[:, list(view.axes)]
        middle = 0.5 * (flat.min(axis=0) + flat.max(axis=0))
        line = _edge_on(flat)
        away = _away(scene, patch.on, view)
        if line is None:
            _draw_front(axes, patch, flat)
        elif away is None:
            axes.plot(*line.T, color=look().patch, linewidth=2.0, solid_capstyle="butt", zorder=6)
        else:
            _draw_edge(axes, patch, line, away * wall_thickness(scene.room))
        ends = None if line is None else tuple((float(x), float(y)) for x, y in line)
        drawn.append((patch, (float(middle[0]), float(middle[1])), ends))
    return drawn


def _edge_on(flat: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """(2, 2) ends of a face that is seen from its edge; None if it is seen from the front."""
    size = np.ptp(flat, axis=0)
    nxt = np.roll(flat, -1, axis=0)
    area = 0.5 * abs(float(np.sum(flat[:, 0] * nxt[:, 1] - nxt[:, 0] * flat[:, 1])))
    if area > 1e-6 * float(size.max()) ** 2:
        return None
    along = int(size.argmax())
    return np.array([flat[flat[:, along].argmin()], flat[flat[:, along].argmax()]])


def _away(scene: Scene, on: str, view: View) -> NDArray[np.float64] | None:
    """(2,) unit vector out of the room at a surface that the view sees edge on; None where there is no wall behind."""
    if on in ("floor", "ceiling"):
        return np.array([0.0, -1.0 if on == "floor" else 1.0])
    wall = wall_number(on)
    if not wall:
        return None
    away = outward(scene.room.plan, wall)
    if view.normal == 2:
        return away
    along = away[view.axes[0]]
    return np.array([np.sign(along), 0.0]) if abs(along) > 1e-9 else None


def _draw_edge(axes: Any, patch: Patch, line: NDArray[np.float64], away: NDArray[np.float64]) -> None:
    colours, text = look(), f"{patch.name} {patch.material}"
    glass, door = bool(GLASS.search(text)), bool(DOOR.search(text))
    start, end = line
    if not (glass or door):
        band = np.array([start, end, end + 0.45 * away, start + 0.45 * away])
        axes.add_patch(PolygonPatch(band, closed=True, facecolor=colours.patch, edgecolor="none", zorder=2.8))
        return
    gap = np.array([start, end, end + away, start + away])
    axes.add_patch(
        PolygonPatch(gap, closed=True, facecolor=colours.paper, edgecolor=colours.muted, linewidth=0.6, zorder=2.7)
    )
    if glass:
        for share in (0.36, 0.64):
            axes.plot(*(line + share * away).T, color=colours.patch, linewidth=1.0, solid_capstyle="butt", zorder=4.5)
    else:
        leaf = np.array([start + 0.3 * away, end + 0.3 * away, end + 0.7 * away, start + 0.7 * away])
        axes.add_patch(PolygonPatch(leaf, closed=True, facecolor=colours.patch, edgecolor="none", zorder=2.8))


def _draw_front(axes: Any, patch: Patch, flat: NDArray[np.float64]) -> None:
    colour = look().patch
    axes.add_patch(
        PolygonPatch(flat, closed=True, facecolor=to_rgba(colour, 0.16), edgecolor=colour, linewidth=0.8, zorder=2.6)
    )
    if GLASS.search(f"{patch.name} {patch.material}"):
        inner = flat.mean(axis=0) + 0.86 * (flat - flat.mean(axis=0))
        axes.add_patch(PolygonPatch(inner, closed=True, facecolor="none", edgecolor=colour, linewidth=0.5, zorder=2.6))


def write_walls(axes: Any, room: Room, taken: Boxes, beyond: float = 0.0) -> Boxes:
    """Number and length of each wall along its outside, off `taken`; two lines or the bare number where it is short.

    beyond : points by which it may stand farther outside, beyond what is `taken` there
    """
    boxes = [no_boxes()]
    scale = float(np.diff(axes.transData.transform([(0.0, 0.0), (1.0, 0.0)])[:, 0])[0])
    thick = wall_thickness(room) * scale
    beside = thick * 72.0 / axes.figure.dpi
    for number in range(1, len(room.plan) + 1):
        _, direction, length = wall_line(room.plan, number)
        free = length * scale
        contents = (f"wall {number}  {length:.2f} m", f"wall {number}\n{length:.2f} m", f"{number}")
        further = [share * beyond for share in (0.0, 0.4, 1.0)] if beyond else [0.0]
        for content, more in product(contents, further):
            untreated, last = content == contents[-1], (content, more) == (contents[-1], further[-1])
            gap = beside + (10.0 if "\n" in content else 6.0) + more
            text = _write_wall(axes, room, number, content, 0.0 if untreated else upright_angle(direction), gap)
            _slide(text, room, number, np.vstack([taken, *boxes]), _drawn_length(text) / max(length * scale, 1e-9))
            covered = overlap(text_box(text)[0], np.vstack([taken, *boxes]))
            if last or (_drawn_length(text) < free and covered < 1.0):
                break
            text.remove()
        boxes.append(text_box(text))
    return np.vstack(boxes)


def _write_wall(axes: Any, room: Room, number: int, content: str, angle: float, gap: float) -> Any:
    start, direction, length = wall_line(room.plan, number)
    middle, offset = start + 0.5 * length * direction, tuple(gap * outward(room.plan, number))
    turned: dict[str, Any] = {"rotation": angle, "rotation_mode": "anchor"}
    return note(axes, content, middle, offset, color=look().muted, linespacing=1.0, **turned)


def _slide(text: Any, room: Room, number: int, taken: Boxes, share: float) -> None:
    """Move a wall's text along the wall to where it covers least of `taken`; share : of the wall that it is long."""
    start, direction, length = wall_line(room.plan, number)
    free = max(0.0, 0.5 * (1.0 - share))
    costs = []
    for shift in (0.0, -0.35, 0.35, -0.7, 0.7, -1.0, 1.0):
        text.xy = tuple(start + (0.5 + shift * free) * length * direction)
        costs.append((overlap(text_box(text)[0], taken) + 0.01 * abs(shift), text.xy))
    text.xy = min(costs)[1]


def upright_angle(direction: NDArray[np.float64]) -> float:
    """Angle in degrees of text along `direction` that is read without standing on one's head."""
    angle = float(np.degrees(np.arctan2(direction[1], direction[0])))
    return (angle + 90.0) % 180.0 - 90.0 if abs(abs(angle) - 90.0) > 1e-6 else 90.0


def _drawn_length(text: Any) -> float:
    """Length of a text along its own direction, pixels."""
    turned = text.get_rotation()
    text.set_rotation(0.0)
    left, _, right, _ = text_box(text)[0]
    text.set_rotation(turned)
    return float(right - left)
