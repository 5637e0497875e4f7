"""Lanes of one problem marched on graphics cards, with the interface of a block of lanes on the processor."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fdtd.march.gpu_choice import check_memory, within_memory
from fdtd.march.gpu_tables import LANES_TOGETHER, CardTables, layout
from fdtd.march.link_tables import link_tables
from fdtd.march.point_tables import map_tables, point_tables
from fdtd.march.wall_tables import wall_tables
from fdtd.model.lanes import Lane, Place
from fdtd.model.problem import Problem

if TYPE_CHECKING:
    from fdtd.kernels.gpu import Card

PIECE = 3
"""Cells that one thread walks along with many lanes: short enough to share the work out evenly."""


class CardLanes:
    """Lanes of one problem, shared out among graphics cards, ready to be advanced."""

    def __init__(
        self,
        problem: Problem,
        lanes: Sequence[Lane],
        seats: Sequence[Place],
        signal: NDArray[np.float64],
        max_frequency: float,
        map_frequency: NDArray[np.float64] | None = None,
        precision: str = "double",
        map_steps: int = 0,
        every: int = 1,
        cards: Sequence[Card] | None = None,
    ) -> None:
        from fdtd.kernels import gpu

        real = np.float32 if precision == "single" else np.float64
        frequency = np.zeros(0) if map_frequency is None else np.asarray(map_frequency, dtype=float)
        self.problem, self.dt = problem, problem.time_step
        self.rate = 1.0 / (2.0 * np.pi * max_frequency * self.dt)
        cards = list(cards if cards is not None else gpu.cards())[: len(lanes)]
        parts = np.array_split(np.arange(len(lanes)), len(cards))
        check_memory(problem, [len(p) for p in parts], len(frequency), precision, cards)
        self.marches = []
        for part, card in ((p[k : k + LANES_TOGETHER], c) for p, c in zip(parts, cards, strict=True)
                           for k in range(0, len(p), LANES_TOGETHER)):  # fmt: skip
            share = [lanes[int(k)] for k in part]
            walls = wall_tables(problem, share, max_frequency, 1, np.float64)
            tables = CardTables(
                walls.faces,
                walls.ports,
                link_tables(problem, max_frequency, np.float64),
                point_tables(problem, share, seats, signal, np.float64, every),
                map_tables(frequency, self.dt, max_frequency, map_steps, np.float64),
            )
            self.stride = tables.maps.stride
            with within_memory():
                self.marches.append(gpu.CardMarch(layout(problem, tables, len(share), real, PIECE), card.number))
        self.last = 0.0

    def advance(self, count: int) -> NDArray[np.float64]:
        """March `count` steps; returns the seats' pressures (sample, seat, lane) float64, Pa, every so many steps."""
        with within_memory():
            for one in self.marches:
                one.start(count, self.rate)
        done = [one.finish() for one in self.marches]
        self.last = sum(strength for _, strength in done)
        return np.concatenate([record for record, _ in done], axis=2)

    def strength(self) -> float:
        """Volume integral of squared pressure and of its squared change over a radian of the top frequency, Pa² m³."""
        return self.last

    def map_sums(self) -> NDArray[np.complex64]:
        """(lane, map_frequency, cell) Fourier sums so far, Pa·s."""
        total = np.concatenate([one.maps() for one in self.marches])
        return (total * (self.stride * self.dt)).astype(np.complex64)
