"""Candidate places for units on the surfaces of a room: where they can be, in words, and which exclude each other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from shapely import STRtree

from fdtd.scene.schema import Absorber, Block, Point3, Rectangle, Scene, Spots, Variant
from fdtd.scene.shape import NEAR, TOLERANCE, Shape, overlap
from fdtd.scene.spot_checks import Surroundings, cabinet_block, share_space
from fdtd.scene.spot_faces import Body, Level, Upright, bodies, find_surface, make_body
from fdtd.scene.words import show

MOST_TRIED = 4000
"""Places looked at; more of them are a slip in `spacing`."""

ASSUMED_DEPTH = 0.05
"""m before its face that a unit without a cabinet takes up when it is asked whether another stands in its way."""

_FACING = {(1, 0): "+x", (-1, 0): "-x", (0, 1): "+y", (0, -1): "-y"}


@dataclass(frozen=True)
class Candidate:
    """A place for a unit.

    number : from 1, in the order in which one walks along the walls; name : "spot 7"; words : where it is
    height : of the whole unit, its cabinet included: "on the floor", "under the ceiling", "0.58 m above the floor"
    on, rectangle : its face, as of an absorber; at : m, the centre of the face
    corner : "corner" if surfaces rise at two neighbouring edges of the unit, "edge" if at one, else "face"
    excludes : numbers of the candidates that can't be used together with it
    cabinet : lower and upper corner of the cabinet around it; None without one
    facing : "+x", "-y" ..: the side of the cabinet that the face is on
    """

    number: int
    name: str
    words: str
    height: str
    on: str
    rectangle: Rectangle
    at: Point3
    corner: str
    excludes: tuple[int, ...] = ()
    cabinet: tuple[Point3, Point3] | None = None
    facing: str = ""

    def absorber(self, device: str, gain: float = 1.0) -> Absorber:
        """A unit there, its face in the plane of the surface."""
        return Absorber(self.name, device, self.on, self.rectangle, gain)

    def standing(self, device: str, gain: float = 1.0, material: str = "rigid") -> tuple[Absorber, Block] | None:
        """A unit there with its cabinet in front of the wall, as the scene reader makes it; None without a cabinet."""
        if self.cabinet is None:
            return None
        block = Block(f"{self.name} cabinet", *self.cabinet, material)
        across = 1 if self.facing[1] == "x" else 0
        (low, high), bottom, top = self._span(across), self.rectangle.lower[1], self.rectangle.upper[1]
        rectangle = Rectangle((low, bottom), (high, top))
        return Absorber(self.name, device, f"block {block.name} {self.facing}", rectangle, gain), block

    def _span(self, axis: int) -> tuple[float, float]:
        half = 0.5 * (self.rectangle.upper[0] - self.rectangle.lower[0])
        return round(self.at[axis] - half, 9), round(self.at[axis] + half, 9)


@dataclass(frozen=True)
class Survey:
    """The candidates, and why other places are none: (reason in words, how many), the most frequent first."""

    candidates: tuple[Candidate, ...]
    left_out: tuple[tuple[str, int], ...]


def candidates(scene: Scene, variant: Variant | None = None) -> tuple[Candidate, ...]:
    """The candidate places of `scene` in `variant` (without: the one that [spots] starts from).

    Raises ValueError if the scene has no [spots].
    """
    if scene.spots is None:
        raise ValueError("the scene has no [spots]")
    return survey(Shape(scene.room), variant or scene.spots.start, scene.spots).candidates


def places_tried(shape: Shape, variant: Variant, spots: Spots) -> int:
    """About how many places `survey` would look at."""
    total = 0.0
    for on in spots.on:
        surface = find_surface(on, shape, variant.blocks)
        if isinstance(surface, Upright):
            sides = surface.end - surface.start, surface.top - surface.bottom
        elif surface is not None:
            x0, y0, x1, y1 = shape.plan.bounds
            sides = x1 - x0, y1 - y0
        else:
            continue
        total += (max(sides[0], 0.0) / spots.spacing + 2.0) * (max(sides[1], 0.0) / spots.spacing + 2.0)
    return int(total)


def survey(shape: Shape, variant: Variant, spots: Spots) -> Survey:
    """Look at every place that [spots] asks for, surface by surface, along each, from the bottom up."""
    around = Surroundings(shape, variant, spots)
    deep = spots.cabinet[1] if spots.cabinet else 0.0
    outer = (spots.cabinet[0], spots.cabinet[2]) if spots.cabinet else spots.size
    found: list[Body] = []
    reasons: Counter[str] = Counter()
    for on in spots.on:
        surface = find_surface(on, shape, variant.blocks, deep)
        if surface is None:
            reasons[f"there is no {on}"] += 1
            continue
        tried, free = 0, []
        for body in bodies(surface, shape, variant, spots.size, outer, deep, spots.spacing, spots.height):
            tried += 1
            fault = around.fault(body)
            if fault:
                reasons[fault] += 1
            else:
                free.append(body)
        if not tried:
            reasons[f"{on} is too small, or too low for the range of heights"] += 1
        found += _thinned(free, around) if isinstance(surface, Level) else free
    excludes = _excludes(found)
    made = (_candidate(k + 1, body, around, excludes[k]) for k, body in enumerate(found))
    return Survey(tuple(made), tuple(reasons.most_common()))


def _thinned(free: Sequence[Body], around: Surroundings) -> list[Body]:
    """Places on a level without those in the open that overlap an earlier one or one at an edge.

    Edges of everything in the room cross there, and would leave many places that are nearly the same.
    """
    kept = [body for body in free if around.corner(body) != "face"]
    for body in free:
        if not any(overlap(body.outer, other.outer) > TOLERANCE for other in kept):
            kept.append(body)
    chosen = set(map(id, kept))
    return [body for body in free if id(body) in chosen]


def _excludes(found: Sequence[Body]) -> list[tuple[int, ...]]:
    """For each place the numbers of those that take up some of its space."""
    thick = [make_body(b.surface, b.outer, None, b.deep, ASSUMED_DEPTH) for b in found]
    tree = STRtree([b.footprint for b in thick])
    lists = []
    for k, body in enumerate(thick):
        near = sorted(int(i) for i in tree.query(body.footprint))
        lists.append(tuple(i + 1 for i in near if i != k and share_space(body, thick[i])))
    return lists


def _candidate(number: int, body: Body, around: Surroundings, excludes: tuple[int, ...]) -> Candidate:
    corner = around.corner(body)
    block = cabinet_block(body, "")
    facing = ""
    if block is not None and isinstance(body.surface, Upright):
        nx, ny = body.surface.inward
        facing = _FACING[round(nx), round(ny)]
    x, y, z = body.centre
    return Candidate(
        number, f"spot {number}", place_words(body, around, corner), height_words(body, around.shape), body.surface.on,
        body.rectangle, (round(x, 9), round(y, 9), round(z, 9)), corner, excludes,
        (block.lower, block.upper) if block else None, facing,
    )  # fmt: skip


def place_words(body: Body, around: Surroundings, corner: str) -> str:
    """Where a unit is, as one would say it with a tape measure: distances are those of its edges."""
    if isinstance(body.surface, Level):
        where = _level_words(body, body.surface)
    else:
        where = f"{_along_words(body, body.surface, around)}, {height_words(body, around.shape)}"
    return where + {"corner": "; in a corner", "edge": "; at an edge", "face": ""}[corner]


def _level_words(body: Body, surface: Level) -> str:
    x, y, _ = body.centre
    on = surface.on if surface.height is None or surface.on == "floor" else _block_words(surface.on)
    return f"{on}, its centre at x = {x:.2f} m, y = {y:.2f} m"


def _block_words(on: str) -> str:
    name, _, side = on.removeprefix("block ").rpartition(" ")
    return f"{show(name)}, side {side}"


def _along_words(body: Body, surface: Upright, around: Surroundings) -> str:
    beside = around.beside(body)
    (low, _), (high, _) = body.outer.lower, body.outer.upper
    if not surface.on.startswith("wall "):
        axis = "x" if abs(surface.along[0]) > 0.5 else "y"
        place = f"beside {show(beside)}" if beside else f"its centre at {axis} = {0.5 * (low + high):.2f} m"
        return f"{_block_words(surface.on)}, {place}"
    if beside:
        return f"{surface.on}, beside {show(beside)}"
    number, walls = int(surface.on[5:]), around.shape.walls
    first, last = low - surface.start, surface.end - high
    other = (number - 2) % len(walls) + 1 if first <= last else number % len(walls) + 1
    far = walls[other - 1][0] if first <= last else walls[other - 1][1]
    near = surface.plan_point(0.0) if first <= last else walls[other - 1][0]
    into = (far[0] - near[0]) * surface.inward[0] + (far[1] - near[1]) * surface.inward[1]
    what = f"corner with wall {other}" if into > NEAR else f"outer corner with wall {other}"
    what = f"end at wall {other}" if abs(into) <= NEAR else what
    gap = min(first, last)
    if gap < NEAR:
        return f"{surface.on}, {'in' if into > NEAR else 'at'} its {what}"
    return f"{surface.on}, {gap:.2f} m from its {what}"


def height_words(body: Body, shape: Shape) -> str:
    """How high a unit is, its cabinet included."""
    if body.bottom < NEAR:
        return "on the floor"
    if isinstance(body.surface, Level) and body.surface.height is None:
        return "on the ceiling"
    ends = body.footprint.exterior.coords
    if min(shape.ceiling_at(x, y) for x, y in ends) - body.top < 0.02:
        return "under the ceiling"
    return f"{body.bottom:.2f} m above the floor"
