"""What drawings and their captions share: planes of a map, its nearest resonance."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.response import combined_map, level_db
from fdtd.listening.study import Listening
from fdtd.results.result import RunResult, VariantResult
from fdtd.scene.schema import Scene, Variant
from fdtd.show.geometry import View, outlines
from fdtd.show.plane_field import Picture, in_blocks, plane_air, plane_values
from fdtd.show.things import room_path

PIXELS = 400
"""Of a map, along its longer side."""
NEAR_RESONANCE = 0.02
"""A map shows a resonance if its frequency differs from that of the resonance by at most this share."""


def map_raster(scene: Scene, view: View) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Edges of the pixels of a map over the room in `view`, m."""
    lower, upper = (getattr(np.vstack(outlines(scene.room, view)), end)(axis=0) for end in ("min", "max"))
    pixel = float((upper - lower).max()) / PIXELS
    first, second = (
        np.linspace(low, high, max(2, int(np.ceil((high - low) / pixel))) + 1)
        for low, high in zip(lower, upper, strict=True)
    )
    return first, second


def map_levels(result: RunResult, scene: Scene, number: int, view: View) -> list[NDArray[np.float64]]:
    """Level of each variant in the pixels of `map_raster`, dB re the highest of all; number : of the map's frequency.

    NaN in blocks and outside the room. Of the complex pressure between the cells: a null is as deep as it is.
    """
    first, second = (0.5 * (edges[1:] + edges[:-1]) for edges in map_raster(scene, view))
    points = np.column_stack([axis.ravel() for axis in np.meshgrid(first, second, indexing="ij")])
    inside = room_path(scene, view).contains_points(points)
    levels = []
    for k, variant in enumerate(result.variants):
        there = scene_variant(scene, variant, k)
        pressure = combined_map(variant.maps[:, [number]], variant.map_playback[:, [number]])[0]
        plane = plane_values(variant.cells, pressure, scene, there, view)
        edges = variant.cells.edges[view.axes[0]], variant.cells.edges[view.axes[1]]
        picture = Picture(plane_air(edges, np.isfinite(plane), scene, there, view), first, second)(plane)
        level = level_db(picture, result.map_frequency[number], result.density)
        free = inside & ~in_blocks(there, view, points)
        levels.append(np.where(free.reshape(level.shape), level, np.nan))
    finite = [level[np.isfinite(level)] for level in levels]
    highest = max((float(f.max()) for f in finite if f.size), default=0.0)
    return [level - highest for level in levels]


def scene_variant(scene: Scene, variant: VariantResult, number: int) -> Variant:
    """The scene's variant of that name; by number if the name is not there."""
    return next(
        (v for v in scene.variants if v.name == variant.name), scene.variants[min(number, len(scene.variants) - 1)]
    )


def resonance_near(frequency: float, audible: Listening | None) -> tuple[int, float, float, float] | None:
    """(number in the tables from 0, Hz, decay time in s, distance as a share) of the resonance nearest to `frequency`.

    As it is in the first variant that has it; None if none is known.
    """
    best: tuple[int, float, float, float] | None = None
    if audible is None:
        return best
    for number, one in enumerate(audible.followed):
        for variant, k in zip(audible.variants, one.numbers, strict=True):
            if k is not None:
                own = float(variant.resonances.frequency[k])
                distance = abs(float(np.log(own / frequency)))
                if best is None or distance < best[3]:
                    best = (number, own, float(variant.resonances.decay_time[k]), distance)
                break
    return best
