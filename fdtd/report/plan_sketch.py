"""The plan of the first screen: the room in a few lines, large letters, the spots of the answer marked."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdtd.report.markup import Markup
from fdtd.report.templating import render
from fdtd.scene.schema import Block, Point2, PorousVolume, Scene, Seat, Source, ThinPartition, Variant
from fdtd.scene.spots import Candidate
from fdtd.show.geometry import surface_corners
from fdtd.show.text import plain_text

SIZE = 460.0
"""Longer side of the drawing, in its own units; letters are 15 of them high."""
MARGIN = 34.0
Box = tuple[float, float, float, float]
"""x and y of the upper left corner, then of the lower right one."""
FARTHER = (16.0, 24.0, 32.0, 44.0, 60.0, 80.0, 100.0)
"""How far a badge may stand from its spot, in units of the drawing."""
MARK = 8.0
"""Half the width of the mark of a loudspeaker or a seat."""
LETTER = 8.4
"""Mean width of a letter."""


def plan_sketch(
    scene: Scene,
    variants: Sequence[Variant],
    places: Sequence[Candidate],
    chosen: Sequence[int],
    ids: str,
    alike: Sequence[int] = (),
) -> Markup:
    """The room from above as SVG: the last of `variants`, with the absorbers of all of them.

    places : all that were tried; chosen : numbers of those that are advised; alike : numbers of those that are as good,
    as far as is known; ids : goes before the ids in it
    """
    variant, absorbers = variants[-1], absorbers_of(scene, variants)
    corners = np.array(scene.room.plan)
    low, size = corners.min(axis=0), np.ptp(corners, axis=0)
    scale = (SIZE - 2 * MARGIN) / float(size.max())
    wide, high = (float(v) for v in size * scale + 2 * MARGIN)

    def at(point: Sequence[float]) -> Point2:
        return MARGIN + (point[0] - float(low[0])) * scale, high - MARGIN - (point[1] - float(low[1])) * scale

    marked = [p for p in places if p.number in chosen]
    equal = [p for p in places if p.number in alike and p.number not in chosen]
    outlines = [(name, np.array([at(corner) for corner in corners])) for name, corners in absorbers]
    things: tuple[Source | Seat, ...] = (*variant.sources, *variant.seats)
    named = [(one.name, _box(*at(one.at), MARK, MARK)) for one in things]
    named += [(name, _around(outline)) for name, outline in outlines]
    taken = [_box(0.5 * (x0 + x1), 0.5 * (y0 + y1), 10.0, 10.0) for _, (x0, y0, x1, y1) in named]
    advised = _badges(marked, at, "spot", taken, (wide, high))
    badges = _badges(equal, at, "equal", taken, (wide, high)) + advised
    taken += [box for _, outline in outlines for box in _along(outline)]
    boxes: tuple[Block | PorousVolume, ...] = (*variant.blocks, *variant.porous_volumes)
    walls = [_thin_partition_ends(one) for one in variant.thin_partitions if one.axis < 2]
    counts = ((len(variant.sources), "loudspeaker"), (len(variant.seats), "seat"), (len(absorbers), "absorber"))
    return render(
        "sketch.svg",
        size=(wide, high),
        id=f"{ids}-title",
        things=[f"{count} {kind}{'s' * (count != 1)}" for count, kind in counts if count],
        chosen=chosen,
        room=[*map(at, scene.room.plan)],
        boxes=[[*map(at, _corners(box))] for box in boxes],
        walls=[[*map(at, ends)] for ends in walls],
        tried=[at(place.at) for place in places if place.number not in (*chosen, *alike)],
        absorbers=[outline.tolist() for _, outline in outlines],
        sources=[at(source.at) for source in variant.sources],
        seats=[at(seat.at) for seat in variant.seats],
        badges=badges,
        labels=_labels(named, taken, wide, high),
    )


def absorbers_of(scene: Scene, variants: Sequence[Variant]) -> list[tuple[str, NDArray[np.float64]]]:
    """(name, corners (4, 2) on the plan in m) of every absorber of `variants`, or of the cabinet made for it, once."""
    found: dict[tuple[object, ...], tuple[str, NDArray[np.float64]]] = {}
    for variant in variants:
        blocks = {block.name: block for block in variant.blocks}
        for one in variant.absorbers:
            cabinet = blocks.get(f"{one.name} cabinet")
            if cabinet is not None and one.on.startswith(f"block {cabinet.name} "):
                corners = np.array(_corners(cabinet))
            else:
                face = surface_corners(scene, variant, one.on, one.rectangle)
                assert face is not None  # the surface is one of the variant's
                corners = face[:, :2]
            found.setdefault((one.name, corners.tobytes()), (one.name, corners))
    return list(found.values())


def furniture_of(variants: Sequence[Variant]) -> list[Block | PorousVolume]:
    """The blocks and fills of the last of `variants` that are not cabinets made for absorbers."""
    cabinets = {f"{one.name} cabinet" for variant in variants for one in variant.absorbers}
    return [*(one for one in variants[-1].blocks if one.name not in cabinets), *variants[-1].porous_volumes]


def _badges(
    places: Sequence[Candidate], at: Callable[[Sequence[float]], Point2], kind: str, taken: list[Box], size: Point2
) -> list[dict[str, Any]]:
    """Numbers of spots, off `taken`, which they are added to; those above one another on the plan share a mark.

    kind : "spot" (advised) or "equal"; size : of the drawing
    """
    stacks: dict[tuple[float, float], list[Candidate]] = {}
    for place in places:
        x, y = at(place.at)
        stacks.setdefault((round(x, 1), round(y, 1)), []).append(place)
    high = 15.0 if kind == "spot" else 11.0
    parts = []
    for spot, stack in stacks.items():
        text = "+".join(str(place.number) for place in stack)
        half = max(high, high / 2.7 * len(text) + 7.0)
        x, y = _free(spot, half, high, taken, size)
        taken.append(_box(x, y, half, high))
        parts.append({"kind": kind, "text": text, "spot": spot, "at": (x, y), "half": half, "high": high})
    return parts


def _free(spot: Point2, half: float, tall: float, taken: Sequence[Box], size: Point2) -> Point2:
    """The place nearest to `spot` where a badge covers nothing, sooner towards the middle of the room than away."""
    towards = math.atan2(0.5 * size[1] - spot[1], 0.5 * size[0] - spot[0])
    turns = [sign * step * math.pi / 8.0 for step in range(9) for sign in (1.0, -1.0)]
    ring = [(r * math.cos(towards + t), r * math.sin(towards + t)) for r in FARTHER for t in turns]
    tries = [(spot[0] + dx, spot[1] + dy) for dx, dy in [(0.0, 0.0), *ring]]

    def covered(middle: Point2) -> float:
        box = _box(middle[0], middle[1], half, tall)
        cut = 4.0 * half * tall - _shared(box, (0.0, 0.0, size[0], size[1]))
        return round(cut + sum(_shared(box, other) for other in taken), 6)

    return min(tries, key=covered)


def _labels(named: list[tuple[str, Box]], taken: list[Box], wide: float, high: float) -> list[tuple[str, Point2]]:
    """Names under, over or beside their marks, or within large ones, where they cover the least of what is there."""
    parts = []
    for text, (x0, y0, x1, y1) in named:
        sentence = plain_text(text, 22)
        half = 0.5 * LETTER * len(sentence)
        x, y, tries = 0.5 * (x0 + x1), 0.5 * (y0 + y1), []
        for off, up in ((0.5 * (x1 - x0), 0.5 * (y1 - y0)), (MARK, MARK)):
            side = half + off
            tries += [(x, y + up + 12.0), (x, y - up - 12.0), (x + side + 6.0, y), (x - side - 6.0, y)]
            tries += [(u, y + rise) for u in (x + side + 3.0, x - side - 3.0) for rise in (-up - 8.0, up + 8.0)]
        boxes = [_box(min(max(u, half + 2.0), max(wide - half - 2.0, half + 2.0)), v, half, 9.0) for u, v in tries]
        # Best inside the walls: a line through letters is hard to read.
        best = min(boxes, key=lambda box: sum(_shared(box, other) for other in taken) + _outside(box, wide, high))
        taken.append(best)
        parts.append((sentence, (0.5 * (best[0] + best[2]), best[3] - 4.0)))
    return parts


def _box(x: float, y: float, half: float, tall: float) -> Box:
    return x - half, y - tall, x + half, y + tall


def _around(points: NDArray[np.float64]) -> Box:
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def _along(outline: NDArray[np.float64]) -> list[Box]:
    """Small boxes along a closed line."""
    boxes = []
    for start, end in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        steps = np.linspace(0.0, 1.0, int(np.hypot(*(end - start)) / 4.0) + 2)
        boxes += [_box(float(x), float(y), 2.0, 2.0) for x, y in start + steps[:, None] * (end - start)]
    return boxes


def _shared(one: Box, other: Box) -> float:
    """Area that two boxes share."""
    wide = min(one[2], other[2]) - max(one[0], other[0])
    return max(wide, 0.0) * max(min(one[3], other[3]) - max(one[1], other[1]), 0.0)


def _outside(box: Box, wide: float, high: float) -> float:
    """Area of a box outside the rectangle around the room."""
    inside = _shared(box, (MARGIN, MARGIN, wide - MARGIN, high - MARGIN))
    return (box[2] - box[0]) * (box[3] - box[1]) - inside


def _thin_partition_ends(thin_partition: ThinPartition) -> list[Point2]:
    axis, position = thin_partition.axis, thin_partition.position
    start, end = thin_partition.rectangle.lower[0], thin_partition.rectangle.upper[0]
    return [(position, start), (position, end)] if axis == 0 else [(start, position), (end, position)]


def _corners(box: Block | PorousVolume) -> list[Point2]:
    (x0, y0, _), (x1, y1, _) = box.lower, box.upper
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
