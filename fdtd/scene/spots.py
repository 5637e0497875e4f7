"""Candidate places for units on the surfaces of a room: where they can be, and which exclude each other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from shapely import STRtree
from shapely.geometry import Point, Polygon, box

from fdtd.scene.schema import Absorber, Block, Point3, Rectangle, Scene, Spots, Variant
from fdtd.scene.shape import NEAR, TOLERANCE, Shape, overlap
from fdtd.scene.spot_checks import Surroundings, share_space
from fdtd.scene.spot_faces import Body, Level, Upright, bodies, find_surface, make_body

MOST_TRIED = 4000
"""Places looked at; more of them are a slip in `spacing`."""

ASSUMED_DEPTH = 0.05
"""m before its face that a unit without a cabinet takes up when it is asked whether another stands in its way."""

_FACING = {(1, 0): "+x", (-1, 0): "-x", (0, 1): "+y", (0, -1): "-y"}


@dataclass(frozen=True)
class WallEnd:
    """The nearer end of the wall that a place is on.

    wall : number of the wall that it meets there; kind : "corner" if that wall comes into the room, "outer" if it
    leads away from it, "straight" if it goes on in line; gap : m from there to the unit, 0 if it touches
    """

    wall: int
    kind: str
    gap: float


@dataclass(frozen=True)
class Candidate:
    """A place for a unit.

    number : from 1, in the order in which one walks along the walls
    on, rectangle : its face, as of an absorber; at : m, the centre of the face
    corner : "corner" if surfaces rise at two neighbouring edges of the unit, "edge" if at one, else "face"
    height : of the whole unit, its cabinet included: "floor", "ceiling" (it hangs from it), "top" (right under the
        ceiling) or "raised"; bottom : m above the floor, its lower end
    beside : name of the block that it stands right beside, "" without one; end : of its wall, None beside a block and
        on other surfaces
    excludes : numbers of the candidates that can't be used together with it
    cabinet : lower and upper corner of the cabinet around it; None without one
    facing : "+x", "-y" ..: the side of the cabinet that the face is on
    """

    number: int
    on: str
    rectangle: Rectangle
    at: Point3
    corner: str
    height: str
    bottom: float
    beside: str = ""
    end: WallEnd | None = None
    excludes: tuple[int, ...] = ()
    cabinet: tuple[Point3, Point3] | None = None
    facing: str = ""

    @property
    def name(self) -> str:
        """Of a unit there."""
        return f"spot {self.number}"

    def absorber(self, device: str, gain: float = 1.0) -> Absorber:
        """A unit there, its face in the plane of the surface."""
        return Absorber(self.name, device, self.on, self.rectangle, gain)

    def standing(self, device: str, gain: float = 1.0) -> tuple[Absorber, Block] | None:
        """A unit there with its cabinet in front of the wall, as the scene reader makes it; None without a cabinet."""
        if self.cabinet is None:
            return None
        block = Block(f"{self.name} cabinet", *self.cabinet, "rigid")
        along = self.at[1 if self.facing[1] == "x" else 0]
        (left, bottom), (right, top) = self.rectangle.lower, self.rectangle.upper
        half = 0.5 * (right - left)
        rectangle = Rectangle((round(along - half, 9), bottom), (round(along + half, 9), top))
        return Absorber(self.name, device, f"block {block.name} {self.facing}", rectangle, gain), block


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
    found: list[Body] = []
    reasons: Counter[str] = Counter()
    for on in spots.on:
        surface = find_surface(on, shape, variant.blocks, deep)
        if surface is None:
            reasons[f"there is no {on}"] += 1
            continue
        tried, free = 0, []
        for body in bodies(surface, shape, variant, spots):
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


def too_near(
    scene: Scene, variant: Variant, places: Sequence[Candidate], points: Sequence[Point3], least: float
) -> list[list[bool]]:
    """(point, place) whether a unit there would be nearer to the point than `least` (m), to the side and up or down."""
    shape = Shape(scene.room)
    units = [_space(place, shape, variant) for place in places]
    return [
        [plan.distance(Point(x, y)) < least - NEAR and bottom - least < z < top + least for plan, bottom, top in units]
        for x, y, z in points
    ]


def _space(place: Candidate, shape: Shape, variant: Variant) -> tuple[Polygon, float, float]:
    """What a unit on a place takes up: seen from above, and its lower and upper end in m."""
    if place.cabinet is not None:
        (x0, y0, bottom), (x1, y1, top) = place.cabinet
        return box(x0, y0, x1, y1), bottom, top
    surface = find_surface(place.on, shape, variant.blocks)
    assert surface is not None, f"a place on {place.on}, which is not in the room"
    body = make_body(surface, place.rectangle, thin=ASSUMED_DEPTH)
    return body.footprint, body.bottom, body.top


def _candidate(number: int, body: Body, around: Surroundings, excludes: tuple[int, ...]) -> Candidate:
    facing = ""
    if body.cabinet and isinstance(body.surface, Upright):
        nx, ny = body.surface.inward
        facing = _FACING[round(nx), round(ny)]
    x, y, z = body.centre
    beside = around.beside(body) if isinstance(body.surface, Upright) else ""
    return Candidate(
        number,
        body.surface.on,
        body.rectangle,
        (round(x, 9), round(y, 9), round(z, 9)),
        around.corner(body),
        _height(body, around.shape),
        body.bottom,
        beside,
        None if beside else _wall_end(body, around.shape),
        excludes,
        body.cabinet,
        facing,
    )


def _wall_end(body: Body, shape: Shape) -> WallEnd | None:
    """The end of its wall that is nearer to a unit; None on other surfaces."""
    surface, walls = body.surface, shape.walls
    if not isinstance(surface, Upright) or not surface.on.startswith("wall "):
        return None
    number = int(surface.on[5:])
    first, last = body.outer.lower[0] - surface.start, surface.end - body.outer.upper[0]
    other = (number - 2) % len(walls) + 1 if first <= last else number % len(walls) + 1
    far = walls[other - 1][0] if first <= last else walls[other - 1][1]
    near = surface.plan_point(0.0) if first <= last else walls[other - 1][0]
    into = (far[0] - near[0]) * surface.inward[0] + (far[1] - near[1]) * surface.inward[1]
    kind = "straight" if abs(into) <= NEAR else "corner" if into > NEAR else "outer"
    gap = min(first, last)
    return WallEnd(other, kind, 0.0 if gap < NEAR else gap)


def _height(body: Body, shape: Shape) -> str:
    """How high a unit is, its cabinet included."""
    if body.bottom < NEAR:
        return "floor"
    if isinstance(body.surface, Level) and body.surface.height is None:
        return "ceiling"
    ends = body.footprint.exterior.coords
    return "top" if min(shape.ceiling_at(x, y) for x, y in ends) - body.top < 0.02 else "raised"
