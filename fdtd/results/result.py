"""What a run leaves behind, as plain arrays: the waist between the solver and everything that looks at results.

What a result file has of it is stated beside each field (docs/result-file.md is the readable form).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from fdtd.results.placement_record import Unit
from fdtd.results.statement import (
    COMPUTED,
    PRESSURE_PER_VELOCITY,
    SCENE,
    VERSION,
    Entry,
    attribute,
    names,
    text,
)

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]


@dataclass(frozen=True)
class CellGrid:
    """The cells of a room, enough to draw slices.

    edges : three arrays, m, the cell edges along x, y, z
    index : (cell, 3) int32, position of each air cell on that grid (cut or divided cells may share one)
    volume : (cell,) m³, air in each cell
    """

    edges: tuple[Real, Real, Real]
    index: Annotated[
        NDArray[np.int32],
        Entry(
            ("cell", "axis"),
            "1",
            "position of the cell among the edges along x, y, z, counted from 0",
            "whole",
            places_of=("edge_x", "edge_y", "edge_z"),
            gaps=True,
        ),
    ]
    volume: Annotated[Real, Entry(("cell",), "m3", "air in the cell", positive=True)]

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


def _limit(what: str) -> Entry:
    meaning = f"level at the seats of tones in the band at which the {what} ends"
    return Entry(("band",), "dB", meaning, nan=True, infinite=True)


@dataclass(frozen=True)
class UnitResult:
    """An active unit of a variant.

    gain : loop gain; critical_gain : where it starts to oscillate in this room (inf: nowhere near)
    critical_frequency : Hz, of that oscillation (NaN: none found, but not ruled out above critical_gain)
    distance : of the loop from it (1: far, 0: there); settled : 0 if the room still rang when this was looked at
    band : (band,) Hz; stroke_level, drive_level : (band,) dB, mean sound pressure level at the seats of tones in the
    band at which the diaphragm's stroke, the amplifier's current ends; NaN without a limit
    """

    name: Annotated[str, text("name of the unit", attribute=True)]
    gain: Annotated[float, attribute("1", "loop gain")]
    critical_gain: Annotated[
        float, attribute("1", "gain at which it starts to oscillate", least=0.0, infinite=True, nan=True)
    ]
    critical_frequency: Annotated[float, attribute("Hz", "of that oscillation", least=0.0, nan=True)]
    distance: Annotated[float, attribute("1", "of the loop from it", least=0.0, nan=True)]
    settled: Annotated[float, attribute("1", "0 if the room still rang", choices=(0.0, 1.0))]
    band: Annotated[Real, Entry(("band",), "Hz", "mid frequency of the third-octave bands", least=0.1, order="rising")]
    stroke_level: Annotated[Real, _limit("diaphragm's stroke")]
    drive_level: Annotated[Real, _limit("amplifier's current")]


def _own(units: str, meaning: str, *axes: str, **more: object) -> Entry:
    """Of each source, NaN where the variant does not have it."""
    absent = tuple(axis for axis in ("source", *axes) if axis in ("source", "seat"))
    return Entry(("source", *axes), units, meaning, absent=absent, **more)  # type: ignore[arg-type]


def _pressure(meaning: str, *axes: str, **more: object) -> Entry:
    return _own(PRESSURE_PER_VELOCITY, meaning, *axes, kind="complex", **more)


def _factor(of: str, *axes: str) -> Entry:
    return _own("1", f"complex factor on {of}", *axes, kind="complex")


COMBINED = "in the combined response"
PER_SOURCE = "per volume velocity of the source"


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

    name: Annotated[str, text("name of the variant", attribute=True)]
    transfer: Annotated[Complex, _pressure(f"pressure at the seat {PER_SOURCE}", "seat", "frequency")]
    impulse: Annotated[
        Real, _own("Pa/(m3/s)/s", "band-limited impulse response, pressure per volume velocity", "seat", "time")
    ]
    maps: Annotated[
        NDArray[np.complex64], _pressure(f"pressure in each cell {PER_SOURCE}", "map_frequency", "cell", called="map")
    ]
    cells: CellGrid
    source_level: Annotated[Real, _own("dB", f"level of the source {COMBINED}")]
    source_delay: Annotated[Real, _own("s", f"delay of the source {COMBINED}", least=0.0, most=10.0)]
    source_polarity: Annotated[Real, _own("1", f"polarity of the source {COMBINED}, +1 or -1", choices=(1.0, -1.0))]
    playback: Annotated[
        Complex, _factor(f"transfer {COMBINED}: level, delay, polarity, roll-off, crossovers", "frequency")
    ]
    map_playback: Annotated[Complex, _factor(f"map {COMBINED}", "map_frequency")]
    outcome: Annotated[str, text("why the simulation ended", choices=("quiet", "asked", "limit"), attribute=True)]
    duration: Annotated[float, attribute("s", "time that was simulated", positive=True)]
    steps: Annotated[int, attribute("", "number of time steps", "whole", least=1)]
    placed: tuple[Unit, ...] = ()
    units: tuple[UnitResult, ...] = ()
    fallen: Annotated[float, attribute("dB", "fall of the sound at the slowest seat by then", infinite=True)] = float(
        "inf"
    )


@dataclass(frozen=True)
class RunResult:
    """A whole run. frequency, map_frequency : Hz; time : s, sample times of the impulse responses.

    output : dB, sound pressure level at 1 m in free field of a source of level 0; NaN if it is not known
    """

    title: Annotated[str, text("title of the scene", attribute=True)]
    scene_text: Annotated[str, SCENE]
    program_version: Annotated[str, VERSION]
    created: Annotated[str, text("date and time of the run", attribute=True)]
    computed_from: Annotated[str, text(COMPUTED, attribute=True)]
    speed_of_sound: Annotated[float, attribute("m/s", "of the air", least=10.0, most=1e4)]
    density: Annotated[float, attribute("kg/m3", "of the air", least=1e-3, most=1e4)]
    time_step: Annotated[float, attribute("s", "of the simulation", least=1e-9, most=1.0)]
    grid: Annotated[float, attribute("m", "longest cell edge", least=1e-4, most=100.0)]
    max_frequency: Annotated[float, attribute("Hz", "highest frequency asked for", least=1.0)]
    precision: Annotated[str, text("of the simulation", choices=("single", "double"), attribute=True)]
    sources: Annotated[tuple[str, ...], names("source", "name of the source", called="source")]
    seats: Annotated[tuple[str, ...], names("seat", "name of the seat", called="seat")]
    frequency: Annotated[
        Real,
        Entry(("frequency",), "Hz", "frequency of the transfer functions", least=0.1, order="rising", shortest=2),
    ]
    time: Annotated[Real, Entry(("time",), "s", "time of the impulse responses", least=0.0, order="even", shortest=2)]
    map_frequency: Annotated[
        Real, Entry(("map_frequency",), "Hz", "frequency of the pressure maps", least=0.1, order="rising")
    ]
    variants: tuple[VariantResult, ...]
    output: Annotated[float, attribute("dB", "level of a source of level 0 at 1 m in free field", nan=True)] = float(
        "nan"
    )
