"""From impedance links to the coefficients of their update."""

from __future__ import annotations

import numpy as np

from fdtd.kernels.tables import LinkTables
from fdtd.model.problem import Problem
from fdtd.simulation.discrete import USUAL_SHARE, flux_factor
from fdtd.simulation.tiles import tile_bounds


def link_tables(problem: Problem, max_frequency: float, real: type, tiles: int = 1) -> LinkTables:
    """Semi-implicit update of impedance links: L du/dt + R u + K x = p_i - p_j, the damped part averaged over the step
    (theory.md, eq. 8 and 9).

    The average makes C R of the resistance (see discrete.py); it is put right at one frequency.
    """
    impedance_links, dt = problem.impedance_links, problem.time_step
    resistance = impedance_links.resistance / flux_factor(np.array(USUAL_SHARE * max_frequency), dt)
    scale = 1.0 / (impedance_links.mass / dt + resistance / 2)
    flux = problem.speed_of_sound**2 * dt * problem.density * impedance_links.area
    into = flux[:, None] / problem.operator.volume[impedance_links.cells]
    tile = np.searchsorted(tile_bounds(problem, tiles), impedance_links.cells, side="right") - 1
    apart = np.flatnonzero(tile[:, 0] != tile[:, 1])
    rows = np.concatenate([np.arange(len(flux)), apart])
    into = into[rows]
    into[apart, 1], into[len(flux) :, 0] = 0.0, 0.0
    owner = np.concatenate([tile[:, 0], tile[apart, 1]])
    order = np.argsort(owner, kind="stable")
    values = [(impedance_links.mass / dt - resistance / 2) * scale, scale, impedance_links.stiffness * scale]
    cells = impedance_links.cells[rows]
    return LinkTables(
        np.ascontiguousarray(cells[:, 0]),
        np.ascontiguousarray(cells[:, 1]),
        values[0][rows].astype(real),
        values[1][rows].astype(real),
        values[2][rows].astype(real),
        into[:, 0].astype(real),
        into[:, 1].astype(real),
        np.searchsorted(owner[order], np.arange(tiles + 1)),
        order,
    )
