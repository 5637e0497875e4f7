"""The time step on a GPU: the kernels of gpu.cu, started by CuPy, many steps at a time as one CUDA graph."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

SOURCE = Path(__file__).with_name("gpu.cu").read_text(encoding="utf-8")
THREADS = 128
"""Of a block."""
STRENGTHS, PORT_EXCITATIONS, MOST_SINGLE = (int(n) for n in re.findall(r"[A-Z_]+ = (\d+)[,;]", SOURCE)[:3])
TYPES = {"int": np.int32, "long long": np.int64, "unsigned char": np.uint8, "unsigned": np.uint32, "double": np.float64}
_LINE = rf"^    (const )?({'|'.join(TYPES)}|real) (.*?);"
_LINES = re.findall(_LINE, SOURCE.partition("struct Room {")[2].partition("};")[0], re.MULTILINE)
MEMBERS = [(bool(const), kind, "*" in one, one.strip(" *")) for const, kind, some in _LINES for one in some.split(",")]
"""Of the struct Room in the kernels: whether it is constant, its type, whether it is an address, its name."""
ROOM = np.dtype([(name, np.uint64 if pointer else TYPES[kind]) for _, kind, pointer, name in MEMBERS])
"""The argument of every kernel: addresses of arrays, and numbers."""
ROOM_NAMES = {name for *_, name in MEMBERS}


class Plan(NamedTuple):
    """values : numbers and arrays of ROOM; states : how many numbers each array has that starts from silence
    real : np.float32 or np.float64; kernel, threads : of the step; excitations : without those that only fill up."""

    values: dict[str, Any]
    states: dict[str, int]
    real: Any
    kernel: str
    threads: tuple[int, int, int]
    excitations: int


class Session:
    """Arrays and kernels of one simulation on one GPU, in the GPU's stream."""

    def __init__(self, number: int, real: Any) -> None:
        import cupy

        self.cupy, self.device = cupy, cupy.cuda.Device(number)
        with self.device:
            self.stream = _stream(number)
            self.kernel = _kernels(number, "float" if real is np.float32 else "double")

    def put(self, array: NDArray) -> Any:
        """A copy on the GPU."""
        with self.device, self.stream:
            return self.cupy.asarray(array)

    def zeros(self, count: int, kind: Any) -> Any:
        """An array on the GPU."""
        with self.device, self.stream:
            return self.cupy.zeros(count, kind)

    def get(self, array: Any) -> NDArray:
        """A copy here, once all that was started before is done."""
        with self.device, self.stream:
            return np.asarray(self.cupy.asnumpy(array))

    def address(self, array: Any) -> int:
        """Of the first number."""
        return int(array.data.ptr)

    def launch(self, kernel: str, blocks: int, threads: tuple[int, ...], room: NDArray, odd: int, ahead: int) -> None:
        """Start a kernel."""
        with self.device, self.stream:
            self.kernel[kernel]((blocks,), threads, (room, np.int32(odd), np.int32(ahead)))

    def captured(self, work: Callable[[], None]) -> Callable[[], None]:
        """What `work` launches, to be started as often as wanted, as one graph."""
        with self.device, self.stream:
            self.stream.begin_capture()
            work()
            graph = self.stream.end_capture()

        def replay() -> None:
            with self.device:
                graph.launch(self.stream)

        return replay


@cache
def _stream(number: int) -> Any:
    """One for all simulations on a GPU: one after the other, each has the cache to itself."""
    import cupy

    return cupy.cuda.Stream(non_blocking=True)


@cache
def _kernels(number: int, real: str) -> dict[str, Any]:
    """The kernels by name, compiled for one GPU, or read from where CuPy keeps what it compiled."""
    import cupy

    module = cupy.RawModule(code=SOURCE, options=(f"-DREAL={real}", "--std=c++17"))
    return {name: module.get_function(name) for name in re.findall(r"__global__ void .*?(\w+)\(Room", SOURCE)}


class Gpu(NamedTuple):
    """A GPU: number, name, free bytes of its memory, all of them; session : makes one for its simulations."""

    number: int
    name: str
    free: int
    total: int
    session: Callable[[int, Any], Any] = Session


def gpus() -> list[Gpu]:
    """The GPUs that can be used; raises whatever the driver or a broken installation raises."""
    import cupy
    from cupy.cuda import nvrtc, runtime

    nvrtc.getVersion()
    found = []
    for number in range(runtime.getDeviceCount() if cupy.cuda.is_available() else 0):
        with cupy.cuda.Device(number):
            name, (free, total) = runtime.getDeviceProperties(number)["name"], runtime.memGetInfo()
            found.append(Gpu(number, name.decode(), int(free), int(total)))
    return found


