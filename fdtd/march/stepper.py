"""The loop: lanes in blocks, steps in batches, an end by time, by silence or by trouble."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import StabilityError
from fdtd.kernels.cpu import advance, advance_parallel, available_threads
from fdtd.kernels.tables import MapTables, PointTables, State
from fdtd.march.air_tables import air_tables
from fdtd.march.points import PointWeights
from fdtd.march.signals import march_frequency, pulse, sampling_stride
from fdtd.march.wall_tables import link_tables, port_pieces, wall_tables
from fdtd.model.lanes import Lane, Place, Port
from fdtd.model.problem import Problem

Progress = Callable[[float, str], None]

BATCH_TIME = 0.05
"""s of room time between looks at progress, silence and trouble."""
QUIET = 60.0
"""dB that the decay has fallen when a march without a given duration ends."""
ENOUGH = 40.0
"""dB that the decay should have fallen at least; less is said in the outcome."""
LONGEST = 20.0
"""s after which a march without a given duration ends in any case."""
SHORTEST = 0.5
"""s; a march does not stop by itself before."""
GROWTH = 1e4
"""Factor on the largest field energy seen by the time the source has stopped that tells a growing field.

The energy is that of pressure and its time derivative; what walls store besides is at most of the same order."""
QUIET_TIME = 0.5
"""s over which all seats must stay quiet, so that a null of beating resonances is not taken for the end."""
PARALLEL_CELLS = 400_000
"""Below this a single lane is marched by one thread: on a busy machine the barriers cost more than they save."""
LANES_TOGETHER = 4
"""Most lanes of a block: with more, what a step of an ordinary room touches no longer stays in the cache."""
UPDATES_PER_SECOND = 3.5e8
"""Cell updates a second and thread, for estimates only."""


@dataclass(frozen=True)
class March:
    """seats : (lane, seat, step) float64, pressure, Pa; signal : (step,) dQ/dt, m³/s²; time_step : s
    maps : (lane, map_frequency, cell) complex64, Fourier sums of pressure, Pa·s; outcome : how it ended
    stride : steps between the samples that spectra need; every : steps between those of `seats` (a divisor of it)
    fallen : dB that the slowest seat has decayed by the end; steps : how many were marched."""

    seats: NDArray[np.float64]
    signal: NDArray[np.float64]
    time_step: float
    maps: NDArray[np.complex64]
    outcome: str
    stride: int = 1
    every: int = 1
    fallen: float = np.inf

    @property
    def duration(self) -> float:
        """Time that was marched, s."""
        return self.seats.shape[-1] * self.every * self.time_step


_ALL_THREADS = Lock()
"""Marches with threads inside take turns: not every threading layer of the compiler allows two at once."""


class LaneBlock:
    """Tables and state of some lanes of one problem, ready to be advanced."""

    def __init__(
        self,
        problem: Problem,
        lanes: Sequence[Lane],
        seats: Sequence[Place],
        signal: NDArray[np.float64],
        max_frequency: float,
        map_frequency: NDArray[np.float64] | None = None,
        precision: str = "double",
        threads: int = 1,
        map_steps: int = 0,
        every: int = 1,
    ) -> None:
        real = np.float32 if precision == "single" else np.float64
        lanes = list(lanes)
        frequency = np.zeros(0) if map_frequency is None else np.asarray(map_frequency, dtype=float)
        self.problem, self.dt, self.threads = problem, problem.time_step, threads
        self.rate = 1.0 / (2.0 * np.pi * max_frequency * self.dt)
        self.air = air_tables(problem, len(lanes), threads, real)
        self.walls = wall_tables(problem, lanes, max_frequency, threads, real)
        self.links = link_tables(problem, max_frequency, real)
        self.points = _point_tables(problem, lanes, seats, signal, real, every)
        self.maps = _map_tables(frequency, self.dt, max_frequency, map_steps, real)
        cells, count = len(problem.cells.volume), len(lanes)
        faces, ports = self.walls.faces, self.walls.ports
        rows = {
            "p_now": cells, "p_before": cells, "face_v": self.walls.face_states, "face_x": self.walls.face_states,
            "cell_sum": len(faces.cell), "port_v": self.walls.port_states, "port_x": self.walls.port_states,
            "port_before": len(ports.coupling), "link_u": len(self.links.first), "link_x": len(self.links.first),
        }  # fmt: skip
        self.state = State(
            **{name: np.zeros((max(number, 1), count), real) for name, number in rows.items()},
            control_x=np.zeros((len(ports.control.size), ports.control.matrix.shape[1], count), real),
            map_real=np.zeros((len(frequency), cells, count), real),
            map_imag=np.zeros((len(frequency), cells, count), real),
        )
        self.step = 0

    def advance(self, count: int) -> NDArray[np.float64]:
        """March `count` steps; returns the seats' pressures (sample, seat, lane) float64, Pa, every so many steps."""
        every = self.points.every
        samples = (self.step + count - 1) // every - (self.step - 1) // every
        out = np.zeros((samples, len(self.points.seat_pointer) - 1, self.state.p_now.shape[1]))
        kernel = advance_parallel if self.threads > 1 else advance
        with np.errstate(all="ignore"), _ALL_THREADS if self.threads > 1 else nullcontext():
            kernel(
                self.state, self.air, self.walls.faces, self.walls.ports, self.links, self.points, self.maps,
                self.dt, self.step, count, out,
            )  # fmt: skip
        if count % 2:
            self.state = self.state._replace(p_now=self.state.p_before, p_before=self.state.p_now)
        self.step += count
        return out

    def strength(self) -> float:
        """Volume integral of squared pressure and of its squared change over a radian of the top frequency, Pa² m³."""
        p = self.state.p_now.astype(float)
        change = (p - self.state.p_before.astype(float)) * self.rate
        return float(np.sum(self.problem.operator.volume @ (p * p + change * change)))

    def map_sums(self) -> NDArray[np.complex64]:
        """(lane, map_frequency, cell) Fourier sums so far, Pa·s."""
        total = self.state.map_real + 1j * self.state.map_imag
        return np.ascontiguousarray(np.moveaxis(total, 2, 0) * (self.maps.stride * self.dt)).astype(np.complex64)


