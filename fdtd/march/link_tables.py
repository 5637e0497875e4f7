"""From loose links to the coefficients of their update."""

from __future__ import annotations

import numpy as np

from fdtd.kernels.tables import LinkTables
from fdtd.march.chunks import chunk_bounds
from fdtd.march.discrete import USUAL_SHARE, flux_factor
from fdtd.model.problem import Problem


def link_tables(problem: Problem, max_frequency: float, real: type, chunks: int = 1) -> LinkTables:
    """Semi-implicit update of loose links: L du/dt + R u + K x = p_i - p_j, the damped part averaged over the step
    (theory.md, eq. 8 and 9).

    The average makes C R of the resistance (see discrete.py); it is put right at one frequency.
    """
    loose, dt = problem.loose, problem.time_step
    resistance = loose.resistance / flux_factor(np.array(USUAL_SHARE * max_frequency), dt)
    scale = 1.0 / (loose.mass / dt + resistance / 2)
    flux = problem.speed_of_sound**2 * dt * problem.density * loose.area
    into = flux[:, None] / problem.operator.volume[loose.cells]
    chunk = np.searchsorted(chunk_bounds(problem, chunks), loose.cells, side="right") - 1
    apart = np.flatnonzero(chunk[:, 0] != chunk[:, 1])
    rows = np.concatenate([np.arange(len(flux)), apart])
    into = into[rows]
    into[apart, 1], into[len(flux) :, 0] = 0.0, 0.0
    owner = np.concatenate([chunk[:, 0], chunk[apart, 1]])
    order = np.argsort(owner, kind="stable")
    values = [(loose.mass / dt - resistance / 2) * scale, scale, loose.stiffness * scale]
    cells = loose.cells[rows]
    return LinkTables(
        np.ascontiguousarray(cells[:, 0]),
        np.ascontiguousarray(cells[:, 1]),
        values[0][rows].astype(real),
        values[1][rows].astype(real),
        values[2][rows].astype(real),
        into[:, 0].astype(real),
        into[:, 1].astype(real),
        np.searchsorted(owner[order], np.arange(chunks + 1)),
        order,
    )
