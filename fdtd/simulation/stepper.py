"""The loop: excitations in blocks, steps in batches, an end by time, by silence or by trouble."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import StabilityError
from fdtd.kernels.compiled import available_threads
from fdtd.kernels.points import MAP_SAMPLES
from fdtd.model.excitations import Excitation, Place
from fdtd.model.problem import Problem
from fdtd.model.size import ROOM_BYTES
from fdtd.simulation.block import ExcitationBlock
from fdtd.simulation.device import DOUBLE, ON_GPUS, Execution, gpus_for
from fdtd.simulation.signals import pulse, sampling_stride

Progress = Callable[[float, str], None]

BATCH_TIME = 0.05
"""s of room time between looks at progress, silence and trouble."""
QUIET = 60.0
"""dB that the decay has fallen when a simulation without a given duration ends."""
ENOUGH = 40.0
"""dB that the decay should have fallen by at least."""
LONGEST = 20.0
"""s after which a simulation without a given duration ends in any case."""
SHORTEST = 0.5
"""s; a simulation does not stop by itself before."""
GROWTH = 1e4
"""Factor on the largest field energy seen by the time the source has stopped that tells a growing field.

The energy is that of pressure and its time derivative; what walls store besides is at most of the same order."""
QUIET_TIME = 0.5
"""s over which all seats must stay quiet, so that a null of beating resonances is not taken for the end."""
USUAL_TIME = 4.0
"""s of sound that a simulation without a given duration usually takes, for the choice of where it runs."""
LEAST_WORK = 4000
"""Cells times excitations for which a thread of a thread group is worth its waiting for the others at every step."""
EXCITATIONS_TOGETHER = 8
"""Most excitations of a block: with more, five layers of cells of an ordinary room no longer stay in a core's own
cache."""
TABLE_BYTES = 330
"""Bytes a cell of the room and the tables of the air while a simulation is made ready."""
ELEMENT_BYTES = 2500
"""Bytes an element of wall on top of that."""
FIXED_BYTES = 150_000_000
"""Bytes that any simulation takes: compiled code, and blocks of cells being looked at."""
UPDATES_PER_SECOND = 6e8
"""Cell updates a second and thread, for estimates only."""


@dataclass(frozen=True)
class Simulation:
    """seats : (excitation, seat, step) float64, pressure, Pa; signal : (step,) dQ/dt, m³/s²; time_step : s
    maps : (excitation, map_frequency, cell) complex64, Fourier sums of pressure, Pa·s
    outcome : why it ended: "quiet" (all seats), "asked" (the duration) or "limit" (LONGEST)
    stride : steps between the samples that spectra need; every : steps between those of `seats` (a divisor of it)
    fallen : dB that the slowest seat has decayed by the end; steps : how many were simulated."""

    seats: NDArray[np.float64]
    signal: NDArray[np.float64]
    time_step: float
    maps: NDArray[np.complex64]
    outcome: str
    stride: int = 1
    every: int = 1
    fallen: float = np.inf
    steps: int = 0

    @property
    def duration(self) -> float:
        """Time that was simulated, s."""
        return self.steps * self.time_step


def simulate(
    problem: Problem,
    excitations: Sequence[Excitation],
    seats: Sequence[Place],
    max_frequency: float,
    duration: float | None = None,
    map_frequency: NDArray[np.float64] | None = None,
    execution: Execution = DOUBLE,
    progress: Progress | None = None,
    pulse_frequency: float | None = None,
    sparse: bool = False,
) -> Simulation:
    """Simulate all excitations from silence and record the seats.

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
    usual = duration if duration is not None else USUAL_TIME
    maps = 0 if map_frequency is None else len(map_frequency)
    gpus = gpus_for(
        problem,
        len(excitations),
        maps,
        execution,
        estimate_seconds(problem, len(excitations), usual, execution.threads),
    )
    settings = (problem, excitations, seats, signal, max_frequency, map_frequency)
    with ON_GPUS if gpus else nullcontext():
        if gpus:
            from fdtd.simulation.gpu import GpuExcitations

            blocks: list[Any] = [
                GpuExcitations(*settings, execution.precision, map_steps=steps, every=every, gpus=gpus)
            ]
        else:
            blocks = [*excitation_blocks(*settings, execution, steps, every, top)]
        watch = _Watch(len(signal) * dt, every * dt, duration)
        record, outcome, done = _advance(blocks, steps, every, dt, watch, execution.workers, progress)
        sums = np.concatenate([block.map_sums() for block in blocks])
    return Simulation(record, signal, dt, sums, outcome, stride, every, watch.fallen, done)


