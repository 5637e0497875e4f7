"""Where simulations run: on the processor, on GPUs, or wherever they are done sooner. One choice a command."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING

from fdtd.model.problem import Problem
from fdtd.simulation.gpu_choice import FILL, GpuError, check_memory, choose_device

if TYPE_CHECKING:
    from fdtd.kernels.gpu import Gpu


@dataclass
class _Setting:
    """wish : 'cpu', 'gpu' or 'auto'; tell : hears where simulations go and why, each reason once."""

    wish: str = "cpu"
    tell: Callable[[str], None] = lambda text: None
    text: set[str] = field(default_factory=set)
    lock: Lock = field(default_factory=Lock)


_setting = _Setting()
ON_GPUS = Lock()
"""Simulations on GPUs take turns: each fills the GPUs by itself."""


@contextmanager
def simulating_on(wish: str, tell: Callable[[str], None] = lambda text: None) -> Iterator[None]:
    """Simulations inside run on `wish`: 'cpu', 'gpu' or 'auto'; without this, on the processor.

    It holds for all threads of the program, as a command has one wish.
    """
    global _setting
    before, _setting = _setting, _Setting(wish, tell)
    try:
        yield
    finally:
        _setting = before


def gpus_for(problem: Problem, excitations: int, maps: int, precision: str, seconds: float) -> tuple[Gpu, ...]:
    """The GPUs that a simulation goes to, none for the processor; seconds : estimated time on the processor.

    Raises GpuError if a GPU is wished for and there is none, or too small a one.
    """
    setting = _setting
    if setting.wish == "cpu":
        return ()
    with setting.lock:
        choice = choose_device(setting.wish, seconds)
        # A further GPU pays only when each has its fill of excitations.
        gpus, reason = choice.gpus[: max(1, excitations // FILL)], choice.reason
        if gpus:
            shares = [len(range(k, excitations, len(gpus))) for k in range(len(gpus))]
            try:
                check_memory(problem, shares, maps, precision, gpus)
            except GpuError as error:
                if setting.wish == "gpu":
                    raise
                gpus, reason = (), f"the processor: {error}"
        # Many simulations of a study differ in their size only; each reason is told once, whatever its numbers.
        kind = re.sub(r"less than a second|(about )?[\d.,]+( excitations?| s| min)?\b", "", reason)
        if kind not in setting.text:
            setting.text.add(kind)
            setting.tell(f"Simulated on {reason}.")
    return tuple(gpus)
