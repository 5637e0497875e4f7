"""Units that a first scene tries: what they are, in the words of a scene file, and where the first of them stands."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fdtd.errors import SceneError
from fdtd.physics.helmholtz import HelmholtzResonator
from fdtd.physics.medium import Medium
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Point2, Point3, Scene
from fdtd.scene.shape import Shape
from fdtd.scene.spots import Candidate, candidates
from fdtd.scene.text import numbers

_AIR = Medium(1.2, 343.0)
"""Of a room at about 20 °C, to tune a box to the room."""
_LOWEST, _HIGHEST = 18.0, 70.0
"""Hz between which a box is tuned."""


@dataclass(frozen=True)
class Unit:
    """A kind of unit. name : of the absorber and its device; device : the lines of [devices]; cabinet : along the wall,
    deep, high, m; opening : width and height of its face, m."""

    name: str
    device: str
    cabinet: Point3
    opening: Point2

    def spots(self, cabinet: bool) -> str:
        """The keys that describe the face in [spots]: in its cabinet, or flat on the wall."""
        face = f"size = {numbers(self.opening)}    # width and height of the face, m"
        box = f"cabinet = {{ size = {numbers(self.cabinet)} }}    # metres along the wall, deep, high"
        return f"{face}\n{box}" if cabinet else face


def panel(length: float) -> Unit:
    """A board over a closed box of air; `length` of the room in m is not needed."""
    return Unit("panel absorber", _PANEL, (0.8, 0.2, 1.2), (0.74, 1.14))


def resonator(length: float) -> Unit:
    """A Helmholtz resonator tuned to half a wavelength along a room of `length` m."""
    from scipy.optimize import brentq

    wanted = min(max(_AIR.speed_of_sound / (2.0 * length), _LOWEST), _HIGHEST)

    def above(side: float) -> float:
        return HelmholtzResonator(side**2, 0.1, 0.22, 10.0).resonance(_AIR) - wanted

    side = round(float(brentq(above, 0.02, 0.6)), 3)
    return Unit(
        "resonator box",
        _RESONATOR.format(area=f"{side**2:.6f}".rstrip("0"), tuned=f"{wanted:.0f}", side=f"{side:g}"),
        (0.7, 0.5, 0.9),
        (side, side),
    )


UNITS: dict[str, Callable[[float], Unit]] = {"panel": panel, "resonator": resonator}
"""What a unit is called in an answer -> the unit for a room of a length in m."""


def longest_side(shape: Shape) -> float:
    """The longer side of the box around the plan, m."""
    x0, y0, x1, y1 = shape.plan.bounds
    return max(x1 - x0, y1 - y0)


@dataclass(frozen=True)
class Place:
    """spots : the keys of the face in [spots]; lines : the keys that place an absorber on the best of its spots."""

    spots: str
    lines: str


def best_place(room: str, study: Callable[[str], str], unit: Unit, taken: Sequence[Point3]) -> Place | None:
    """The candidate in a corner, or else anywhere, that is farthest from all that is `taken`; None if there is none.

    room : text of a scene without units; study : the device and [spots] around the keys of its face
    """
    for cabinet in (True, False):
        spots = unit.spots(cabinet)
        try:
            scene = read_scene_text(f"{room}\n{study(spots)}")
        except SceneError:  # no candidate, in a cabinet: it needs a wall along x or y
            continue
        best = _best(scene, taken)
        return Place(spots, _placed(best, unit))
    return None


def _best(scene: Scene, taken: Sequence[Point3]) -> Candidate:
    rank = {"corner": 2, "edge": 1}

    def merit(candidate: Candidate) -> tuple[int, float]:
        gap = min(math.dist(candidate.at[:2], other[:2]) for other in taken)
        return rank.get(candidate.corner, 0), round(gap, 6)

    return max(candidates(scene), key=merit)


def _placed(spot: Candidate, unit: Unit) -> str:
    if spot.cabinet is None:
        lower, upper = numbers(spot.rectangle.lower), numbers(spot.rectangle.upper)
        return f'on = "{spot.on}"    # from and to: metres along the wall, height\nfrom = {lower}\nto = {upper}'
    low, high = spot.cabinet
    size = tuple(round(b - a, 6) for a, b in zip(low, high, strict=True))
    at, opening = numbers(round(c, 6) for c in low), numbers(unit.opening)
    return f'cabinet = {{ at = {at}, size = {numbers(size)}, facing = "{spot.facing}", opening = {opening} }}'


_PANEL = """\
[devices."panel absorber"]
kind = "plate"
mass = 7.5                # kg/m²: a 9 mm board of plywood
depth = 0.18              # m of air behind it; it works best near 60 / sqrt(mass x depth) = 52 Hz
loss = 0.3                # of the board and its edges
source = "assumed: common board; loss by judgement"
"""

_RESONATOR = """\
[devices."resonator box"]
kind = "helmholtz"
neck_area = {area:<13} # m²: a hole of {side} x {side} m
neck_length = 0.1         # m; a longer neck or a smaller hole works at lower frequencies
volume = 0.22             # m³ of air in the box; as it is, it works near {tuned} Hz, the lowest along the room
resistance = 10.0         # Pa·s/m: a thin cloth over the hole, inside
source = "assumed: dimensions of the box; cloth by judgement"
"""
