"""What the plain time step (plain_step.py) takes and changes: the model's own numbers, for one excitation."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]


class Air(NamedTuple):
    """volume : (cell,) m³. link : (link, 2) cells; conductance : (link,) f A/d, m.
    fourth-order difference : (fourth-order difference, 3) cells below, in the middle and above, at a wall the middle
    one again; box : (fourth-order difference,) m³ of the middle one's box; reach : (fourth-order difference, 2) d₋ and
    d₊, m. pair : (pair, 2) links on the two sides of a sheet; surplus : (pair,) e."""

    volume: Array
    link: Array
    conductance: Array
    fourth_order_term: Array
    box: Array
    reach: Array
    pair: Array
    surplus: Array


class ImpedanceLink(NamedTuple):
    """cell : (link, 2); area : (link,) m²; per unit area mass kg/m², resistance Pa·s/m, stiffness Pa/m."""

    cell: Array
    area: Array
    mass: Array
    resistance: Array
    stiffness: Array


class Faces(NamedTuple):
    """Faces that each move as one, of one member or more. member : (member, 2) face and cell; area : (member,) m²
    air_mass : (face,) kg/m²; branch_face : (branch,); branch : (branch, 3) mass, resistance, stiffness
    controls : (face, matrix, drive, read) of each face with electronics."""

    member: Array
    area: Array
    air_mass: Array
    branch_face: Array
    branch: Array
    controls: list[tuple[int, Array, Array, Array]]


class Room(NamedTuple):
    """speed : m/s; density : kg/m³; time_step : s; top : Hz, highest frequency that surfaces are put right for."""

    air: Air
    impedance_links: ImpedanceLink
    faces: Faces
    speed: float
    density: float
    time_step: float
    top: float


class State(NamedTuple):
    """p, p_before (cell,); u, way (link,) of impedance links; v, x (branch,); v_face_before (face,) velocities a step
    ago; inner : the states of each control."""

    p: Array
    p_before: Array
    u: Array
    way: Array
    v: Array
    x: Array
    v_face_before: Array
    inner: list[Array]


def silence(room: Room) -> State:
    """The state before anything has sounded."""
    faces, cells = room.faces, np.zeros(len(room.air.volume))
    links, branches = np.zeros(len(room.impedance_links.area)), np.zeros(len(faces.branch))
    inner = [np.zeros(len(drive)) for _, _, drive, _ in faces.controls]
    return State(cells, cells, links, links, branches, branches, np.zeros(len(faces.air_mass)), inner)
