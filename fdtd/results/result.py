"""What a run leaves behind, as plain arrays: the waist between the solver and everything that looks at results."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.results.placement_record import Unit


@dataclass(frozen=True)
class CellGrid:
    """The cells of a room, enough to draw slices.

    edges : three arrays, m, the cell edges along x, y, z
    index : (cell, 3) int32, position of each air cell on that grid (cut or divided cells may share one)
    volume : (cell,) m³, air in each cell
    """

    edges: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
    index: NDArray[np.int32]
    volume: NDArray[np.float64]

    def layer(self, axis: int, number: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Places on the flattened grid of the two other axes that layer `number` along `axis` has, and their cells.

        Of cells that share a place, because a thin wall cuts it, the largest counts.
        """
        rest = [k for k in range(3) if k != axis]
        shape = tuple(len(self.edges[k]) - 1 for k in rest)
        inside = np.flatnonzero(self.index[:, axis] == number)
        place = np.ravel_multi_index(tuple(self.index[inside][:, k] for k in rest), shape)
        order = np.lexsort((-self.volume[inside], place))
        chosen = order[np.flatnonzero(np.diff(place[order], prepend=-1) > 0)]
        return place[chosen].astype(np.int64), inside[chosen]


@dataclass(frozen=True)
class UnitResult:
    """An active unit of a variant.

    gain : loop gain; critical_gain : where it starts to oscillate in this room (inf: nowhere near)
    critical_frequency : Hz, of that oscillation (NaN: none found, but not ruled out above critical_gain)
    distance : of the loop from it (1: far, 0: there); settled : 0 if the room still rang when this was looked at
    band : (band,) Hz; stroke_level, drive_level : (band,) dB, mean sound pressure level at the seats of tones in the
    band at which the diaphragm's stroke, the amplifier's current ends; NaN without a limit
    """

    name: str
    gain: float
    critical_gain: float
    critical_frequency: float
    distance: float
    settled: float
    band: NDArray[np.float64]
    stroke_level: NDArray[np.float64]
    drive_level: NDArray[np.float64]


@dataclass(frozen=True)
class VariantResult:
    """One variant.

    transfer : (source, seat, frequency) complex128, pressure per volume velocity, Pa/(m³/s), e^{+j omega t}
    impulse : (source, seat, time) float64, band-limited impulse response, Pa/(m³/s)/s
    maps : (source, map_frequency, cell) complex64, pressure per volume velocity, Pa/(m³/s)
    cells : the cells of `maps`; source_level, source_delay, source_polarity : (source,) dB, s, +-1, for information
    playback : (source, frequency) complex128, factor on `transfer` when all sources play together: level, delay,
        polarity, roll-off and crossovers; map_playback : (source, map_frequency) complex128, the same for `maps`
    A source that is not in the variant has NaN in all of them.
    outcome : why the simulation ended: "quiet" (every seat had decayed), "asked" (the duration that the scene gives) or
        "limit" (the longest that is simulated); duration : s simulated; steps : time steps
    placed : units of a placement study that stand in it, in a run of its advice
    fallen : dB that the sound at the slowest seat had decayed by then (infinite: not known to be too little)
    """

    name: str
    transfer: NDArray[np.complex128]
    impulse: NDArray[np.float64]
    maps: NDArray[np.complex64]
    cells: CellGrid
    source_level: NDArray[np.float64]
    source_delay: NDArray[np.float64]
    source_polarity: NDArray[np.float64]
    playback: NDArray[np.complex128]
    map_playback: NDArray[np.complex128]
    outcome: str
    duration: float
    steps: int
    placed: tuple[Unit, ...] = ()
    units: tuple[UnitResult, ...] = ()
    fallen: float = float("inf")


@dataclass(frozen=True)
class RunResult:
    """A whole run. frequency, map_frequency : Hz; time : s, sample times of the impulse responses."""

    title: str
    scene_text: str
    program_version: str
    created: str
    computed_from: str
    """SHA-256 of everything that the numbers depend on (scene, version, grid, precision)."""
    speed_of_sound: float
    density: float
    time_step: float
    grid: float
    max_frequency: float
    precision: str
    sources: tuple[str, ...]
    seats: tuple[str, ...]
    frequency: NDArray[np.float64]
    time: NDArray[np.float64]
    map_frequency: NDArray[np.float64]
    variants: tuple[VariantResult, ...]
    output: float = float("nan")
    """dB, sound pressure level at 1 m in free field of a source of level 0; NaN if it is not known."""
