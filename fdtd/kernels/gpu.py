"""The simulation on a GPU: state that stays there, many steps in one launch.

The whole grid of threads is resident at once and waits for itself after every step, so a small room is not bound by
launches. A step needs no other barrier: air, links, sources and walls of a cell are one thread's work, seats and maps
only read the pressures before it, and the cells under ports belong to the block of threads that solves for them.
"""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.gpu_barrier import SIMULATED, cuda, everyone
from fdtd.kernels.gpu_cells import device, number, special_cell, special_two, word
from fdtd.kernels.gpu_ports import cell_alone, cell_moved, port_drive, port_moved, port_velocity
from fdtd.kernels.gpu_step import WARP, drive_share, map_share, read_share, side_by_side, walk
from fdtd.kernels.gpu_tables import (
    ELEMENTS,
    EVERY,
    FREE_CELLS,
    FREQUENCIES,
    GROUP,
    MOST_SIDE_BY_SIDE,
    PORT_GROUPS,
    SAMPLES,
    SIGNAL_STEPS,
    SLACK,
    STRIDE,
    WIDTH,
    Air,
    Layout,
    Numbers,
    Packed,
    pack,
)

THREADS, THREADS_LARGE_ROOM = ((32, 0), (32, 0)) if SIMULATED else ((640, 96), (1024, 64))
"""Threads of a block and registers of a thread (0: any number), and those for few excitations of a room of several
turns: the fastest measured."""
PORT_BLOCKS_SHARE = 4
"""At most one block in so many is kept free of cells for the sake of ports."""
ONE_TURN, TURN = 8 << 20, 2 << 20
"""Elements up to which a room is walked in one turn, and those of a turn of a larger one."""
SLOTS = 64
"""Places that partial sums are added up in."""


@device
def walk_share(field, origin, turn, start, end, apart, air, packed):
    """The share of a block of threads, many excitations: `apart` neighbouring threads take the excitations of one
    element."""
    for item in range(apart * start + cuda.threadIdx.x, apart * end, cuda.blockDim.x):
        element = item // apart
        walk(field, origin, turn, element, item - element * apart, apart, air, packed)


