"""Where a person with a level meter would find it loudest, and whether that is where a unit does best.

A tone at the resonance that rings worst is played through the loudspeakers; the pressure in the cells next to floor and
walls is what the meter would show there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.signal import find_peaks
from scipy.spatial import cKDTree
from scipy.stats import spearmanr

from fdtd.analysis.response import combined_transfer, free_field_reference
from fdtd.model.problem import Problem, build_problem
from fdtd.placement.objectives import BAND, ringing_limit
from fdtd.ports.response import excitations_of, measure, readers_of
from fdtd.results.placement_record import LoudSpot, Tone
from fdtd.scene.schema import Scene, Variant
from fdtd.scene.shape import Shape
from fdtd.simulation.compilation import Compilation
from fdtd.simulation.device import DOUBLE, Execution
from fdtd.simulation.progress import Progress, part
from fdtd.simulation.transfer import map_transfer, transfer_functions
from fdtd.study.loudest_spots import loudest_spots

TONES = 24
"""Tones, even over log frequency, that stand for a band."""
QUIETER = 12.0
"""dB below the strongest resonance from which one is not taken for the worst; ours."""
PROMINENT = 3.0
"""dB that the level at the seats rises on both sides to what is taken for a resonance."""
FEWEST = 5
"""Places below which a rank correlation says nothing."""


@dataclass(frozen=True, eq=False)
class LoudestMap:
    """frequency : (tone,) Hz, of one tone or of those that stand for a band; cell, surface : (row,) each cell beside
    floor or a wall, once for each surface; at : (row, 3) m, on the surface; level : (row,) dB re the loudest
    seat_level : (seat,) on the same scale; spots : the loudest separate ones, loudest first; tone : why, if it was
    chosen by the program"""

    frequency: NDArray[np.float64]
    cell: NDArray[np.int64]
    surface: tuple[str, ...]
    at: NDArray[np.float64]
    level: NDArray[np.float64]
    seat_level: NDArray[np.float64]
    spots: tuple[LoudSpot, ...]
    tone: Tone | None = None

    def level_at(self, points: ArrayLike) -> NDArray[np.float64]:
        """(point,) dB re the loudest at the boundary cells nearest to `points` (point, 3), m."""
        _, row = cKDTree(self.at).query(np.asarray(points, dtype=float).reshape(-1, 3))
        return self.level[row]


@dataclass(frozen=True)
class Agreement:
    """Of the loudest places and the best ones. places : how many were compared; rank : of the loudest place by benefit
    few : the best few, a tenth of all but at least three; both : places among the few loudest and the few best
    correlation : Spearman's, of level and benefit over all places, NaN if it can't be said
    """

    places: int
    rank: int
    few: int
    both: int
    correlation: float


def worst_tone(frequency: NDArray[np.float64], response: NDArray[np.complex128]) -> Tone:
    """The resonance that is heard to ring worst at the seats.

    It is the one with the largest sum of two figures in dB (ours): how far its decay time lies above
    `ringing_limit`, and how far its level lies above the others'. A peak's decay time is 3 ln(10) |dH/d omega|/|H| (see
    placement/objectives.py). With none above the threshold it is the loudest one; without any the loudest tone.

    frequency : (F,) Hz, rising; response : (F, seat) Pa/(m³/s) with all sources playing
    """
    axis = np.asarray(frequency, dtype=float)
    ratio = np.asarray(response) / axis[:, None]
    power = (np.abs(ratio) ** 2).sum(axis=1)
    late = (np.abs(np.gradient(ratio, 2.0 * np.pi * axis, axis=0)) ** 2).sum(axis=1)
    decay = 3.0 * np.log(10.0) * np.sqrt(late / np.maximum(power, 1e-300))
    level = 10.0 * np.log10(np.maximum(power, 1e-300))
    peaks, _ = find_peaks(level, prominence=PROMINENT)
    peaks = peaks[(axis[peaks] >= BAND[0]) & (axis[peaks] <= BAND[1])]
    if not len(peaks):
        inside = (axis >= BAND[0]) & (axis <= BAND[1])
        return Tone(float(axis[inside][np.argmax(level[inside])]), np.nan)
    below = level[peaks].max() - level[peaks]
    over = 20.0 * np.log10(decay[peaks] / ringing_limit(axis[peaks]))
    audible = (over > 0.0) & (below < QUIETER)
    k = int(np.argmax(np.where(audible, over - below, -np.inf))) if audible.any() else int(np.argmin(below))
    at = peaks[k]
    return Tone(float(axis[at]), float(decay[at]))


def loudest(
    scene: Scene,
    variant: Variant | None = None,
    frequency: float | tuple[float, float] | None = None,
    *,
    grid: float | None = None,
    duration: float | None = None,
    execution: Execution = DOUBLE,
    progress: Progress | None = None,
) -> LoudestMap:
    """Levels over floor and walls with all sources playing.

    frequency : Hz, a tone, or the ends of a band of pink noise; None: the tone of the worst resonance (`worst_tone`)
    grid : m; duration : s (default: the scene's, else until 60 dB down)
    """
    variant = variant or scene.variants[0]
    spacing, length = grid or scene.run.grid, duration or scene.run.duration
    tone = None
    if frequency is None:
        tone = _first_look(scene, variant, max(spacing, 0.15), length, execution, part(progress, 0.0, 0.3))
        frequency = tone.frequency
    tones = np.geomspace(*frequency, TONES) if isinstance(frequency, tuple) else np.array([float(frequency)])
    first = 0.3 if tone else 0.0
    problem = build_problem(scene, variant, spacing)
    excitations, seats = excitations_of(scene, variant, problem), readers_of(variant)
    tell = part(progress, first, 1.0)
    done = measure(scene, problem, excitations, seats, length, execution, tell, tones)
    playback = np.stack([s.playback(tones) for s in variant.sources]) / free_field_reference(tones, scene.air.density)
    pressure = np.einsum("sfc,sf->fc", map_transfer(done, tones), playback)
    at_seats = np.einsum("srf,sf->rf", transfer_functions(done, tones), playback)
    return loudest_map(scene, variant, problem, tones, pressure, at_seats, tone)


def _first_look(
    scene: Scene, variant: Variant, spacing: float, duration: float | None, execution: Execution, report: Progress
) -> Tone:
    ready = Compilation()
    problem = build_problem(scene, variant, spacing)
    excitations = excitations_of(scene, variant, problem)
    ready.wait(report)
    done = measure(scene, problem, excitations, readers_of(variant), duration, execution, report)
    step = next((s for s in (0.25, 0.125) if s <= 1.0 / done.duration), 0.0625)
    top = min(BAND[1] * 1.25, scene.run.max_frequency)
    axis = np.asarray(10.0 + step * np.arange(int((top - 10.0) / step) + 1), dtype=float)
    playback = np.stack([s.playback(axis) for s in variant.sources])
    together = combined_transfer(transfer_functions(done, axis), playback)
    return worst_tone(axis, together.T)


def loudest_map(
    scene: Scene,
    variant: Variant,
    problem: Problem,
    frequency: NDArray[np.float64],
    pressure: NDArray,
    at_seats: NDArray,
    tone: Tone | None = None,
) -> LoudestMap:
    """The map from the pressure of all sources together: pressure (tone, cell), at_seats (seat, tone), any one unit."""
    faces, surfaces = problem.cells.faces, problem.cells.surfaces
    asked = np.array([name == "floor" or name.startswith("wall ") for name in surfaces])
    rows = np.unique(np.column_stack([faces.cell, faces.surface])[asked[faces.surface]], axis=0)
    cell, names = rows[:, 0], tuple(surfaces[k] for k in rows[:, 1])
    power = (np.abs(np.asarray(pressure, dtype=complex)) ** 2).mean(axis=0)
    top = float(power[cell].max())
    level = 10.0 * np.log10(np.maximum(power, 1e-12 * top) / top)
    seat_level = 10.0 * np.log10(np.maximum((np.abs(at_seats) ** 2).mean(axis=1), 1e-12 * top) / top)
    at = _on_surface(scene, problem.cells.centre[cell], names)
    spots = loudest_spots(variant.sources, problem, level, cell, names)
    return LoudestMap(np.asarray(frequency), cell, names, at, level[cell], seat_level, spots, tone)


def _on_surface(scene: Scene, centre: NDArray[np.float64], names: tuple[str, ...]) -> NDArray[np.float64]:
    """Cell centres moved onto their surfaces."""
    at = centre.copy()
    label = np.array(names)
    at[label == "floor", 2] = 0.0
    for number, (start, end) in enumerate(Shape(scene.room).walls, start=1):
        mine = label == f"wall {number}"
        way = np.subtract(end, start) / np.hypot(*np.subtract(end, start))
        at[mine, :2] = start + np.outer((centre[mine, :2] - start) @ way, way)
    return at


def agreement_with_best(level: ArrayLike, benefit: ArrayLike) -> Agreement:
    """Whether the loudest candidate places are the best ones. How many are few is ours.

    level : (place,) dB at the faces (`LoudestMap.level_at`); benefit : (place,) dB of a unit on each alone
    """
    loud, good = np.asarray(level, dtype=float), np.asarray(benefit, dtype=float)
    few = max(3, len(loud) // 10)
    rank = 1 + int(np.sum(good > good[np.argmax(loud)]))
    both = len(set(np.argsort(-loud)[:few].tolist()) & set(np.argsort(-good)[:few].tolist()))
    known = len(loud) >= FEWEST and np.ptp(loud) > 0.0 and np.ptp(good) > 0.0
    return Agreement(len(loud), rank, few, both, float(spearmanr(loud, good).statistic) if known else np.nan)
