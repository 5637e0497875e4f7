"""Some excitations of one problem with their tables and state, ready to be advanced."""

from __future__ import annotations

from collections.abc import Sequence
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.cpu import SHARED, advance
from fdtd.kernels.points import MAP_SAMPLES
from fdtd.kernels.tables import AirTables, State, Tables
from fdtd.model.excitations import Excitation, Place
from fdtd.model.problem import Problem
from fdtd.simulation.air_tables import air_tables
from fdtd.simulation.link_tables import link_tables
from fdtd.simulation.point_tables import map_tables, point_tables
from fdtd.simulation.thread_group import Pace, together
from fdtd.simulation.tiles import aligned_zeros, tile_count
from fdtd.simulation.wall_tables import wall_tables


class ExcitationBlock:
    """Tables and state of some excitations of one problem, ready to be advanced.

    like : another block of the same simulation, whose tables of the air serve for as many excitations
    """

    def __init__(
        self,
        problem: Problem,
        excitations: Sequence[Excitation],
        seats: Sequence[Place],
        signal: NDArray[np.float64],
        max_frequency: float,
        map_frequency: NDArray[np.float64] | None = None,
        precision: str = "double",
        threads: int = 1,
        map_steps: int = 0,
        every: int = 1,
        pulse_frequency: float | None = None,
        like: ExcitationBlock | None = None,
    ) -> None:
        real = np.float32 if precision == "single" else np.float64
        excitations = list(excitations)
        frequency = np.zeros(0) if map_frequency is None else np.asarray(map_frequency, dtype=float)
        self.problem, self.dt, self.pace = problem, problem.time_step, Pace(threads if SHARED else 1)
        self.rate = 1.0 / (2.0 * np.pi * max_frequency * self.dt)
        tiles = tile_count(len(problem.cells.volume), len(excitations), np.dtype(real).itemsize, threads)
        same = like is not None and like.state.p_now.shape[1] == len(excitations)
        self.air: AirTables = (
            like.air if like is not None and same else air_tables(problem, len(excitations), tiles, real)
        )
        self.walls = wall_tables(problem, excitations, max_frequency, tiles, real)
        self.links = link_tables(problem, max_frequency, real, tiles)
        self.points = point_tables(problem, excitations, seats, signal, real, every, tiles)
        self.maps = map_tables(frequency, self.dt, pulse_frequency or max_frequency, map_steps, real)
        cells, count = len(problem.cells.volume), len(excitations)
        faces, ports = self.walls.faces, self.walls.ports
        rows = {
            "p_now": cells,
            "p_before": cells,
            "face_v": self.walls.face_states,
            "face_x": self.walls.face_states,
            "cell_sum": len(faces.cell),
            "port_v": self.walls.port_states,
            "port_x": self.walls.port_states,
            "port_before": len(ports.coupling),
            "link_u": len(self.links.first),
            "link_x": len(self.links.first),
        }
        self.state: State = State(
            **{name: aligned_zeros((max(number, 1), count), real) for name, number in rows.items()},
            control_x=np.zeros((len(ports.control.size), ports.control.matrix.shape[1], count), real),
            map_real=np.zeros((len(frequency), cells, count), real),
            map_imag=np.zeros((len(frequency), cells, count), real),
            map_kept=np.zeros((MAP_SAMPLES, cells if len(frequency) else 1, count), real),
        )
        self.step = 0

    def advance(self, count: int) -> NDArray[np.float64]:
        """Simulate `count` steps; returns the seats' pressures (sample, seat, excitation) float64, Pa, every so many
        steps."""
        every = self.points.every
        samples = (self.step + count - 1) // every - (self.step - 1) // every
        out = np.zeros((samples, len(self.points.seat_pointer) - 1, self.state.p_now.shape[1]))
        tables = Tables(self.air, self.walls.faces, self.walls.ports, self.links, self.points, self.maps)

        def member(number: int, size: int, barrier: NDArray[np.int64]) -> None:
            advance(self.state, tables, self.dt, self.step, count, out, number, size, barrier)

        size, start = self.pace.choose(), perf_counter()
        with np.errstate(all="ignore"):
            together(member, size)
        self.pace.took(size, perf_counter() - start, count)
        if count % 2:
            self.state = self.state._replace(p_now=self.state.p_before, p_before=self.state.p_now)
        self.step += count
        return out

    def strength(self) -> float:
        """Volume integral of squared pressure and of its squared change over a radian of the top frequency, Pa² m³."""
        p = self.state.p_now.astype(float)
        change = (p - self.state.p_before.astype(float)) * self.rate
        return float(np.sum(self.problem.operator.volume @ (p * p + change * change)))

    def map_sums(self) -> NDArray[np.complex64]:
        """(excitation, map_frequency, cell) Fourier sums so far, Pa·s."""
        total = self.state.map_real + 1j * self.state.map_imag
        return np.ascontiguousarray(np.moveaxis(total, 2, 0) * (self.maps.stride * self.dt)).astype(np.complex64)