def _spread(problem: Problem, weights: PointWeights, place: Place) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Cells and weights, adding up to 1, of a point or of the face of a port."""
    if not isinstance(place, Port):
        return weights.weights(place)
    mine, pieces = port_pieces(problem, place), problem.pieces
    cells, row = np.unique(pieces.cell[mine], return_inverse=True)
    area = np.bincount(row, pieces.area[mine])
    return cells, area / area.sum()


def _point_tables(
    problem: Problem, lanes: list[Lane], seats: Sequence[Place], signal: NDArray, real: type, every: int
) -> PointTables:
    weights = PointWeights(problem.cells)
    scale = (problem.speed_of_sound * problem.time_step) ** 2 * problem.density / problem.operator.volume
    known: dict[Place, tuple[NDArray, NDArray]] = {}

    def spread(place: Place) -> tuple[NDArray, NDArray]:
        if place not in known:
            known[place] = _spread(problem, weights, place)
        return known[place]

    sources = [spread(lane.source) for lane in lanes]
    listeners = [spread(seat) for seat in seats]

    def joined(lists: list) -> tuple[NDArray, NDArray, NDArray]:
        pointer = np.concatenate([[0], np.cumsum([len(c) for c, _ in lists])]).astype(np.int64)
        cells = np.concatenate([c for c, _ in lists]) if lists else np.zeros(0, np.int64)
        return pointer, cells.astype(np.int64), np.concatenate([w for _, w in lists]) if lists else np.zeros(0)

    pointer, cells, share = joined(sources)
    seat_pointer, seat_cells, seat_share = joined(listeners)
    share = share * scale[cells]
    return PointTables(
        pointer, cells, share.astype(real), signal.astype(real), seat_pointer, seat_cells, seat_share.astype(real),
        every,
    )  # fmt: skip


def _map_tables(frequency: NDArray, dt: float, max_frequency: float, steps: int, real: type) -> MapTables:
    stride = sampling_stride(max_frequency, dt)
    phase = march_frequency(frequency, dt) * dt * stride * np.arange(steps // stride + 2)[:, None]
    return MapTables(stride, np.cos(phase).astype(real), np.sin(phase).astype(real))


def march(
    problem: Problem,
    lanes: Sequence[Lane],
    seats: Sequence[Place],
    max_frequency: float,
    duration: float | None = None,
    map_frequency: NDArray[np.float64] | None = None,
    precision: str = "double",
    progress: Progress | None = None,
    pulse_frequency: float | None = None,
    sparse: bool = False,
) -> March:
    """March all lanes from silence and record the seats.

    duration : s, or None to stop once every seat's decay is 60 dB down; max_frequency : Hz, for which surfaces are put
    right; pulse_frequency : Hz, up to which the room is excited, if higher; sparse : keep only the samples of the seats
    that spectra need.
    Raises StabilityError if the field grows or is no longer finite.
    """
    dt = problem.time_step
    top = pulse_frequency or max_frequency
    signal = pulse(top, dt)
    steps = int(np.ceil((duration if duration is not None else LONGEST) / dt))
    stride = sampling_stride(top, dt)
    every = stride if sparse else 1
    blocks = _blocks(problem, lanes, seats, signal, max_frequency, map_frequency, precision, steps, every)
    batch = max(1, int(BATCH_TIME / dt))
    records: list[NDArray] = []
    watch = _Watch(len(signal) * dt, every * dt, duration)
    outcome = f"marched the asked {duration:g} s" if duration else f"stopped after {LONGEST:g} s, still ringing"
    with ThreadPoolExecutor(max_workers=min(len(blocks), available_threads())) as pool:
        done = 0
        while done < steps:
            count = min(batch, steps - done)
            parts = list(pool.map(lambda block: block.advance(count), blocks))  # noqa: B023
            records.append(np.concatenate(parts, axis=2))
            done += count
            watch.look(records[-1], [block.strength() for block in blocks], done * dt)
            if progress:
                progress(max(watch.share, done / steps), f"{done * dt:.2f} s of sound")
            if watch.quiet:
                outcome = f"the decay at all seats is {QUIET:g} dB down after {done * dt:.2f} s"
                break
        else:
            if watch.fallen < ENOUGH:
                outcome += f"; only {watch.fallen:.0f} dB down by then, so sharp resonances are smeared: march longer"
    seats_record = np.transpose(np.concatenate(records), (2, 1, 0))
    maps = np.concatenate([block.map_sums() for block in blocks])
    return March(np.ascontiguousarray(seats_record), signal, dt, maps, outcome, stride, every, watch.fallen)


def _blocks(
    problem: Problem, lanes: Sequence[Lane], seats: Sequence, signal: NDArray, max_frequency: float,
    map_frequency: NDArray | None, precision: str, steps: int, every: int,
) -> list[LaneBlock]:  # fmt: skip
    """Blocks of a few lanes, which the threads take in turn; a single lane of a large room gets all threads instead."""
    workers = available_threads()
    if len(lanes) == 1 and len(problem.cells.volume) >= PARALLEL_CELLS:
        shares, threads = [list(lanes)], workers
    else:
        turns = -(-len(lanes) // (workers * LANES_TOGETHER))
        parts = np.array_split(np.arange(len(lanes)), min(workers * turns, len(lanes)))
        shares, threads = [[lanes[int(k)] for k in part] for part in parts], 1
    return [
        LaneBlock(problem, share, seats, signal, max_frequency, map_frequency, precision, threads, steps, every)
        for share in shares
    ]


def estimate_seconds(problem: Problem, lanes: int, duration: float) -> float:
    """Rough time a march will take, s, from the number of cell updates."""
    updates = len(problem.cells.volume) * lanes * duration / problem.time_step
    return updates / (UPDATES_PER_SECOND * available_threads())


def memory_bytes(problem: Problem, lanes: int, maps: int, precision: str = "double") -> int:
    """Rough memory of a march: two pressures, walls and map sums a lane, and the room's tables."""
    real = 4 if precision == "single" else 8
    cells = len(problem.cells.volume)
    return int(cells * lanes * real * (2 + 2 * maps) + len(problem.pieces.area) * lanes * real * 3 + cells * 500)


