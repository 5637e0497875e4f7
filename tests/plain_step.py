"""The time step of docs/theory.md written out plainly, for one excitation: to read, and to test the fast kernels
against.

It takes true areas, masses and resistances, and works out everything else itself. Nothing is packed or put in an order
for speed, and all faces, local ones and diaphragms alike, are solved as one dense system. Numbers in brackets are
those of its equations (theory.md). The program itself never calls it.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from plain_tables import Air, Array, Faces, Room, State
from scipy.sparse import csr_array


def stiffness_times(p: Array, air: Air) -> Array:
    """K p, m·Pa (2, 3): what every link, fourth-order difference and pair of links at a sheet's edge draws from its
    cells."""
    drawn = np.zeros_like(p)
    i, j = air.link.T
    flow = air.conductance * (p[i] - p[j])
    first, second = air.pair.T
    scale = air.surplus / 2 * np.sqrt(air.conductance[first] * air.conductance[second])
    opposed = scale * ((p[i] - p[j])[first] - (p[i] - p[j])[second])
    np.add.at(flow, first, opposed)
    np.add.at(flow, second, -opposed)
    np.add.at(drawn, i, flow)
    np.add.at(drawn, j, -flow)
    (below, middle, above), (down, up) = air.fourth_order_term.T, air.reach.T
    bend = 2 / (down + up) * ((p[above] - p[middle]) / up - (p[middle] - p[below]) / down)
    moment = air.box / 12 * down * up * bend * 2 / (down + up)
    np.add.at(drawn, above, moment / up)
    np.add.at(drawn, middle, -moment / up - moment / down)
    np.add.at(drawn, below, moment / down)
    return drawn


def flux_factor(frequency: Array | float, dt: float) -> Any:
    """C, of (7) and (16)."""
    return np.sqrt(1 - (np.pi * np.asarray(frequency) * dt) ** 2)


def simulated_faces(room: Room) -> Faces:
    """What is simulated so that the faces are the wanted ones in spite of the rule in time (16)."""
    faces, dt, top = room.faces, room.time_step, room.top
    usual, branch, air_mass = flux_factor(0.6 * top, dt), faces.branch.copy(), faces.air_mass * 1.0
    number = np.bincount(faces.branch_face, minlength=len(air_mass))
    number[[face for face, *_ in faces.controls]] += 2  # electronics are never a single branch
    for k, face in enumerate(faces.branch_face):
        if number[face] == 1:
            branch[k, 0] += air_mass[face]
            air_mass[face] = 0.0
        mass, resistance, stiffness = branch[k]
        resonance = np.sqrt(stiffness / mass) / (2 * np.pi) if mass > 0 else 0.0
        C = flux_factor(resonance, dt) if 0.05 < resonance / top < 1 else usual
        branch[k] = C * C * mass, C * resistance, stiffness
    controls = [(face, m / usual, d / usual, r / usual) for face, m, d, r in faces.controls]
    return faces._replace(branch=branch, air_mass=usual**2 * air_mass, controls=controls)


class Step:
    """The simulation of one room: `Step(room)(state, dQ)` is the state a step later; dQ : (cell,) w dQ/dt, m³/s²."""

    def __init__(self, room: Room) -> None:
        self.room, self.faces = room, simulated_faces(room)
        dt, number, faces = room.time_step, len(room.faces.air_mass), self.faces
        mass, resistance, stiffness = faces.branch.T
        self.a = 1 / (2 * mass / dt + resistance + stiffness * dt / 2)  # (10)
        self.b = (2 * mass / dt - resistance - stiffness * dt / 2) * self.a
        self.g = 2 * stiffness * self.a
        total = np.bincount(faces.branch_face, self.a, minlength=number)
        self.controls = []
        for face, matrix, drive, read in faces.controls:  # (18)
            one, half = np.eye(len(drive)), matrix * dt / 2
            E, B = np.linalg.solve(one - half, one + half), np.linalg.solve(one - half, drive * dt / 2)
            total[face] += read @ B
            self.controls.append((face, E, B, read))
        self.m = 2 * faces.air_mass / dt  # (11)
        self.delta = 1 / (1 + self.m * total)
        self.alpha = self.delta * total
        (face, cell), shape = faces.member.T, (number, len(room.air.volume))
        whole, volume = np.bincount(face, faces.area, minlength=number)[face], room.air.volume[cell]
        self.share = csr_array((faces.area / whole, (face, cell)), shape=shape)
        beta = room.speed**2 * dt * room.density * faces.area / (2 * volume)  # (12)
        self.beta = csr_array((beta, (cell, face)), shape=shape[::-1])
        self.inverse = np.linalg.inv(np.eye(number) + self.alpha[:, None] * (self.share @ self.beta).toarray())  # (17)

    def __call__(self, state: State, dQ: Array) -> State:
        room, dt, p = self.room, self.room.time_step, state.p
        star = 2 * p - state.p_before - (room.speed * dt) ** 2 / room.air.volume * stiffness_times(p, room.air)  # (5)
        u, way = self.impedance_links(state, star)
        star += (room.speed * dt) ** 2 * room.density / room.air.volume * dQ  # (20)
        v_face, h = self.alone(state)
        past = self.delta * h + self.alpha * self.m * v_face
        star += self.beta @ state.v_face_before
        v_face_next = self.inverse @ (self.alpha * (self.share @ (star + p)) + past)  # (17)
        p_next = star - self.beta @ v_face_next
        both = self.share @ (p_next + p) - self.m * (v_face_next - v_face)  # (13)
        v = self.a * both[self.faces.branch_face] + self.b * state.v - self.g * state.x  # (10)
        inner = [E @ z + B * both[face] for (face, E, B, _), z in zip(self.controls, state.inner, strict=True)]  # (18)
        return State(p_next, p, u, way, v, state.x + dt / 2 * (v + state.v), v_face, inner)

    def impedance_links(self, state: State, star: Array) -> tuple[Array, Array]:
        """New velocities and ways; what they carry goes into `star` (8, 9)."""
        room, impedance_links, dt = self.room, self.room.impedance_links, self.room.time_step
        i, j = impedance_links.cell.T
        half = impedance_links.resistance / flux_factor(0.6 * room.top, dt) / 2
        pushed = (
            (impedance_links.mass / dt - half) * state.u
            + state.p[i]
            - state.p[j]
            - impedance_links.stiffness * state.way
        )
        u = pushed / (impedance_links.mass / dt + half)
        carried = room.speed**2 * dt * room.density * impedance_links.area * (u - state.u)
        np.add.at(star, i, -carried / room.air.volume[i])
        np.add.at(star, j, carried / room.air.volume[j])
        return u, state.way + dt * u

    def alone(self, state: State) -> tuple[Array, Array]:
        """Every face's velocity now, and what it would be a step later without pressure (10, 18)."""
        v_face = np.bincount(self.faces.branch_face, state.v, minlength=len(self.m))
        h = np.bincount(self.faces.branch_face, self.b * state.v - self.g * state.x, minlength=len(self.m))
        for (face, E, _, read), z in zip(self.controls, state.inner, strict=True):
            v_face[face] += read @ z
            h[face] += read @ E @ z
        return v_face, h