@device
def special_share(field, origin, turn, width, packed):
    """Special cells under no port, spread over all blocks, the last warps first: those have fewer elements."""
    warps, excitations = cuda.blockDim.x // WARP, width // 2 if width > MOST_SIDE_BY_SIDE else width
    warp = (warps - 1 - cuda.threadIdx.x // WARP) * cuda.gridDim.x + cuda.blockIdx.x
    for item in range(
        warp * WARP + cuda.threadIdx.x % WARP, number(packed, FREE_CELLS) * excitations, warps * cuda.gridDim.x * WARP
    ):
        cell = item // excitations
        if width > MOST_SIDE_BY_SIDE:
            special_two(field, origin, turn, cell, item - cell * excitations, width, packed)
        else:
            special_cell(field, origin, turn, cell, item - cell * excitations, width, packed)


@device
def port_share(field, origin, turn, packed):
    """The groups of ports, each in a block of threads of its own."""
    thread, threads, width = cuda.threadIdx.x, cuda.blockDim.x, number(packed, WIDTH)
    turns = (width + WARP - 1) // WARP
    for item in range(cuda.blockIdx.x, number(packed, PORT_GROUPS) * turns, cuda.gridDim.x):
        k, excitation0 = 2 * (item // turns), (item % turns) * WARP
        here = min(WARP, width - excitation0)
        a0, r0 = word(packed, GROUP, k), word(packed, GROUP, k + 1)
        a1, r1 = word(packed, GROUP, k + 2), word(packed, GROUP, k + 3)
        for e in range(thread, (r1 - r0) * here, threads):
            cell_alone(field, origin, turn, r0 + e // here, excitation0 + e % here, packed)
        cuda.syncthreads()
        for e in range(thread, (a1 - a0) * here, threads):
            port_drive(field, origin, turn, a0 + e // here, excitation0 + e % here, packed)
        cuda.syncthreads()
        for e in range(thread, (a1 - a0) * here, threads):
            port_velocity(a0 + e // here, a0, a1, excitation0 + e % here, packed)
        cuda.syncthreads()
        for e in range(thread, (r1 - r0) * here, threads):
            cell_moved(field, origin, turn, r0 + e // here, excitation0 + e % here, packed)
        cuda.syncthreads()
        for e in range(thread, (a1 - a0) * here, threads):
            port_moved(field, origin, turn, a0 + e // here, excitation0 + e % here, packed)
        cuda.syncthreads()


@device
def first_at(step, every):
    """The first number from `step` on that `every` divides."""
    return (step + every - 1) // every * every


@cache
def time_step_kernel(width: int, with_ports: bool, registers: int) -> Any:
    """The kernel that simulates `width` excitations; with_ports : False leaves them out, which frees registers;
    registers : most of a thread, 0 for any number."""
    apart, shift, many = width // 2, width.bit_length() - 1, width > MOST_SIDE_BY_SIDE
    # Compiled as one with what it calls (lto), it holds the way to memory in registers that all threads share.
    options = {} if SIMULATED else {"lto": True, "max_registers": registers or None}

    @cuda.jit(**options)
    def simulate(bounds, air, packed, field, map_real, map_imag, first, count, out, barrier):
        sample, target, every, stride = 0, 0, number(packed, EVERY), number(packed, STRIDE)
        seats_next, map_next = first_at(first, every), first_at(first, stride)
        map_end = number(packed, SAMPLES) * stride if number(packed, FREQUENCIES) > 0 else 0
        block, blocks = cuda.blockIdx.x, cuda.gridDim.x
        turns, half = (len(bounds) - 1) // blocks, number(packed, ELEMENTS)
        for step in range(first, first + count):
            origin = (step % 2) * half
            turn = half - 2 * origin
            if step == seats_next:
                read_share(field, origin, out, cuda.grid(1), cuda.gridsize(1), width, packed, sample)
                sample, seats_next = sample + 1, seats_next + every
            if step == map_next and step < map_end:
                map_share(field, origin, cuda.grid(1), cuda.gridsize(1), packed, map_real, map_imag, step // stride)
                map_next += stride
            if step < number(packed, SIGNAL_STEPS):
                drive_share(field, origin, turn, cuda.grid(1), cuda.gridsize(1), packed, step)
                target += blocks
                everyone(barrier, target)
            if with_ports:
                port_share(field, origin, turn, packed)
            for part in range(turns):
                start, end = bounds[part * blocks + block], bounds[part * blocks + block + 1]
                if many:
                    walk_share(field, origin, turn, start, end, apart, air, packed)
                else:
                    side_by_side(
                        field,
                        origin,
                        turn,
                        start + cuda.threadIdx.x // WARP,
                        end,
                        cuda.blockDim.x // WARP,
                        cuda.threadIdx.x % WARP,
                        shift,
                        air,
                        packed,
                    )
            special_share(field, origin, turn, width, packed)
            target += blocks
            everyone(barrier, target)

    return simulate


@cuda.jit
def add_parts(parts, first, seats, width, samples, out):
    """Seats from their parts; parts : (sample * part * width,), out : (sample * seat * width,)."""
    number = first[seats]
    for k in range(cuda.grid(1), samples * seats * width, cuda.gridsize(1)):
        row = k // width
        sample = row // seats
        seat = row - sample * seats
        total = 0.0
        for part in range(first[seat], first[seat + 1]):
            total += parts[(sample * number + part) * width + k - row * width]
        out[k] = total


@cuda.jit
def add_strength(field, half, odd, volume, width, rate, out):
    """Volume integral of squared pressure and of its squared change times `rate`, spread over `out`."""
    total = 0.0
    for k in range(cuda.grid(1), half, cuda.gridsize(1)):
        p = float(field[k + odd * half])
        change = (p - float(field[k + half - odd * half])) * rate
        total += float(volume[k // width]) * (p * p + change * change)
    cuda.atomic.add(out, cuda.grid(1) % len(out), total)


class Gpu(NamedTuple):
    """A GPU: number, name, free bytes of its memory, all of them."""

    number: int
    name: str
    free: int
    total: int


def gpus() -> list[Gpu]:
    """The GPUs that can be used; raises whatever the driver or a broken installation raises."""
    if SIMULATED:
        return [Gpu(0, "simulated GPU", 1 << 40, 1 << 40)]
    found = []
    for which in range(len(cuda.gpus) if cuda.is_available() else 0):
        with cuda.gpus[which]:
            name = cuda.get_current_device().name
            free, total = cuda.current_context().get_memory_info()
            found.append(Gpu(which, name.decode() if isinstance(name, bytes) else str(name), int(free), int(total)))
    return found


class GpuMarch:
    """Some excitations of a room on one GPU."""

    def __init__(self, layout: Layout, gpu: int = 0) -> None:
        self.layout, self.gpu = layout, gpu
        self.numbers, self.real = layout.numbers, layout.air.weight.dtype
        self.samples, self.step = 0, 0
        n = layout.numbers
        large = n.width <= MOST_SIDE_BY_SIDE and turns_of(n) > 1
        self.threads, registers = THREADS_LARGE_ROOM if large else THREADS
        self.kernel: Any = time_step_kernel(n.width, n.port_groups > 0, registers)
        text, values, elements, starts = pack(layout)
        with cuda.gpus[gpu]:
            self.air = Air(*(cuda.to_device(x) for x in layout.air))
            self.packed = Packed(
                cuda.to_device(text), cuda.to_device(values), self._silence(-(-elements // n.width)), starts
            )
            self.field = self._silence(2 * n.cells + SLACK)
            self.map_real, self.map_imag = (self._silence(n.cells * n.frequencies) for _ in range(2))
            self.first, self.volume = cuda.to_device(layout.readers.first), cuda.to_device(layout.volume)
            self.barrier = cuda.to_device(np.zeros(1, np.int32))
            self.parts, self.out = self._silence(1, np.float64), self._silence(1, np.float64)
            self.sums = cuda.to_device(np.zeros(SLOTS))
            bounds = cuda.to_device(np.zeros(1, np.int32))
            self.blocks = self._resident(bounds)
            self.bounds = cuda.to_device(shares(layout, self.blocks))

    def _silence(self, rows: int, real: Any = None) -> Any:
        size = max(rows, 1) * self.numbers.width
        if SIMULATED:
            return cuda.to_device(np.zeros(size, real or self.real))
        array = cuda.device_array(size, real or self.real)
        clear[256, 256](array)
        return array

    def _arguments(self, bounds: Any, count: int) -> tuple:
        return (
            bounds,
            self.air,
            self.packed,
            self.field,
            self.map_real,
            self.map_imag,
            self.step,
            count,
            self.parts,
            self.barrier,
        )

    def _resident(self, bounds: Any) -> int:
        """Blocks that the GPU holds at once."""
        if SIMULATED:
            return 1
        types = tuple(self.kernel.typeof_pyval(x) for x in self._arguments(bounds, 1))
        compiled = self.kernel.compile(types)
        # A launch of this kind has all blocks resident at once, as their waiting for each other needs.
        compiled.cooperative = True
        return int(compiled.max_cooperative_grid_blocks(self.threads))

    def start(self, count: int, rate: float) -> None:
        """Let the GPU simulation `count` steps; rate : 1 over radians of the top frequency a step, for the strength."""
        width, seats, every = self.numbers.width, len(self.layout.readers.first) - 1, self.numbers.every
        self.samples = (self.step + count - 1) // every - (self.step - 1) // every
        with cuda.gpus[self.gpu]:
            if len(self.parts) < self.samples * self.numbers.parts * width:
                self.parts = self._silence(self.samples * self.numbers.parts, np.float64)
                self.out = self._silence(self.samples * seats, np.float64)
            # Cleared on the GPU: a copy from here would wait for the GPU, and with it all other GPUs.
            clear[1, 1 if SIMULATED else 32](self.barrier)
            self.kernel[self.blocks, self.threads](*self._arguments(self.bounds, count))
            few = (1, 32) if SIMULATED else (132, 256)
            if self.samples * seats:
                add_parts[few](self.parts, self.first, seats, width, self.samples, self.out)
            self.step += count
            clear[1, 1 if SIMULATED else SLOTS](self.sums)
            half = self.numbers.cells * width
            add_strength[few](self.field, half, self.step % 2, self.volume, width, rate, self.sums)

    def finish(self) -> tuple[NDArray[np.float64], float]:
        """Wait for the GPU; (pressures at the seats (sample, seat, excitation), strength of the field)."""
        seats, width = len(self.layout.readers.first) - 1, self.numbers.width
        with cuda.gpus[self.gpu]:
            strength = float(self.sums.copy_to_host().sum())
            size = self.samples * seats * width
            record = self.out[:size].copy_to_host() if size else np.zeros(0)
        return record.reshape(self.samples, seats, width)[:, :, : self.layout.excitations], strength

    def maps(self) -> NDArray[np.complex64]:
        """(excitation, frequency, cell) running sums."""
        n, pad = self.numbers, 2
        shape = (max(n.frequencies, 0), n.cells, n.width)
        if n.frequencies == 0:
            return np.zeros((self.layout.excitations, 0, n.cells - 2 * pad), np.complex64)
        with cuda.gpus[self.gpu]:
            both = [x.copy_to_host().reshape(shape) for x in (self.map_real, self.map_imag)]
        total = (both[0] + 1j * both[1])[:, pad:-pad, : self.layout.excitations]
        return np.ascontiguousarray(np.moveaxis(total, 2, 0)).astype(np.complex64)


@cuda.jit
def clear(array):
    """Zeros."""
    for k in range(cuda.grid(1), len(array), cuda.gridsize(1)):
        array[k] = 0


def turns_of(numbers: Numbers) -> int:
    """In how many turns a room is walked."""
    elements = numbers.cells * numbers.width
    return -(-elements // TURN) if elements > ONE_TURN else 1


def shares(layout: Layout, blocks: int) -> NDArray[np.int32]:
    """(turn * block + 1,) bounds of what each block of threads does in each turn, in elements.

    Shares are of even work. A large room takes many turns, so that all blocks work in one region, whose neighbourhood
    stays in the GPU's cache. Blocks that move ports do as little else as possible.
    """
    n = layout.numbers
    turns = turns_of(n)
    busy = min(n.port_groups * -(-n.width // WARP), blocks // PORT_BLOCKS_SHARE) if turns == 1 else 0
    work = np.cumsum(layout.cost)
    marks = np.linspace(0.0, work[-1], turns * (blocks - busy) + 1)[1:-1]
    cuts = np.minimum(np.searchsorted(work, marks, side="left") + 1, len(work)) if len(marks) else np.zeros(0, int)
    return np.concatenate([np.zeros(busy + 1, int), cuts, [len(work)]]).astype(np.int32)