def _advance(
    blocks: list[Any], steps: int, every: int, dt: float, watch: _Watch, workers: int, progress: Progress | None
) -> tuple[NDArray[np.float64], str, int]:
    """Simulate all blocks to the end: (excitation, seat, sample) pressures, why it ended, steps simulated."""
    # Whole strides, so that every batch begins with a sample, the last one too, however short it is.
    batch = every * max(1, round(BATCH_TIME / (every * dt)))
    records: list[NDArray] = []
    outcome = "asked" if watch.duration else "limit"
    with ThreadPoolExecutor(max_workers=min(len(blocks), workers)) as pool:
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
                outcome = "quiet"
                break
    return np.ascontiguousarray(np.transpose(np.concatenate(records), (2, 1, 0))), outcome, done


def excitation_blocks(
    problem: Problem,
    excitations: Sequence[Excitation],
    seats: Sequence,
    signal: NDArray,
    max_frequency: float,
    map_frequency: NDArray | None,
    execution: Execution,
    steps: int,
    every: int,
    top: float | None = None,
) -> list[ExcitationBlock]:
    """Blocks of a few excitations, which the threads take in turn; fewer excitations than threads are shared by all
    threads."""
    workers, cells = execution.workers, len(problem.cells.volume)
    if len(excitations) % workers and len(excitations) < 2 * workers:
        shares, threads = [list(excitations)], max(1, min(workers, cells * len(excitations) // LEAST_WORK))
    else:
        turns = -(-len(excitations) // (workers * EXCITATIONS_TOGETHER))
        parts = np.array_split(np.arange(len(excitations)), min(workers * turns, len(excitations)))
        shares, threads = [[excitations[int(k)] for k in part] for part in parts], 1
    blocks: list[ExcitationBlock] = []
    for share in shares:
        like = blocks[0] if blocks else None
        blocks.append(
            ExcitationBlock(
                problem,
                share,
                seats,
                signal,
                max_frequency,
                map_frequency,
                execution.precision,
                threads,
                steps,
                every,
                top,
                like,
            )
        )
    return blocks


def estimate_seconds(problem: Problem, excitations: int, duration: float, threads: int | None = None) -> float:
    """Rough time a simulation will take, s, from the number of cell updates."""
    updates = len(problem.cells.volume) * excitations * duration / problem.time_step
    return updates / (UPDATES_PER_SECOND * (threads or available_threads()))


def memory_bytes(problem: Problem, excitations: int, maps: int, precision: str = "double") -> int:
    """Most memory of a simulation: while the room is cut, or with two pressures, walls and map sums of all excitations
    made."""
    real = 4 if precision == "single" else 8
    cells, walls = len(problem.cells.volume), len(problem.elements.area)
    samples = 2 + (2 * maps + MAP_SAMPLES if maps else 0)
    excitation = real * (cells * samples + 4 * walls)
    room = FIXED_BYTES + walls * ELEMENT_BYTES
    return int(room + max(cells * ROOM_BYTES, cells * TABLE_BYTES + excitations * excitation))


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
        """record : (sample, seat, excitation) Pa of the last batch, never empty; sets `quiet` and `share` of the way
        done."""
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
