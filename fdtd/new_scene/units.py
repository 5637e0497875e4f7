"""Units that a first scene tries, and where the first of them stands."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fdtd.errors import SceneError
from fdtd.physics.medium import Medium
from fdtd.physics.panels import HelmholtzResonator
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Point2, Point3
from fdtd.scene.spots import Candidate, candidates

_AIR = Medium(1.2, 343.0)
"""Of a room at about 20 °C, to tune a box to the room."""
_LOWEST, _HIGHEST = 18.0, 70.0
"""Hz between which a box is tuned."""


@dataclass(frozen=True)
class Unit:
    """A kind of unit. name : of the absorber and its device; cabinet : along the wall, deep, high, m
    opening : width and height of its face, m; tuned : Hz, of a resonator, 0 of a panel
    """

    name: str
    cabinet: Point3
    opening: Point2
    tuned: float = 0.0

    @property
    def neck_area(self) -> str:
        """The area of a square neck, m², as it is written."""
        return f"{self.opening[0] ** 2:.6f}".rstrip("0")

    def size(self, spot: Candidate) -> tuple[float, ...]:
        """Edges of its cabinet at `spot` along x, y and z, m."""
        low, high = spot.cabinet or ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0))
        return tuple(round(b - a, 6) for a, b in zip(low, high, strict=True))


def make_unit(kind: str, length: float) -> Unit:
    """The "panel", a board over a closed box of air, or the "resonator", tuned to half a wave along `length`, m."""
    if kind == "panel":
        return Unit("panel absorber", (0.8, 0.2, 1.2), (0.74, 1.14))
    from scipy.optimize import brentq

    wanted = min(max(_AIR.speed_of_sound / (2.0 * length), _LOWEST), _HIGHEST)

    def above(side: float) -> float:
        return HelmholtzResonator(side**2, 0.1, 0.22, 10.0).resonance(_AIR) - wanted

    side = round(float(brentq(above, 0.02, 0.6)), 3)
    return Unit("resonator box", (0.7, 0.5, 0.9), (side, side), wanted)


def best_spot(text: Callable[[bool], str], taken: Sequence[Point3]) -> Candidate | None:
    """The candidate in a corner, or else anywhere, that is farthest from all that is `taken`; None if there is none.

    text : whether the unit has its cabinet, which needs a wall along x or y, -> a scene with [spots] for it
    """
    rank = {"corner": 2, "edge": 1}

    def merit(candidate: Candidate) -> tuple[int, float]:
        gap = min(math.dist(candidate.at[:2], other[:2]) for other in taken)
        return rank.get(candidate.corner, 0), round(gap, 6)

    for cabinet in (True, False):
        try:
            scene = read_scene_text(text(cabinet))
        except SceneError:  # no candidate
            continue
        return max(candidates(scene), key=merit)
    return None
