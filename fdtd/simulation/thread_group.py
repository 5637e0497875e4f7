"""Threads that share one simulation."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier, Lock

import numpy as np
from numpy.typing import NDArray

Member = Callable[[int, int, NDArray[np.int64]], None]
"""(number, size, barrier): what one of a group of `size` threads does; all meet at `barrier`."""

_TURNS = Lock()
"""Groups take turns: members wait for each other awake, so two groups would only be in each other's way."""
_helpers: list[ThreadPoolExecutor] = []


def together(member: Member, size: int) -> None:
    """Run `member` on `size` threads, the calling one among them; returns when all are done."""
    barrier = np.zeros(1, dtype=np.int64)
    if size == 1:
        member(0, 1, barrier)
        return
    with _TURNS:
        if not _helpers or _helpers[0]._max_workers < size - 1:
            _helpers[:] = [_started(size - 1)]
        others = [_helpers[0].submit(member, number, size, barrier) for number in range(1, size)]
        member(0, size, barrier)
        for other in others:
            other.result()


def _started(count: int) -> ThreadPoolExecutor:
    """A pool of `count` threads, all of them running: members wait for each other, and would for one without a thread.

    Raises RuntimeError if there is no room for so many.
    """
    pool, everybody = ThreadPoolExecutor(max_workers=count), Barrier(count + 1)
    try:
        for _ in range(count):
            pool.submit(everybody.wait)
    except RuntimeError:
        everybody.abort()
        raise
    everybody.wait()
    return pool


PROBE_EVERY = 16
"""Batches after which the slower way is tried again, in case the machine has become idle or busy."""


class Pace:
    """Whether a thread group pays, by what its steps took so far: beside other programs one thread alone may be
    faster."""

    def __init__(self, threads: int) -> None:
        self.threads, self.batches = threads, 0
        self.step_time = {1: 0.0, threads: 0.0}

    def choose(self) -> int:
        """Threads for the next batch."""
        untried = [size for size, taken in self.step_time.items() if taken == 0.0]
        if untried:
            return untried[-1]
        best, other = sorted(self.step_time, key=self.step_time.__getitem__)[0], min(self.step_time)
        other = self.threads if best == other else other
        return other if self.batches % PROBE_EVERY == 0 else best

    def took(self, size: int, seconds: float, steps: int) -> None:
        """What a batch of `steps` steps took. The first, which loads the kernel and starts threads, tells nothing."""
        self.batches += 1
        if self.batches > 1:
            self.step_time[size] = seconds / max(steps, 1)