class GpuSimulation:
    """Some excitations of a room on one GPU."""

    def __init__(self, plan: Plan, gpu: Gpu) -> None:
        self.plan, self.session, self.step, self.samples = plan, gpu.session(gpu.number, plan.real), 0, 0
        self.room = np.zeros(1, ROOM)
        self.held: dict[str, Any] = {}
        self.replays: dict[tuple[int, ...], Callable[[], None]] = {}
        types = TYPES | {"real": plan.real}
        for constant, kind, pointer, name in MEMBERS:
            if constant and name in plan.values:
                array = np.asarray(plan.values[name], dtype=types[kind]).reshape(-1)
                self._hold(name, self.session.put(array if len(array) else np.zeros(plan.values["width"], types[kind])))
            elif not pointer:
                self.room[name] = plan.values[name]
        for name, count in plan.states.items():
            self._hold(name, self.session.zeros(max(count, plan.values["width"]), plan.real))
        self._hold("clock", self.session.zeros(1, np.int32))
        self._hold("strength", self.session.zeros(STRENGTHS, np.float64))

    def _hold(self, name: str, array: Any) -> None:
        self.held[name], self.room[name] = array, self.session.address(array)

    def _number(self, name: str) -> int:
        return int(self.plan.values[name])

    def start(self, count: int) -> None:
        """Let the GPU simulate `count` steps."""
        every, driven = self._number("every"), len(self.plan.values["signal"])
        record = self._number("seats") * self._number("width")
        self.samples = (self.step + count - 1) // every - (self.step - 1) // every
        if "seat_record" not in self.held or len(self.held["seat_record"]) < self.samples * record:
            self._hold("seat_record", self.session.zeros(max(self.samples * record, 1), np.float64))
            self.replays.clear()
        with_sources = min(max(driven - self.step, 0), count)
        for ahead in range(with_sources):
            self._launch("drive", self._number("sources"), ahead)
            self._advance(ahead)
        # The same launches in every batch that begins alike: with the same pressure, and a sample after as many steps.
        map_phase = self.step % self._number("stride") if self._number("frequencies") else 0
        key = (count, with_sources, self.step % 2, self.step % every, map_phase)
        if key not in self.replays:
            self.replays[key] = self.session.captured(lambda: self._rest(with_sources, count))
        self.replays[key]()
        self.step += count

    def _rest(self, first: int, count: int) -> None:
        for ahead in range(first, count):
            self._advance(ahead)
        self._launch("tick", STRENGTHS, count)
        self._launch("add_strength", 1 << 16, count)

    def _advance(self, ahead: int) -> None:
        """One step, with what is read before it."""
        step, n = self.step + ahead, self._number
        blocks = n("special_blocks") + n("regular_blocks")
        threads = int(np.prod(self.plan.threads))
        if step % n("every") == 0:
            blocks += -(-n("seats") * n("width") // threads)
        if n("frequencies") and step % n("stride") == 0:
            self._launch("add_to_maps", n("cells") * n("width"), ahead)
        self._launch(self.plan.kernel, blocks * threads, ahead, self.plan.threads)
        if n("ports"):
            self._launch("ports", -(-n("width") // PORT_EXCITATIONS) * THREADS, ahead)

    def _launch(self, kernel: str, items: int, ahead: int, threads: tuple[int, ...] = (THREADS,)) -> None:
        blocks = -(-items // int(np.prod(threads)))
        if blocks:
            self.session.launch(kernel, blocks, threads, self.room, (self.step + ahead) % 2, ahead)

    def finish(self) -> tuple[NDArray[np.float64], float]:
        """Wait for the GPU; (pressures at the seats (sample, seat, excitation), strength of the field)."""
        shape = self.samples, self._number("seats"), self._number("width")
        record = self.session.get(self.held["seat_record"])[: int(np.prod(shape))].reshape(shape)
        strength = float(self.session.get(self.held["strength"]).sum())
        return record[:, :, : self.plan.excitations], strength

    def maps(self) -> NDArray[np.complex64]:
        """(excitation, frequency, cell) running sums."""
        shape = self._number("frequencies"), self._number("cells"), self._number("width")
        total = [self.session.get(self.held[name])[: int(np.prod(shape))] for name in ("map_real", "map_imag")]
        both = (total[0] + 1j * total[1]).reshape(shape)[:, :, : self.plan.excitations]
        return np.ascontiguousarray(np.moveaxis(both, 2, 0)).astype(np.complex64)
