"""Which excitations are simulated, and the matrices that follow: what sources and ports do to seats and ports.

Every study of a room goes this way: `excitations_of` its sources and ports, `measure`, then matrices or transfer
functions at the frequencies it needs. Everything is linear, so any device on a port follows (see predict.py) without
another simulation.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdtd.model.excitations import Diaphragm, Excitation, Place, Port, make_excitation
from fdtd.model.problem import Problem
from fdtd.scene.schema import Scene, Variant
from fdtd.simulation.device import DOUBLE, Execution
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

    @classmethod
    def of(cls, transfer: NDArray[np.complex128], frequency: NDArray[np.float64], variant: Variant) -> PortMatrices:
        """From (excitation, reader, frequency): first the sources and the seats of `variant`, then its ports."""
        every, s, r = np.moveaxis(transfer, 2, 0), len(variant.sources), len(variant.seats)
        return cls(frequency, every[:, :s, :r], every[:, :s, r:], every[:, s:, :r], every[:, s:, r:])

    def exchanged(self) -> PortMatrices:
        """Sources and seats exchanged, which changes nothing else (reciprocity: Rayleigh, Theory of Sound, sec. 109 and
        294)."""
        return PortMatrices(
            self.frequency,
            np.swapaxes(self.seats_from_sources, 1, 2),
            np.swapaxes(self.seats_from_ports, 1, 2),
            np.swapaxes(self.ports_from_sources, 1, 2),
            self.ports_from_ports,
        )

    def of_sources(self, chosen: Sequence[int]) -> PortMatrices:
        """Of some sources only, in the order of `chosen`."""
        at = list(chosen)
        seats, ports = self.seats_from_sources[:, at], self.ports_from_sources[:, at]
        return replace(self, seats_from_sources=seats, ports_from_sources=ports)


def excitations_of(
    scene: Scene, variant: Variant, problem: Problem, ports: Sequence[Port] = (), rigid: Sequence[str] = ()
) -> list[Excitation]:
    """An excitation for each source of `variant`, then for each of `ports`; rigid : names of diaphragms left out."""
    template = make_excitation(scene, variant, problem, variant.sources[0].at)
    moving = tuple(d for d in template.diaphragms if d.port.name not in rigid)
    places: list[Place] = [*(source.at for source in variant.sources), *ports]
    return [replace(template, diaphragms=moving, source=place) for place in places]


def readers_of(variant: Variant, ports: Sequence[Port] = ()) -> list[Place]:
    """The seats of `variant`, then `ports`."""
    return [*(seat.at for seat in variant.seats), *ports]


def measure(
    scene: Scene,
    problem: Problem,
    excitations: Sequence[Excitation],
    readers: Sequence[Place],
    duration: float | None = None,
    execution: Execution = DOUBLE,
    progress: Callable[[float, str], None] | None = None,
    maps: NDArray[np.float64] | None = None,
    top: float | None = None,
) -> Simulation:
    """Simulate `excitations` for the spectra at `readers`; maps : Hz, of pressure maps
    top : Hz, up to which the room is excited, if above the scene's highest frequency."""
    limit = scene.run.max_frequency
    return simulate(problem, excitations, readers, limit, duration, maps, execution, progress, top, sparse=True)


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


def port_set(problem: Problem, ports: tuple[Port, ...], top: float) -> PortSet:
    """Areas and air masses of `ports` on the cells of `problem`."""
    area = np.array([problem.elements.area[port_elements(problem, port)].sum() for port in ports])
    mass = np.array([port_air_mass(problem, port) for port in ports])
    return PortSet(ports, area, mass, problem.time_step, top)


@dataclass(frozen=True, eq=False)
class PortResponse(PortSet):
    """The faces with the simulation they were measured in; diaphragms : what the variant has on them."""

    diaphragms: tuple[Diaphragm, ...]
    record: Simulation
    variant: Variant

    def at(self, frequency: NDArray[np.float64]) -> PortMatrices:
        """The matrices at `frequency` (Hz, above 0 and inside the band that was excited)."""
        return PortMatrices.of(transfer_functions(self.record, frequency), frequency, self.variant)


def port_response(
    scene: Scene,
    variant: Variant,
    problem: Problem,
    names: tuple[str, ...],
    *,
    top: float,
    duration: float | None = None,
    progress: Callable[[float, str], None] | None = None,
    execution: Execution = DOUBLE,
) -> PortResponse:
    """Simulate `variant` with the absorbers called `names` rigid: an excitation for each source and each of them.

    The absorbers must move as one ('diaphragm'). top : Hz, highest frequency that the room is excited to.
    """
    diaphragms = diaphragms_of(scene, variant, problem, names)
    ports = tuple(d.port for d in diaphragms)
    excitations, readers = excitations_of(scene, variant, problem, ports, names), readers_of(variant, ports)
    record = measure(scene, problem, excitations, readers, duration, execution, progress, top=top)
    faces = port_set(problem, ports, scene.run.max_frequency)
    return PortResponse(**vars(faces), diaphragms=diaphragms, record=record, variant=variant)


def diaphragms_of(scene: Scene, variant: Variant, problem: Problem, names: Sequence[str]) -> tuple[Diaphragm, ...]:
    """The moving faces of the absorbers called `names`, in that order."""
    every = make_excitation(scene, variant, problem, variant.sources[0].at).diaphragms
    return tuple(next(d for d in every if d.port.name == name) for name in names)
