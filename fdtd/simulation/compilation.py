"""Compiling ahead: the kernel is made, or read from disk, while the room is still being cut into cells; the wait for it
is reported.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from threading import Thread
from time import monotonic

import numpy as np

from fdtd.grid.cells import build_cells
from fdtd.grid.shape import RoomShape
from fdtd.model.excitations import Excitation
from fdtd.model.operator import build_operator
from fdtd.model.problem import Elements, ImpedanceLinks, Problem
from fdtd.simulation.block import ExcitationBlock

COMPILING = "compiling for this machine (the first run only)"
UNTOLD = 0.7
"""s that reading the compiled simulation from disk may take without a word."""
LOOK = 0.2
"""s between two reports."""
SIDE, CELL = 1.0, 0.25
"""m; of a room of a few cells."""


class Compilation:
    """Compiles, or reads from disk, the simulation of one precision in the background from the moment it is made."""

    def __init__(self, precision: str = "double") -> None:
        self._compiled = _started(precision)

    def wait(self, report: Callable[[float, str], None] | None, fraction: float = 0.0) -> None:
        """Return when a simulation can begin at once; says so with `report(fraction, message)` if that takes long.

        Raises what compiling raised, such as MemoryError.
        """
        start, look = monotonic(), UNTOLD
        while True:
            try:
                return self._compiled.result(look)
            except TimeoutError:
                look = LOOK
            if report is not None:
                report(fraction, f"{COMPILING}, {monotonic() - start:.0f} s")


def _started(precision: str) -> Future[None]:
    """Start compiling the simulation of that precision in a thread of its own; a simulation that begins sooner waits
    for it.

    The future is done when it is compiled, and has the error if there was one.
    """
    done: Future[None] = Future()

    def work() -> None:
        try:
            _one_step(precision)
            done.set_result(None)
        except BaseException as error:
            done.set_exception(error)

    # Not of a pool: the interpreter would wait for it at its end.
    Thread(target=work, daemon=True).start()
    return done


def _one_step(precision: str) -> None:
    plan = ((0.0, 0.0), (SIDE, 0.0), (SIDE, SIDE), (0.0, SIDE))
    cells = build_cells(RoomShape(plan, ((SIDE, 0.0, 0.0),), (), ()), CELL)
    links = cells.links
    no_links, nothing = np.zeros((0, 2), dtype=np.int64), np.zeros(0)
    weight, mirrors = links.area / links.length, np.zeros(len(links.area), dtype=bool)
    operator = build_operator(cells, weight, links.whole, mirrors, no_links, nothing)
    none = np.zeros(0, dtype=np.int64)
    problem = Problem(
        cells,
        operator,
        Elements(none, nothing, nothing, nothing, none),
        (),
        ImpedanceLinks(no_links, nothing, nothing, nothing, nothing),
        links.whole,
        343.0,
        1.2,
        1e-4,
    )
    excitation = Excitation((), (), (), (0.5, 0.5, 0.5))
    ExcitationBlock(problem, [excitation], [], np.zeros(1), 200.0, precision=precision).advance(1)
