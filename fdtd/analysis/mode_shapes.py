"""Mode shapes as arrays: when a shape is largest, where it is silent, which modes mix with each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree

Real = NDArray[np.float64]

SAME = 5e-4
"""Modes whose complex frequencies differ by less than this share are told as one family: the least change of
the room mixes them."""
SILENT = 5e-3
"""Share of the peak below which a change of sign is rounding, not a nodal surface."""
PATCH = 12
"""Nearest points of a nodal surface that tell how it lies there."""
SLENDER = 0.2
"""Width over length of these points below which they are a line, as in a room one cell high."""


@dataclass(frozen=True)
class Place:
    """A point or face that a mode couples to. kind : "source", "seat", "absorber" or "spot"; at : m, its middle
    number : of a spot."""

    kind: str
    name: str
    at: tuple[float, float, float]
    number: int = 0


@dataclass(frozen=True)
class Loudest:
    """Where a mode is loudest. covered : surfaces all over which it is; spots : places (`results.LoudSpot`)."""

    covered: tuple[str, ...] = ()
    spots: tuple[Any, ...] = ()


@dataclass(frozen=True)
class ModeShape:
    """One mode and what couples to it. Shares are of the largest pressure of the mode anywhere in the room.

    number : from 1; frequency : Hz; decay_time : s for 60 dB, NaN for a mode without losses
    shape : (cell,) pressure at the moment at which most of it is there, 1 at the peak
    travelling : share of the energy that is not in `shape`: 0 for a standing wave with sharp nodal lines
    share : (place,) 0 to 1, NaN where there is no air in this variant; of a face the mean pressure on it
    together : (place,) the same for all modes of the family, which doesn't change when they are mixed
    distance : (place,) m to the nearest nodal surface, inf without one
    product : (source, seat) share at the source times share at the seat: how strongly the one makes the mode heard at
    the other; of a family the sum
    level : (source, seat) dB re the same source in free field at 1 m, of a steady tone at `frequency` by this family of
    modes alone; NaN without losses
    family : numbers of the modes so near in frequency that any mix of them is a mode, itself included
    loudest : where it is loudest
    """

    number: int
    frequency: float
    decay_time: float
    shape: Real
    travelling: float
    share: Real
    together: Real
    distance: Real
    product: Real
    level: Real
    family: tuple[int, ...]
    loudest: Loudest


@dataclass(frozen=True)
class ModeShapes:
    """places : of the arrays of each mode shape, sources first, then seats, absorbers and spots; modes : rising."""

    places: tuple[Place, ...]
    modes: tuple[ModeShape, ...]

    def rows(self, kind: str) -> list[int]:
        """Numbers of the places of one kind."""
        return [k for k, place in enumerate(self.places) if place.kind == kind]


def at_its_largest(shape: ArrayLike, volume: ArrayLike) -> tuple[Real, float]:
    """A mode shape at the moment at which most of its energy is pressure, and the share of the energy left out.

    shape : (cell,) real or complex; volume : (cell,) m³. Re(shape e^(jθ)) has the largest integral of its square for
    θ = -arg(∫ shape² dV)/2.
    """
    data, weight = np.asarray(shape, dtype=complex), np.asarray(volume, dtype=float)
    turned = data * np.exp(-0.5j * np.angle(np.sum(weight * data**2)))
    real = np.asarray(turned.real)
    if np.abs(real.min()) > real.max():
        real = -real
    whole = float(np.sum(weight * np.abs(data) ** 2))
    return real, float(np.clip(1.0 - np.sum(weight * real**2) / max(whole, 1e-300), 0.0, 1.0))


def families(eigenvalue: ArrayLike, same: float = SAME) -> list[tuple[int, ...]]:
    """Indices of modes in groups whose neighbours differ by less than the share `same`.

    eigenvalue : (mode,) complex frequency s in 1/s, or any real frequency, in rising order of its size
    """
    s = np.asarray(eigenvalue)
    groups: list[list[int]] = []
    for k in range(len(s)):
        # Damped modes in rising frequency may have a strongly damped stranger between them.
        home = next((g for g in groups if any(abs(s[k] - s[i]) <= same * abs(s[k]) for i in g)), None)
        if home is None:
            groups.append([k])
        else:
            home.append(k)
    return [tuple(g) for g in groups]


def nodal_points(shape: Real, pairs: NDArray[np.int64], centre: Real) -> Real:
    """(point, 3) m, where `shape` changes sign between neighbours, by linear interpolation.

    shape : (cell,) with its peak at 1; pairs : (link, 2) neighbouring cells; centre : (cell, 3) m
    """
    first, second = shape[pairs[:, 0]], shape[pairs[:, 1]]
    change = (first * second < 0.0) & (np.maximum(np.abs(first), np.abs(second)) > SILENT)
    one, other = pairs[change].T
    part = (first[change] / (first[change] - second[change]))[:, None]
    return np.asarray(centre[one] + part * (centre[other] - centre[one]))


def nodal_distance(points: Real, places: ArrayLike, spacing: float) -> Real:
    """(place,) m from each of `places` (place, 3) to the surface that `points` (point, 3) lie on; inf without points.

    Between its points the surface is taken as the plane through the nearest ones; spacing : m, of the points.
    """
    at = np.asarray(places, dtype=float).reshape(-1, 3)
    if not len(points):
        return np.full(len(at), np.inf)
    count = min(PATCH, len(points))
    far, near = cKDTree(points).query(at, k=[*range(1, count + 1)])
    found = []
    for place, distance, rows in zip(at, far, near, strict=True):
        patch = points[rows] - points[rows].mean(axis=0)
        sizes, ways = np.linalg.svd(patch)[1:]
        way, straight = place - points[rows[0]], float(distance[0])
        flat = len(sizes) > 1 and sizes[1] > SLENDER * sizes[0]
        across = abs(float(way @ ways[-1])) if flat else float(np.sqrt(max(straight**2 - (way @ ways[0]) ** 2, 0.0)))
        # The plane counts where a place stands before it; beyond the surface's edge it goes on, the surface does not.
        before = count > 3 and straight**2 - across**2 <= spacing**2
        found.append(across if before else straight)
    return np.array(found)


def levels_of_family(residue: ArrayLike, eigenvalue: ArrayLike, frequency: float) -> NDArray[np.complex128]:
    """Pressure per volume velocity, Pa/(m³/s), that modes alone leave of a steady tone.

    residue : (mode, ...) Pa/m³, A in the impulse response Re A exp(s t) of each; eigenvalue : (mode,) s, 1/s
    frequency : Hz. The conjugate pole at negative frequencies is left out: it is the tail of another resonance.
    """
    a, s = np.asarray(residue, dtype=complex), np.asarray(eigenvalue, dtype=complex)
    weight = 0.5 / (2j * np.pi * frequency - s)
    return np.asarray(np.tensordot(weight, a, axes=(0, 0)), dtype=complex)


def best_first(values: Real, rows: Sequence[int], within: float = 0.0) -> list[int]:
    """`rows` by falling value, without NaN, as far as they reach `within` times the first one's."""
    known = sorted((k for k in rows if np.isfinite(values[k])), key=lambda k: -float(values[k]))
    return [k for k in known if values[k] >= within * values[known[0]]]
