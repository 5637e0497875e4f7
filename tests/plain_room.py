"""One excitation of a problem as the plain time step takes it (tests/plain_step.py): for reading and for tests
only."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from plain_tables import Air, Faces, ImpedanceLink, Room

from fdtd.model.excitations import Excitation
from fdtd.model.problem import AirLinks, Problem
from fdtd.physics.admittance import Branches
from fdtd.physics.control import StateSpace


def reference_room(problem: Problem, ways: AirLinks, excitation: Excitation, max_frequency: float) -> Room:
    """ways : of the cells of `problem`; max_frequency : Hz, for which surfaces are put right."""
    impedance_links, step = problem.impedance_links, problem.time_step
    return Room(
        _air(problem, ways),
        ImpedanceLink(
            impedance_links.cells,
            impedance_links.area,
            impedance_links.mass,
            impedance_links.resistance,
            impedance_links.stiffness,
        ),
        _faces(problem, excitation),
        problem.speed_of_sound,
        problem.density,
        step,
        max_frequency,
    )


def _air(problem: Problem, ways: AirLinks) -> Air:
    cells = problem.cells
    fourth_order = [row for axis in range(3) for row in _fourth_order(problem, ways, axis)]
    middle = np.array([(axis, cell) for axis, _, cell, _ in fourth_order], dtype=np.int64).reshape(-1, 2)
    fourth_order_term = np.array([row[1:] for row in fourth_order], dtype=np.int64).reshape(-1, 3)
    width = cells.size[fourth_order_term, middle[:, :1]]
    reach = 0.5 * (width[:, 1:2] + width[:, [0, 2]])
    return Air(
        problem.operator.volume,
        cells.links.cells,
        ways.weight,
        fourth_order_term,
        cells.volume[fourth_order_term[:, 1]],
        reach,
        ways.edges.pairs,
        ways.edges.surplus,
    )


def _fourth_order(problem: Problem, ways: AirLinks, axis: int) -> list[tuple[int, int, int, int]]:
    """(axis, below, middle, above) of cells with a plain link on one side and that or nothing but wall on the other."""
    cells, links = problem.cells, problem.cells.links
    sides: list[dict[int, int]] = [{}, {}]
    for link in np.flatnonzero((links.axis == axis) & ~ways.mirrors):
        low, high = links.cells[link].tolist()
        for side, cell, other in ((sides[0], high, low), (sides[1], low, high)):
            if ways.plain[link]:
                side[cell] = other
            else:
                side.setdefault(cell, -1)
    found = []
    for cell in np.flatnonzero(cells.regular).tolist():
        below, above = (side.get(cell, cell) for side in sides)
        if min(below, above) >= 0 and below != above:
            found.append((axis, below, cell, above))
    return found


def _faces(problem: Problem, excitation: Excitation) -> Faces:
    """Every element of a local surface is a face of its own, every diaphragm one face."""
    elements = problem.elements
    parts: list[tuple[NDArray[np.int64], float, Branches, StateSpace | None]] = []
    for element, region in enumerate(elements.region):
        if excitation.local[region]:
            column = elements.depth[element] - (elements.excess[element] if excitation.fitted[region] else 0.0)
            parts.append((np.array([element]), column, excitation.local[region], None))
    for device in excitation.diaphragms:
        mine = np.flatnonzero(np.isin(elements.region, device.port.regions))
        column = np.average((elements.depth - elements.excess)[mine], weights=elements.area[mine])
        parts.append((mine, column, device.branches, device.control))
    owner = np.repeat(np.arange(len(parts)), [len(mine) for mine, *_ in parts])
    member = np.concatenate([np.zeros(0, np.int64), *(mine for mine, *_ in parts)])
    branches = [(n, b.mass, b.resistance, b.stiffness) for n, (_, _, own, _) in enumerate(parts) for b in own]
    branch = np.array(branches, dtype=float).reshape(-1, 4)
    controls = [(n, c.matrix, c.drive, c.read) for n, (*_, c) in enumerate(parts) if c is not None]
    return Faces(
        np.column_stack([owner, elements.cell[member]]),
        elements.area[member],
        problem.density * np.array([column for _, column, _, _ in parts]),
        branch[:, 0].astype(np.int64),
        branch[:, 1:],
        controls,
    )
