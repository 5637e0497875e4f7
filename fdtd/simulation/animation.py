"""A simulation that keeps the pressure in many cells over time, for moving pictures: single execution, as few samples
as do.

What is kept is turned into transfer functions at once, so that any signal can be played through them afterwards.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import FdtdError, StabilityError
from fdtd.kernels.compiled import available_threads
from fdtd.model.excitations import Excitation, Place
from fdtd.model.problem import Problem
from fdtd.simulation.device import DOUBLE, Execution
from fdtd.simulation.signals import pulse, spectrum
from fdtd.simulation.stepper import GROWTH, ExcitationBlock, Progress, excitation_blocks

SAMPLES_A_PERIOD = 3.5
"""Samples a period of the highest frequency. What is folded back onto it lies 170 dB below the pulse's maximum."""
LOOK_TIME = 0.05
"""s between looks at progress, silence and trouble."""
QUIET = 75.0
"""dB that the slowest excitation has fallen when a simulation ends by itself: the tail of a tone is seen over 60 dB."""
QUIET_TIME = 0.5
"""s over which it must stay so low, so that a null of beating resonances is not taken for the end."""
WATCHED = 200
"""Cells, at most, in which the decay is watched."""
SHORTEST = 0.3
"""s; a simulation does not end by itself before."""
FADE = 0.01
"""s at the end of the record over which it is faded out."""
MOST_BYTES = 500e6
"""Of the record, for all excitations together."""
CELLS_TOGETHER = 256
"""Cells whose transfer functions are worked out at a time."""


@dataclass(frozen=True, eq=False)
class AnimationRecord:
    """kept : (sample, excitation, cell) float32, Pa; seats : (excitation, seat, sample) float64, Pa; signal : (step,)
    dQ/dt, m³/s²
    time_step : s; stride : steps between samples; fallen : dB that the slowest excitation had fallen by the end."""

    kept: NDArray[np.float32]
    seats: NDArray[np.float64]
    signal: NDArray[np.float64]
    time_step: float
    stride: int
    fallen: float

    @property
    def duration(self) -> float:
        """Time that was simulated, s."""
        return self.seats.shape[-1] * self.stride * self.time_step


def sample_steps(max_frequency: float, dt: float) -> int:
    """Steps between the samples that are kept."""
    return max(1, int(1.0 / (SAMPLES_A_PERIOD * max_frequency * dt)))


