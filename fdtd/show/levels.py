"""What drawings and their captions share: planes of a map, its nearest resonance."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.response import combined_map, level_db
from fdtd.listening.study import Listening
from fdtd.results.result import RunResult
from fdtd.show.geometry import View
from fdtd.show.slices import cell_slice, common_raster, on_raster

NEAR_RESONANCE = 0.02
"""A map shows a resonance if its frequency differs from that of the resonance by at most this share."""


def map_levels(result: RunResult, number: int, view: View) -> list[NDArray[np.float64]]:
    """Level of each variant on the common raster, dB re the highest of all; number : of the map's frequency."""
    raster = common_raster([v.cells for v in result.variants], view.normal)
    first, second = view.axes
    levels = []
    for variant in result.variants:
        pressure = combined_map(variant.maps[:, [number]], variant.map_playback[:, [number]])[0]
        plane = cell_slice(variant.cells, pressure, view.normal, view.position)
        level = level_db(plane, result.map_frequency[number], result.density)
        edges = variant.cells.edges[first], variant.cells.edges[second]
        levels.append(np.asarray(on_raster(edges, level, raster), dtype=float))
    finite = [level[np.isfinite(level)] for level in levels]
    highest = max((float(f.max()) for f in finite if f.size), default=0.0)
    return [level - highest for level in levels]


def resonance_near(frequency: float, heard: Listening | None) -> tuple[int, float, float, float] | None:
    """(number in the tables from 0, Hz, decay time in s, distance as a share) of the resonance nearest to `frequency`.

    As it is in the first variant that has it; None if none is known.
    """
    best: tuple[int, float, float, float] | None = None
    if heard is None:
        return best
    for number, one in enumerate(heard.followed):
        for variant, k in zip(heard.variants, one.numbers, strict=True):
            if k is not None:
                own = float(variant.resonances.frequency[k])
                distance = abs(float(np.log(own / frequency)))
                if best is None or distance < best[3]:
                    best = (number, own, float(variant.resonances.decay_time[k]), distance)
                break
    return best
