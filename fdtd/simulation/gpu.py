"""Excitations of one problem simulated on GPUs, with the interface of a block of excitations on the processor."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.gpu import Gpu, GpuSimulation
from fdtd.kernels.gpu import gpus as find
from fdtd.model.excitations import Excitation, Place
from fdtd.model.problem import Problem
from fdtd.simulation.device import check_memory, within_memory
from fdtd.simulation.gpu_tables import EXCITATIONS_TOGETHER, GpuTables, air_of, plan_of
from fdtd.simulation.link_tables import link_tables
from fdtd.simulation.point_tables import map_tables, point_tables
from fdtd.simulation.wall_tables import wall_tables


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
        real = np.float32 if precision == "single" else np.float64
        frequency = np.zeros(0) if map_frequency is None else np.asarray(map_frequency, dtype=float)
        dt = problem.time_step
        rate = 1.0 / (2.0 * np.pi * max_frequency * dt)
        gpus = list(gpus if gpus is not None else find())[: len(excitations)]
        parts = np.array_split(np.arange(len(excitations)), len(gpus))
        check_memory(problem, [len(p) for p in parts], len(frequency), precision, gpus)
        self.simulations: list[GpuSimulation] = []
        for part, one in zip(parts, gpus, strict=True):
            for k in range(0, len(part), EXCITATIONS_TOGETHER):
                share = [excitations[int(n)] for n in part[k : k + EXCITATIONS_TOGETHER]]
                walls = wall_tables(problem, share, max_frequency, 1, np.float64)
                tables = GpuTables(
                    walls.faces,
                    walls.ports,
                    link_tables(problem, max_frequency, np.float64),
                    point_tables(problem, share, seats, signal, np.float64, every),
                    map_tables(frequency, dt, max_frequency, map_steps, np.float64),
                )
                self.map_time = tables.maps.stride * dt
                air = air_of(problem, walls.faces)
                plan = plan_of(air, tables, problem.operator.volume, dt, rate, len(share), real)
                with within_memory():
                    self.simulations.append(GpuSimulation(plan, one))
        self.last = 0.0

    def advance(self, count: int) -> NDArray[np.float64]:
        """Simulate `count` steps; returns the seats' pressures (sample, seat, excitation) float64, Pa, every so many
        steps."""
        with within_memory():
            for one in self.simulations:
                one.start(count)
        done = [one.finish() for one in self.simulations]
        self.last = sum(strength for _, strength in done)
        return np.concatenate([record for record, _ in done], axis=2)

    def strength(self) -> float:
        """Volume integral of squared pressure and of its squared change over a radian of the top frequency, Pa² m³."""
        return self.last

    def map_sums(self) -> NDArray[np.complex64]:
        """(excitation, map_frequency, cell) Fourier sums so far, Pa·s."""
        total = np.concatenate([one.maps() for one in self.simulations])
        return (total * self.map_time).astype(np.complex64)
