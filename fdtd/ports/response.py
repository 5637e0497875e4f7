"""One simulation of a room whose chosen faces (ports) are rigid: what sources and ports do to ports and seats.

Everything is linear, so any device on a port follows from these (see predict.py) without another simulation.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdtd.model.excitations import Diaphragm, Place, Port, make_excitation
from fdtd.model.problem import Problem
from fdtd.scene.schema import Scene, Variant
from fdtd.simulation.discrete import DiscreteDevice, simulated
from fdtd.simulation.stepper import Simulation, simulate
from fdtd.simulation.transfer import transfer_functions
from fdtd.simulation.wall_tables import port_air_mass, port_elements


@dataclass(frozen=True, eq=False)
class PortMatrices:
    """Pressure per volume velocity, Pa/(m³/s), at `frequency` (Hz); the ports rigid, unless driven.

    A port's pressure is the average over the cells in front of it.
    seats_from_sources : (frequency, source, seat); ports_from_sources : (frequency, source, port)
    seats_from_ports : (frequency, port driven, seat); ports_from_ports : (frequency, port driven, port)
    """

    frequency: NDArray[np.float64]
    seats_from_sources: NDArray[np.complex128]
    ports_from_sources: NDArray[np.complex128]
    seats_from_ports: NDArray[np.complex128]
    ports_from_ports: NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class PortSet:
    """The faces.

    ports : in the order of all matrices; area : (port,) m²; air_mass : (port,) kg/m², air before the face
    time_step : s, of the simulation; top : Hz, for which the simulation puts surfaces right
    """

    ports: tuple[Port, ...]
    area: NDArray[np.float64]
    air_mass: NDArray[np.float64]
    time_step: float
    top: float

    def simulated(self, diaphragms: tuple[Diaphragm, ...]) -> list[DiscreteDevice]:
        """Devices as a simulation has them when they sit on the ports, one for each port in order."""
        return [
            simulated(d.branches, d.control, mass, self.time_step, self.top)
            for d, mass in zip(diaphragms, self.air_mass, strict=True)
        ]


def port_set(problem: Problem, ports: tuple[Port, ...], time_step: float, top: float) -> PortSet:
    """Areas and air masses of `ports` on the cells of `problem`."""
    area = np.array([problem.elements.area[port_elements(problem, port)].sum() for port in ports])
    mass = np.array([port_air_mass(problem, port) for port in ports])
    return PortSet(ports, area, mass, time_step, top)


@dataclass(frozen=True, eq=False)
class PortResponse(PortSet):
    """The faces with the simulation they were measured in; diaphragms : what the scene has on them."""

    diaphragms: tuple[Diaphragm, ...]
    record: Simulation
    sources: int
    seats: int

    def at(self, frequency: NDArray[np.float64]) -> PortMatrices:
        """The matrices at `frequency` (Hz, above 0 and inside the band that was excited)."""
        every = np.moveaxis(transfer_functions(self.record, frequency), 2, 0)
        s, r = self.sources, self.seats
        return PortMatrices(frequency, every[:, :s, :r], every[:, :s, r:], every[:, s:, :r], every[:, s:, r:])


def port_response(
    scene: Scene,
    variant: Variant,
    problem: Problem,
    names: tuple[str, ...],
    *,
    top: float,
    duration: float | None = None,
    precision: str = "double",
    progress: Callable[[float, str], None] | None = None,
) -> PortResponse:
    """Simulate `variant` with the absorbers called `names` rigid: an excitation for each source and each of them.

    The absorbers must move as one ('diaphragm'). top : Hz, highest frequency that the room is excited to.
    """
    template = make_excitation(scene, variant, problem, variant.sources[0].at)
    mine = {d.port.name: d for d in template.diaphragms if d.port.name in names}
    diaphragms = tuple(mine[name] for name in names)
    rest = tuple(d for d in template.diaphragms if d.port.name not in names)
    ports = tuple(d.port for d in diaphragms)
    places: list[Place] = [*(source.at for source in variant.sources), *ports]
    excitations = [replace(template, diaphragms=rest, source=place) for place in places]
    readers: list[Place] = [*(seat.at for seat in variant.seats), *ports]
    limit = scene.run.max_frequency
    record = simulate(
        problem,
        excitations,
        readers,
        limit,
        duration,
        precision=precision,
        progress=progress,
        pulse_frequency=top,
        sparse=True,
    )
    faces = port_set(problem, ports, record.time_step, limit)
    return PortResponse(
        **vars(faces), diaphragms=diaphragms, record=record, sources=len(variant.sources), seats=len(variant.seats)
    )
