"""Excitations of one problem simulated on GPUs, with the interface of a block of excitations on the processor."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fdtd.model.excitations import Excitation, Place
from fdtd.model.problem import Problem
from fdtd.simulation.gpu_choice import check_memory, within_memory
from fdtd.simulation.gpu_tables import EXCITATIONS_TOGETHER, GpuTables, layout
from fdtd.simulation.link_tables import link_tables
from fdtd.simulation.point_tables import map_tables, point_tables
from fdtd.simulation.wall_tables import wall_tables

if TYPE_CHECKING:
    from fdtd.kernels.gpu import Gpu

ELEMENT = 3
"""Cells that one thread walks along with many excitations: short enough to share the work out evenly."""


class GpuExcitations:
    """Excitations of one problem, shared out among GPUs, ready to be advanced."""

    def __init__(
        self,
        problem: Problem,
        excitations: Sequence[Excitation],
        seats: Sequence[Place],
        signal: NDArray[np.float64],
        max_frequency: float,
        map_frequency: NDArray[np.float64] | None = None,
        precision: str = "double",
        map_steps: int = 0,
        every: int = 1,
        gpus: Sequence[Gpu] | None = None,
    ) -> None:
        from fdtd.kernels import gpu

        real = np.float32 if precision == "single" else np.float64
        frequency = np.zeros(0) if map_frequency is None else np.asarray(map_frequency, dtype=float)
        self.problem, self.dt = problem, problem.time_step
        self.rate = 1.0 / (2.0 * np.pi * max_frequency * self.dt)
        gpus = list(gpus if gpus is not None else gpu.gpus())[: len(excitations)]
        parts = np.array_split(np.arange(len(excitations)), len(gpus))
        check_memory(problem, [len(p) for p in parts], len(frequency), precision, gpus)
        self.simulations = []
        for part, one in (
            (p[k : k + EXCITATIONS_TOGETHER], c)
            for p, c in zip(parts, gpus, strict=True)
            for k in range(0, len(p), EXCITATIONS_TOGETHER)
        ):
            share = [excitations[int(k)] for k in part]
            walls = wall_tables(problem, share, max_frequency, 1, np.float64)
            tables = GpuTables(
                walls.faces,
                walls.ports,
                link_tables(problem, max_frequency, np.float64),
                point_tables(problem, share, seats, signal, np.float64, every),
                map_tables(frequency, self.dt, max_frequency, map_steps, np.float64),
            )
            self.stride = tables.maps.stride
            with within_memory():
                self.simulations.append(gpu.GpuMarch(layout(problem, tables, len(share), real, ELEMENT), one.number))
        self.last = 0.0

    def advance(self, count: int) -> NDArray[np.float64]:
        """Simulate `count` steps; returns the seats' pressures (sample, seat, excitation) float64, Pa, every so many
        steps."""
        with within_memory():
            for one in self.simulations:
                one.start(count, self.rate)
        done = [one.finish() for one in self.simulations]
        self.last = sum(strength for _, strength in done)
        return np.concatenate([record for record, _ in done], axis=2)

    def strength(self) -> float:
        """Volume integral of squared pressure and of its squared change over a radian of the top frequency, Pa² m³."""
        return self.last

    def map_sums(self) -> NDArray[np.complex64]:
        """(excitation, map_frequency, cell) Fourier sums so far, Pa·s."""
        total = np.concatenate([one.maps() for one in self.simulations])
        return (total * (self.stride * self.dt)).astype(np.complex64)
