"""Compiling ahead: the kernel is made, or read from disk, while the room is still being cut into cells."""

from __future__ import annotations

from concurrent.futures import Future
from threading import Thread

import numpy as np

from fdtd.grid.cells import build_cells
from fdtd.grid.shape import RoomShape
from fdtd.model.excitations import Excitation
from fdtd.model.operator import build_operator
from fdtd.model.problem import Elements, ImpedanceLinks, Problem
from fdtd.simulation.block import ExcitationBlock

SIDE, CELL = 1.0, 0.25
"""m; of a room of a few cells."""


def warm_up(precision: str = "double") -> Future[None]:
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
