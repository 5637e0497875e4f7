"""Devices put on ports: velocities of their faces and pressures at the seats, exactly as a simulation would have them.

With V the velocity into each face, S its area, Z the ports' pressures per volume velocity, m the air mass before it and
Y the device as simulated, V = Y (p - j omega m V) and p = p_sources - Z S V:

    (1 + Y W) V = Y p_sources,   W = Z S + j omega m.

The simulation's own factors in time (`simulation/discrete.py`) are in Y and W, so the prediction is exact to rounding.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.model.excitations import Diaphragm
from fdtd.ports.response import PortMatrices, PortSet
from fdtd.simulation.discrete import DiscreteDevice, flux_factor


def loading(response: PortSet, matrices: PortMatrices, devices: list[DiscreteDevice]) -> NDArray[np.complex128]:
    """W, (frequency, port, port): pressure taken off the ports (first) per velocity of the faces (second)."""
    factor = flux_factor(matrices.frequency, response.time_step)
    load = np.swapaxes(matrices.ports_from_ports, 1, 2) * (factor[:, None, None] * response.area)
    mass = np.array([device.air_mass for device in devices])
    s = 2j * np.pi * matrices.frequency / factor
    return np.asarray(load + s[:, None, None] * np.diag(mass))


def face_velocities(
    response: PortSet, matrices: PortMatrices, diaphragms: tuple[Diaphragm, ...]
) -> NDArray[np.complex128]:
    """(frequency, source, port) velocity into each face per volume velocity of each source, 1/m²."""
    devices = response.simulated(diaphragms)
    y = np.stack([d.admittance(matrices.frequency, response.time_step) for d in devices], axis=-1)
    system = np.eye(len(devices)) + y[:, :, None] * loading(response, matrices, devices)
    driven = y[:, :, None] * np.swapaxes(matrices.ports_from_sources, 1, 2)
    return np.swapaxes(np.linalg.solve(system, driven), 1, 2)


def seat_transfer(
    response: PortSet, matrices: PortMatrices, diaphragms: tuple[Diaphragm, ...]
) -> NDArray[np.complex128]:
    """(source, seat, frequency) pressure per volume velocity, Pa/(m³/s), with the devices on the ports."""
    velocity = face_velocities(response, matrices, diaphragms)
    factor = flux_factor(matrices.frequency, response.time_step)
    flow = velocity * (factor[:, None, None] * response.area)
    return np.moveaxis(matrices.seats_from_sources - flow @ matrices.seats_from_ports, 0, 2)


def port_admittance(
    faces: PortSet, frequency: NDArray[np.float64], diaphragms: tuple[Diaphragm, ...]
) -> NDArray[np.complex128]:
    """(frequency, port) volume velocity into each face per pressure averaged over its cells, m³/(s·Pa).

    With it in the diagonal matrix D the seats have G_s - G D (1 + Z D)⁻¹ Z_s for any choice of the ports.
    """
    factor = flux_factor(frequency, faces.time_step)
    s = 2j * np.pi * frequency / factor
    columns = []
    for device, area in zip(faces.simulated(diaphragms), faces.area, strict=True):
        y = device.admittance(frequency, faces.time_step)
        columns.append(factor * area * y / (1.0 + y * device.air_mass * s))
    return np.stack(columns, axis=-1)
