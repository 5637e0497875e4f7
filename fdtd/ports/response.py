"""One march of a room whose chosen faces (ports) are rigid: what sources and ports do to ports and seats.

Everything is linear, so any device on a port follows from these (see predict.py) without another march.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdtd.march.discrete import Marched, marched
from fdtd.march.stepper import March, march
from fdtd.march.transfer import transfer_functions
from fdtd.march.wall_tables import port_air_mass, port_pieces
from fdtd.model.lanes import Diaphragm, Place, Port, make_lane
from fdtd.model.problem import Problem
from fdtd.scene.schema import Scene, Variant


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
    time_step : s, of the march; top : Hz, for which the march puts surfaces right
    """

    ports: tuple[Port, ...]
    area: NDArray[np.float64]
    air_mass: NDArray[np.float64]
    time_step: float
    top: float

    def marched(self, diaphragms: tuple[Diaphragm, ...]) -> list[Marched]:
        """Devices as a march has them when they sit on the ports, one for each port in order."""
        return [
            marched(d.branches, d.control, mass, self.time_step, self.top)
            for d, mass in zip(diaphragms, self.air_mass, strict=True)
        ]


def port_set(problem: Problem, ports: tuple[Port, ...], time_step: float, top: float) -> PortSet:
    """Areas and air masses of `ports` on the cells of `problem`."""
    area = np.array([problem.pieces.area[port_pieces(problem, port)].sum() for port in ports])
    mass = np.array([port_air_mass(problem, port) for port in ports])
    return PortSet(ports, area, mass, time_step, top)


@dataclass(frozen=True, eq=False)
class PortResponse(PortSet):
    """The faces with the march they were measured in; diaphragms : what the scene has on them."""

    diaphragms: tuple[Diaphragm, ...]
    record: March
    sources: int
    seats: int

    def at(self, frequency: NDArray[np.float64]) -> PortMatrices:
        """The matrices at `frequency` (Hz, above 0 and inside the band that was excited)."""
        every = np.moveaxis(transfer_functions(self.record, frequency), 2, 0)
        s, r = self.sources, self.seats
        return PortMatrices(frequency, every[:, :s, :r], every[:, :s, r:], every[:, s:, :r], every[:, s:, r:])


def port_response(
    scene: Scene, variant: Variant, problem: Problem, names: tuple[str, ...], *, top: float,
    duration: float | None = None, precision: str = "double",
    progress: Callable[[float, str], None] | None = None,
) -> PortResponse:  # fmt: skip
    """March `variant` with the absorbers called `names` rigid: a lane for each source and each of them.

    The absorbers must move as one ('diaphragm'). top : Hz, highest frequency that the room is excited to.
    """
    template = make_lane(scene, variant, problem, variant.sources[0].at)
    mine = {d.port.name: d for d in template.diaphragms if d.port.name in names}
    diaphragms = tuple(mine[name] for name in names)
    rest = tuple(d for d in template.diaphragms if d.port.name not in names)
    ports = tuple(d.port for d in diaphragms)
    places: list[Place] = [*(source.at for source in variant.sources), *ports]
    lanes = [replace(template, diaphragms=rest, source=place) for place in places]
    readers: list[Place] = [*(seat.at for seat in variant.seats), *ports]
    limit = scene.run.max_frequency
    record = march(
        problem, lanes, readers, limit, duration, precision=precision, progress=progress, pulse_frequency=top,
        sparse=True,
    )  # fmt: skip
    faces = port_set(problem, ports, record.time_step, limit)
    return PortResponse(**vars(faces), diaphragms=diaphragms, record=record, sources=len(variant.sources),
                        seats=len(variant.seats))  # fmt: skip
