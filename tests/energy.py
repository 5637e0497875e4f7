"""The discrete energy of a simulation, which passive walls can only lower and rigid walls keep (to rounding).

At n + 1/2, in J/s² times a constant (it is the energy of the field's time derivative):
    1/2 sum V/c² ((p+ - p)/dt)²  +  1/2 p+ K p
    + rho sum over wall branches A [ L/2 ((v+ - v)/dt)² + K/2 ((v+ + v)/2)² ]
    + rho sum over impedance links A [ L/2 w w+ - R dt/8 (w+² - w²) + K/2 u² ],  w = (u+ - u-)/dt.
After Bilbao, Hamilton, Botts, Savioja, IEEE/ACM TASLP 24(1), 2016 (walls); the loose-link term is ours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.simulation.stepper import ExcitationBlock


@dataclass(frozen=True)
class Snapshot:
    """Velocities one step ago, as float64 copies."""

    face_v: NDArray[np.float64]
    port_v: NDArray[np.float64]
    link_u: NDArray[np.float64]


def snapshot(block: ExcitationBlock) -> Snapshot:
    """Copy what the energy needs from before the next step."""
    s = block.state
    return Snapshot(s.face_v.astype(float), s.port_v.astype(float), s.link_u.astype(float))


def discrete_energy(block: ExcitationBlock, before: Snapshot) -> float:
    """Energy summed over excitations, after `block` has advanced exactly one step since `before` was taken."""
    problem, dt, rho = block.problem, block.dt, block.problem.density
    new, old = block.state.p_now.astype(float), block.state.p_before.astype(float)
    kinetic = 0.5 * np.sum(problem.operator.volume[:, None] / problem.speed_of_sound**2 * ((new - old) / dt) ** 2)
    potential = 0.5 * np.sum(new * (problem.operator.stiffness @ old))
    return float(kinetic + potential + rho * (_walls(block, before) + _ports(block, before) + _links(block, before)))


def _branch_energy(a: NDArray, b: NDArray, g: NDArray, new: NDArray, old: NDArray, dt: float) -> NDArray:
    """Stored energy per unit area of branch rows, (row, excitation); rows with a = 0 are rigid."""
    moving = a > 0.0
    scale = np.where(moving, a, 1.0)
    mass = np.where(moving, dt / 4.0 * (1.0 + b) / scale, 0.0)
    stiffness = np.where(moving, g / (2.0 * scale), 0.0)
    return 0.5 * mass * ((new - old) / dt) ** 2 + 0.5 * stiffness * (0.5 * (new + old)) ** 2


def _area(block: ExcitationBlock, strength: NDArray, cells: NDArray) -> NDArray:
    problem = block.problem
    scale = 2.0 * problem.operator.volume[cells] / (problem.speed_of_sound**2 * block.dt * problem.density)
    return strength.astype(float) * scale


def _walls(block: ExcitationBlock, before: Snapshot) -> float:
    faces, dt = block.walls.faces, block.dt
    if len(faces.kind) == 0:
        return 0.0
    width = np.diff(faces.first)[faces.kind]
    owner = np.repeat(np.arange(len(faces.kind)), width)
    row = faces.first[faces.kind][owner] + np.arange(len(owner)) - faces.state[owner]
    new, old = block.state.face_v[: len(owner)].astype(float), before.face_v[: len(owner)]
    a, b, g = (x.astype(float)[row] for x in (faces.a, faces.b, faces.g))
    stored = _branch_energy(a, b, g, new, old, dt)
    cells = np.repeat(faces.cell, np.diff(faces.pointer))
    area = _area(block, faces.strength, cells)
    total = np.sum(area[owner][:, None] * stored)
    change = np.zeros((len(faces.kind), new.shape[1]))
    np.add.at(change, owner, (new - old) / dt)
    column = faces.mass.astype(float)[faces.kind] * dt / 2.0
    return float(total + np.sum(0.5 * area[:, None] * column * change**2))


def _ports(block: ExcitationBlock, before: Snapshot) -> float:
    ports, dt = block.walls.ports, block.dt
    number = len(ports.pointer) - 1
    total = 0.0
    new, old = block.state.port_v.astype(float), before.port_v
    for k in range(number):
        members = slice(ports.pointer[k], ports.pointer[k + 1])
        cells = block.walls.faces.cell[ports.boundary[members]]
        area = _area(block, ports.strength[members], cells).sum()
        rows = slice(ports.first[k], ports.first[k + 1])
        a, b, g = (x[rows].astype(float) for x in (ports.a, ports.b, ports.g))
        stored = _branch_energy(a, b, g, new[rows], old[rows], dt).sum()
        change = ((new[rows] - old[rows]) / dt).sum(axis=0)
        stored += np.sum(0.5 * ports.mass[k].astype(float) * dt / 2.0 * change**2)
        total += area * float(stored)
    return total


def _links(block: ExcitationBlock, before: Snapshot) -> float:
    impedance_links, dt = block.problem.impedance_links, block.dt
    number = len(impedance_links.mass)
    if number == 0:
        return 0.0
    links, s = block.links, block.state
    p = s.p_now.astype(float)
    u = s.link_u[:number].astype(float)
    drop = (p[links.first] - p[links.second])[:number]
    keep, push, pull = (x[:number].astype(float)[:, None] for x in (links.keep, links.push, links.pull))
    following = keep * u + push * drop - pull * s.link_x[:number].astype(float)
    w, w_next = (u - before.link_u[:number]) / dt, (following - u) / dt
    mass, stiffness, area = (
        x[:, None] for x in (impedance_links.mass, impedance_links.stiffness, impedance_links.area)
    )
    resistance = (1.0 - keep) / push
    stored = 0.5 * mass * w * w_next - resistance * dt / 8.0 * (w_next**2 - w**2) + 0.5 * stiffness * u**2
    return float(np.sum(area * stored))