def simulate_animation(
    problem: Problem,
    excitations: Sequence[Excitation],
    cells: NDArray[np.int64],
    seats: Sequence[Place],
    max_frequency: float,
    duration: float,
    execution: Execution = DOUBLE,
    progress: Progress | None = None,
) -> AnimationRecord:
    """Simulate all excitations from silence and keep `cells` and `seats`, until the decay is 75 dB down, at most
    `duration` (s).

    Raises FdtdError if the record would be larger than `MOST_BYTES`, StabilityError if the field grows.
    """
    dt = problem.time_step
    signal, stride = pulse(max_frequency, dt), sample_steps(max_frequency, dt)
    samples = int(np.ceil((duration / dt + len(signal) // 2) / stride))
    _check_size(4.0 * len(excitations) * len(cells) * samples)
    # Samples first: what a simulation that ends early has not reached takes no memory.
    kept = np.zeros((samples, len(excitations), len(cells)), np.float32)
    audible = np.zeros((len(excitations), len(seats), samples))
    simulated = excitation_blocks(problem, excitations, seats, signal, max_frequency, None, execution, 0, stride)
    ends = np.cumsum([block.state.p_now.shape[1] for block in simulated])
    blocks = [(slice(end - block.state.p_now.shape[1], end), block) for end, block in zip(ends, simulated, strict=True)]
    few = max(1, round(LOOK_TIME / (stride * dt)))
    tail, loudest, source_time = _Tail(cells, stride * dt), 0.0, len(signal) * dt
    with ThreadPoolExecutor(max_workers=len(blocks)) as pool:
        for start in range(0, samples, few):
            count = min(few, samples - start)
            work = [pool.submit(_advance, block, cells, count, stride) for _, block in blocks]
            now = slice(start, start + count)
            for (rows, _), one in zip(blocks, work, strict=True):
                part, seat_part = one.result()
                kept[now, rows] = part
                audible[rows, :, now] = seat_part
            time = (start + count) * stride * dt
            energy = sum(block.strength() for _, block in blocks)
            if not np.isfinite(energy) or (time > source_time + 0.1 and energy > GROWTH * loudest):
                raise StabilityError(f"the field grows by itself (seen at {time:.2f} s): some surface feeds in energy")
            loudest = max(loudest, energy)
            tail.look(kept[now])
            if progress:
                progress(max(min(tail.fallen / QUIET, 1.0), (start + count) / samples), f"{time:.2f} s of sound")
            if tail.fallen >= QUIET and time > max(SHORTEST, source_time):
                kept, audible = kept[: start + count], audible[..., : start + count]
                break
    _fade_out(kept, audible, max(1, round(FADE / (stride * dt))))
    return AnimationRecord(kept, audible, signal, dt, stride, tail.fallen)


def _check_size(size: float) -> None:
    if size > MOST_BYTES:
        raise FdtdError(
            f"the moving picture would need {size / 1e9:.1f} GB for the sound in its planes, more than "
            f"{MOST_BYTES / 1e9:.1f} GB: choose larger cells (--grid), a shorter animation (--seconds) or fewer "
            "variants"
        )


class _Tail:
    """How far the sound has died away, judged on the running integral of pressure in some cells, whose spectrum leans
    to the low end, so that a faint slow low resonance is not cut short by a loud higher one."""

    def __init__(self, cells: NDArray[np.int64], step: float) -> None:
        self.every, self.step, self.fallen = max(1, len(cells) // WATCHED), step, 0.0
        self.sum: NDArray | float = 0.0
        self.peak: NDArray | float = 0.0
        self.recent: deque[NDArray] = deque(maxlen=round(QUIET_TIME / LOOK_TIME))

    def look(self, kept: NDArray[np.float32]) -> None:
        """kept : (sample, excitation, cell) of the last moments; sets `fallen`, dB."""
        running = self.sum + np.cumsum(kept[..., :: self.every].astype(float), axis=0) * self.step
        self.sum = running[-1]
        self.recent.append(np.sqrt(np.mean(np.ptp(running, axis=0) ** 2, axis=1)))
        level = np.max(self.recent, axis=0)
        self.peak = np.maximum(self.peak, level)
        self.fallen = float(np.min(20.0 * np.log10(np.maximum(self.peak, 1e-300) / np.maximum(level, 1e-300))))


def _advance(
    block: ExcitationBlock, cells: NDArray[np.int64], count: int, stride: int
) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """(sample, excitation, cell) and (excitation, seat, sample) of `count` samples, one before each `stride` steps."""
    excitations = block.state.p_now.shape[1]
    part = np.empty((count, excitations, len(cells)), np.float32)
    seats = []
    for k in range(count):
        part[k] = block.state.p_now[cells].T  # steps 0, stride, 2 stride ..., as the seats are read
        seats.append(block.advance(stride))
    return part, np.concatenate(seats).transpose(2, 1, 0)


def _fade_out(kept: NDArray[np.float32], audible: NDArray[np.float64], count: int) -> None:
    """Half a cosine over the last `count` samples, so that the end of the record is not heard as a click."""
    count = min(count, len(kept))
    fade = 0.5 + 0.5 * np.cos(np.pi * (np.arange(count) + 0.5) / count)
    kept[len(kept) - count :] *= fade.astype(np.float32)[:, None, None]
    audible[..., audible.shape[-1] - count :] *= fade


def animation_transfer(
    record: AnimationRecord,
    frequency: NDArray[np.float64],
    factor: NDArray[np.complex128],
    excitations: Sequence[int],
    seats: Sequence[int],
) -> NDArray[np.complex64]:
    """(cell and seat, frequency) pressure of some excitations played together, per volume acceleration, Pa/(m³/s²).

    frequency : Hz, > 0; factor : (excitation of `excitations`, frequency) playback of each; seats : numbers of those
    that are wanted, which come after the cells. The simulation's own shift of frequencies is put right
    (`signals.time_step_frequency`).
    """
    weight = factor / spectrum(record.signal, frequency, record.time_step)
    cells, chosen = record.kept.shape[2], np.array(excitations, dtype=np.int64)
    out = np.empty((cells + len(seats), len(frequency)), np.complex64)

    def of_cells(place: slice) -> None:
        work(np.moveaxis(record.kept[:, chosen, place], 0, -1), place)

    def work(rows: NDArray, place: slice) -> None:
        parts = spectrum(rows, frequency, record.time_step, record.stride, record.stride)
        out[place] = np.einsum("lcf,lf->cf", parts, weight)

    with ThreadPoolExecutor(max_workers=available_threads()) as pool:
        starts = range(0, cells, CELLS_TOGETHER)
        places = [slice(start, min(start + CELLS_TOGETHER, cells)) for start in starts]
        done = [pool.submit(of_cells, place) for place in places]
        audible = record.seats[chosen][:, np.array(seats, dtype=np.int64)]
        done.append(pool.submit(work, audible, slice(cells, len(out))))
        for one in done:
            one.result()
    return out