class _Watch:
    """Looks at each batch: has the decay reached its end, has anything gone wrong?

    The decay is judged on the pressure and on its running integral, whose spectrum leans to the low end, so that a
    faint slow low resonance is not cut short by a loud higher one.
    """

    def __init__(self, source_time: float, dt: float, duration: float | None) -> None:
        self.source_time, self.dt, self.duration = source_time, dt, duration
        self.integral: NDArray | None = None
        self.peak: NDArray | None = None
        self.start: float | None = None
        self.quiet, self.share, self.fallen = False, 0.0, 0.0
        self.recent: deque[NDArray] = deque(maxlen=round(QUIET_TIME / BATCH_TIME))

    def look(self, record: NDArray, strengths: list[float], time: float) -> None:
        """record : (step, seat, lane) Pa of the last batch; sets `quiet` and `share` (of the way to the end)."""
        total = sum(strengths)
        if not np.isfinite(total):
            raise StabilityError(
                f"the field stopped being finite before {time:.2f} s; please report this scene as a fault"
            )
        if time <= self.source_time + 2.0 * BATCH_TIME or self.start is None:
            self.start = max(total, self.start or 0.0)
        elif total > GROWTH * self.start:
            raise StabilityError(f"the field grows by itself (seen at {time:.2f} s): some surface feeds in energy")
        before = np.zeros(record.shape[1:]) if self.integral is None else self.integral
        running = before + np.cumsum(record, axis=0) * self.dt
        self.integral = running[-1]
        self.recent.append(np.stack([np.abs(record).max(axis=0), np.ptp(running, axis=0)]))
        level = np.max(self.recent, axis=0)
        self.peak = level if self.peak is None else np.maximum(self.peak, level)
        if time > max(SHORTEST, self.source_time):
            fallen = -20.0 * np.log10(np.maximum(level, 1e-300) / np.maximum(self.peak, 1e-300))
            slowest = float(fallen.min()) if fallen.size else QUIET
            self.fallen = slowest
            if self.duration is None:
                self.share = float(np.clip(slowest / QUIET, 0.0, 1.0))
                self.quiet = slowest >= QUIET
