"""How a simulation is computed: with which precision, and where: on the processor, on GPUs, or where it is sooner."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np

from fdtd.errors import FdtdError
from fdtd.kernels.compiled import available_threads
from fdtd.model.problem import Problem
from fdtd.simulation.gpu_tables import EXCITATIONS_TOGETHER, excitation_width

if TYPE_CHECKING:
    from fdtd.kernels.gpu import Gpu

WORTH = 20.0
"""Seconds on the processor from which a GPU pays, its start included."""
FILL = 64
"""Excitations of each GPU for which a further one pays."""
USABLE = 0.9
"""Share of a GPU's free memory that a simulation may take."""
REMEDY = "use a coarser grid, fewer maps or --device cpu"
INSTALL = "pip install '.[gpu]'"
ON_GPUS = Lock()
"""Simulations on GPUs take turns: each fills the GPUs by itself."""
_LOOKING = Lock()


class GpuError(FdtdError):
    """A GPU that was asked for and is not there, or is too small."""


@dataclass(frozen=True)
class Execution:
    """How simulations are computed; passed down from commands and public functions.

    precision : 'single' or 'double'; device : 'cpu', 'gpu' or 'auto'; threads : most on the CPU (None: all cores)
    tell : hears where each simulation goes and why, unless it was not asked to leave the CPU
    """

    precision: str = "double"
    device: str = "cpu"
    threads: int | None = None
    tell: Callable[[str], None] = lambda text: None

    @property
    def workers(self) -> int:
        """Threads that a simulation on the CPU may use."""
        return self.threads or available_threads()

    @property
    def double(self) -> Execution:
        """The same in double precision."""
        return replace(self, precision="double")


DOUBLE, SINGLE = Execution(), Execution("single")


@cache
def find_gpus() -> tuple[tuple[Gpu, ...], str]:
    """The GPUs that can be used, and why there are none. Looked for once."""
    if importlib.util.find_spec("cupy") is None:
        return (), f"the package for GPUs is not installed; {INSTALL} adds it"
    try:
        from fdtd.kernels import gpu

        found = tuple(gpu.gpus())
    except Exception as error:  # driver, compiler and array package must fit each other: anything may be raised here
        text = str(error).strip().splitlines()
        said = f"{type(error).__name__}: {text[0] if text else 'no message'}"
        return (), f"the part that simulates on GPUs did not start ({said}); try {INSTALL}"
    if found:
        return found, ""
    return (), "no GPU with CUDA was found"


def gpus_for(problem: Problem, excitations: int, maps: int, execution: Execution, seconds: float) -> tuple[Gpu, ...]:
    """The GPUs that a simulation goes to, none for the processor; seconds : estimated time on the processor.

    Raises GpuError if a GPU is asked for and there is none, or too small a one.
    """
    if execution.device == "cpu":
        return ()
    with _LOOKING:
        gpus, reason = _choice(problem, excitations, maps, execution, seconds)
    execution.tell(f"Simulated on {reason}.")
    return gpus


def _choice(
    problem: Problem, excitations: int, maps: int, execution: Execution, seconds: float
) -> tuple[tuple[Gpu, ...], str]:
    asked = execution.device == "gpu"
    if not asked and seconds < WORTH:
        return (), f"the processor: it takes {_time(seconds)} there"
    found, why = find_gpus()
    if not found:
        if asked:
            raise GpuError(f"--device gpu: {why}. Or use --device cpu")
        return (), f"the processor: {why}"
    gpus = found[: max(1, excitations // FILL)]  # a further GPU pays only when each has its fill of excitations
    shares = [len(range(k, excitations, len(gpus))) for k in range(len(gpus))]
    try:
        check_memory(problem, shares, maps, execution.precision, gpus)
    except GpuError as error:
        if asked:
            raise
        return (), f"the processor: {error}"
    name = found[0].name if len(found) == 1 else f"{len(found)} x {found[0].name}"
    return gpus, f"the GPU ({name})" + (", as asked" if asked else f": the processor would take {_time(seconds)}")


def _time(seconds: float) -> str:
    if seconds < 1.0:
        return "less than a second"
    return f"about {seconds:.0f} s" if seconds < 100.0 else f"about {seconds / 60.0:.0f} min"


def gpu_bytes(problem: Problem, excitations: int, maps: int, precision: str) -> int:
    """Memory that a simulation takes on a GPU: two pressures, walls and map sums an excitation, and the room's
    tables."""
    real = 4 if precision == "single" else 8
    width = sum(
        excitation_width(min(EXCITATIONS_TOGETHER, excitations - k))
        for k in range(0, excitations, EXCITATIONS_TOGETHER)
    )
    cells, faces, links = len(problem.cells.volume), len(problem.elements.area), len(problem.impedance_links.mass)
    # Pressures fill the box around the room, with some layers beyond.
    box = int(np.prod(problem.cells.index.max(axis=0).astype(np.int64) + 8))
    state = 2 * box + 2 * maps * cells + 6 * faces + 4 * links
    return int(state * width * real + cells * 16 + faces * 160 + (64 << 20))


def check_memory(problem: Problem, excitations: Sequence[int], maps: int, precision: str, gpus: Sequence[Gpu]) -> None:
    """Raises GpuError if the excitations of any GPU do not fit into its free memory."""
    for number, gpu in zip(excitations, gpus, strict=True):
        need, have = gpu_bytes(problem, number, maps, precision), USABLE * gpu.free
        if need <= have:
            continue
        what = f"{number} excitation{'s' if number != 1 else ''} of {len(problem.cells.volume):,} cells"
        raise GpuError(f"{what} need {need / 1e9:.1f} GB on the GPU and may take {have / 1e9:.1f} GB of it: {REMEDY}")


@contextmanager
def within_memory() -> Iterator[None]:
    """Raises GpuError where the GPU's memory runs out all the same: another program may have taken it since."""
    try:
        yield
    except Exception as error:  # what is raised depends on the versions of driver and package; its text does not
        if "OUT_OF_MEMORY" not in str(error).upper().replace(" ", "_"):
            raise
        raise GpuError(f"the memory of the GPU ran out, though more was free before: {REMEDY}") from error
