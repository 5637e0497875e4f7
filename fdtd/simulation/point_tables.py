"""Sources, seats and map frequencies as tables for the kernels."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fdtd.kernels.tables import MapTables, PointTables
from fdtd.model.excitations import Excitation, Place, Port
from fdtd.model.problem import Problem
from fdtd.simulation.points import PointWeights
from fdtd.simulation.signals import sampling_stride, time_step_frequency
from fdtd.simulation.tiles import tile_bounds
from fdtd.simulation.wall_tables import port_elements


def _spread(problem: Problem, weights: PointWeights, place: Place) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Cells and weights, adding up to 1, of a point or of the face of a port."""
    if not isinstance(place, Port):
        return weights.weights(place)
    mine, elements = port_elements(problem, place), problem.elements
    cells, row = np.unique(elements.cell[mine], return_inverse=True)
    area = np.bincount(row, elements.area[mine])
    return cells, area / area.sum()


def point_tables(
    problem: Problem,
    excitations: list[Excitation],
    seats: Sequence[Place],
    signal: NDArray,
    real: type,
    every: int,
    tiles: int = 1,
) -> PointTables:
    """Tables of every excitation's source and of the seats (theory.md, eq. 20 and 21)."""
    weights = PointWeights(problem.cells)
    scale = (problem.speed_of_sound * problem.time_step) ** 2 * problem.density / problem.operator.volume
    known: dict[Place, tuple[NDArray, NDArray]] = {}

    def spread(place: Place) -> tuple[NDArray, NDArray]:
        if place not in known:
            known[place] = _spread(problem, weights, place)
        return known[place]

    sources = [spread(excitation.source) for excitation in excitations]
    listeners = [spread(seat) for seat in seats]

    def joined(lists: list) -> tuple[NDArray, NDArray, NDArray]:
        pointer = np.concatenate([[0], np.cumsum([len(c) for c, _ in lists])]).astype(np.int64)
        cells = np.concatenate([c for c, _ in lists]) if lists else np.zeros(0, np.int64)
        return pointer, cells.astype(np.int64), np.concatenate([w for _, w in lists]) if lists else np.zeros(0)

    pointer, cells, share = joined(sources)
    seat_pointer, seat_cells, seat_share = joined(listeners)
    share = share * scale[cells]
    excitation = np.repeat(np.arange(len(excitations)), np.diff(pointer))
    order, bounds = np.argsort(cells, kind="stable"), tile_bounds(problem, tiles)
    return PointTables(
        pointer,
        cells,
        share.astype(real),
        signal.astype(real),
        seat_pointer,
        seat_cells,
        seat_share.astype(real),
        every,
        np.searchsorted(cells[order], bounds),
        (cells * len(excitations) + excitation)[order],
        share[order].astype(real),
    )


def map_tables(frequency: NDArray, dt: float, max_frequency: float, steps: int, real: type) -> MapTables:
    """Phases of the map sums (theory.md, eq. 22); frequency : Hz; max_frequency : Hz, of the pulse; steps : number"""
    stride = sampling_stride(max_frequency, dt)
    phase = time_step_frequency(frequency, dt) * dt * stride * np.arange(steps // stride + 2)[:, None]
    return MapTables(stride, np.cos(phase).astype(real), np.sin(phase).astype(real))
