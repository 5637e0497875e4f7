"""The discrete problem that simulation and modes share: cells, operator, wall elements, impedance links, time step.

It holds geometry and the air only. What the elements are made of is given per excitation (`Excitation` in
excitations.py), so variants that differ in materials, devices or sources share one Problem.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from fdtd.grid.cells import Cells, build_cells
from fdtd.grid.edges import EdgeTerms, edge_terms
from fdtd.model.elements import Elements, wall_elements
from fdtd.model.operator import Operator, build_operator, row_sums, with_links
from fdtd.model.overlay import Cover
from fdtd.model.rooms import porous_shares, room_axes, room_shape
from fdtd.model.size import checked_axes
from fdtd.model.spectral import largest_eigenvalue
from fdtd.physics.admittance import Branch
from fdtd.scene.schema import Scene, Variant

TIME_STEP_MARGIN = 0.9995
"""Share of the stability limit that is used."""
LANCZOS_ERROR = 5e-3
"""Largest relative error of the spectral radius."""
SMALLEST_RESISTANCE = 1e-6
"""Pa·s/m; less is the rounding of a fill that only touches a link."""


@dataclass(frozen=True)
class ImpedanceLinks:
    """Links with a velocity of their own: cells (link, 2), area m²; per unit area mass kg/m², resistance Pa·s/m,
    stiffness Pa/m (the air's own mass included)."""

    cells: NDArray[np.int64]
    area: NDArray[np.float64]
    mass: NDArray[np.float64]
    resistance: NDArray[np.float64]
    stiffness: NDArray[np.float64]


@dataclass(frozen=True)
class Problem:
    """regions : (surface, covers over it bottom first) for each region number of `elements`; time_step : s."""

    cells: Cells
    operator: Operator
    elements: Elements
    regions: tuple[tuple[str, tuple[Cover, ...]], ...]
    impedance_links: ImpedanceLinks
    plain: NDArray[np.bool_]
    speed_of_sound: float
    density: float
    time_step: float

    def release(self) -> None:
        """Give back what only tables and matrices are made from: stiffness, links, faces. To be called once the tables
        of the last simulation of this problem are made; what is left are places and volumes of cells, elements,
        impedance links.
        """
        for owner, names in (
            (self, ("plain",)),
            (self.operator, ("stiffness",)),
            (self.cells, ("links", "faces", "centroid", "regular")),
        ):
            for name in names:
                vars(owner).pop(name, None)


def build_problem(scene: Scene, variant: Variant, spacing: float, grouped: tuple[Variant, ...] = ()) -> Problem:
    """The discrete problem of one variant, or of several (`grouped`) that share their geometry.

    spacing : m, longest cell edge. Cell edges are planned from all variants of the scene, so they are the same in all.
    Raises FdtdError if the cells don't fit into this machine's memory or are thinner than a millimetre.
    """
    shape = room_shape(scene, variant)
    cells = build_cells(shape, spacing, checked_axes(shape, lambda size: room_axes(scene, size), spacing))
    air = scene.air
    ways = air_links(cells, variant, air.density)
    edges, impedance_links, plain = ways.edges, ways.impedance_links, ways.plain
    operator = build_operator(cells, ways.weight, plain, ways.mirrors, edges.pairs, edges.surplus, ways.porosity)
    elements, regions = wall_elements(cells, plain, variant, grouped or (variant,))
    step = _time_step(operator, impedance_links, air.speed_of_sound, air.density)
    return Problem(cells, operator, elements, regions, impedance_links, plain, air.speed_of_sound, air.density, step)


@dataclass(frozen=True)
class AirLinks:
    """What `build_operator` is made from; weight, plain, mirrors, porosity : as there."""

    weight: NDArray[np.float64]
    plain: NDArray[np.bool_]
    mirrors: NDArray[np.bool_]
    edges: EdgeTerms
    impedance_links: ImpedanceLinks
    porosity: NDArray[np.float64]


def air_links(cells: Cells, variant: Variant, density: float) -> AirLinks:
    """What stands in the way of every link: thin partitions, panels, fills, and the edges beside it."""
    links = cells.links
    open_share = np.ones(len(links.area))
    extra = np.zeros(len(links.area))
    resistance = np.zeros(len(links.area))
    tightness = np.zeros(len(links.area))
    panels: list[tuple[NDArray, float, Branch]] = []
    for number, thin_partition in enumerate(variant.thin_partitions):
        mine = links.thin_partition == number
        open_share[mine] = 1.0 if thin_partition.open_fraction > 0.0 else 0.0
        if thin_partition.open_fraction > 0.0:
            # The cells beside the thin partition hold the slab's own depth of air already.
            extra[mine] = thin_partition.depth * (1.0 / thin_partition.open_fraction - 1.0)
            resistance[mine] = thin_partition.resistance / thin_partition.open_fraction
            tightness[mine] = extra[mine] / (extra[mine] + links.length[mine])
        else:
            tightness[mine] = 1.0
        if thin_partition.panel is not None and thin_partition.open_fraction < 1.0:
            panels.append((np.flatnonzero(mine), 1.0 - thin_partition.open_fraction, thin_partition.panel))
    edges = edge_terms(cells, tightness)
    factor = edges.factor
    flow, heavier, porosity = porous_shares(cells, variant.porous_volumes)
    resistance += flow
    inertia = links.length * heavier + extra
    weight = links.area * open_share * factor / inertia
    has_state = (resistance > SMALLEST_RESISTANCE) & (open_share > 0.0)
    rows = np.flatnonzero(has_state)
    mass = density * inertia[rows] / factor[rows]
    parts = [(rows, links.area[rows], mass, resistance[rows] / factor[rows], 0.0 * rows)]
    for rows, closed, panel in panels:
        mass = density * links.length[rows] + panel.mass
        ones = np.ones(len(rows))
        parts.append((rows, links.area[rows] * closed, mass, ones * panel.resistance, ones * panel.stiffness))
    columns = [np.concatenate(column) for column in zip(*parts, strict=True)]
    impedance_links = ImpedanceLinks(links.cells[columns[0]].astype(np.int64), *columns[1:])
    plain = links.whole & ~edges.touched & (links.thin_partition < 0) & ~has_state & (np.abs(heavier - 1.0) < 1e-9)
    # Beside a free edge the mirror image at the thin partition would meet the singular field: no fourth-order
    # difference there.
    at_edge = np.zeros(len(cells.volume), dtype=bool)
    at_edge[links.cells[edges.touched]] = True
    mirrors = (open_share == 0.0) & ~at_edge[links.cells].any(axis=1)
    # A panel moves: the air on both its sides is counted as half a cell each, which a fourth-order difference there
    # would change.
    for panel_rows, _, _ in panels:
        mirrors[panel_rows] = False
    return AirLinks(np.where(has_state, 0.0, weight), plain, mirrors, edges, impedance_links, porosity)


def _time_step(operator: Operator, impedance_links: ImpedanceLinks, c: float, density: float) -> float:
    """Largest stable time step, s, from the spectral radius of the plain part with the impedance links' inertia
    (theory.md, eq. 6).

    Lanczos' value lies a little below the true one, which `LANCZOS_ERROR` makes up for; row sums bound it from above.
    """
    stiffness, count = operator.stiffness, len(operator.volume)
    # The impedance links by themselves: a sum of the two matrices would be a second copy of the larger one.
    alone = Operator(csr_array((count, count)), operator.volume, 0)
    links = with_links(alone, impedance_links.cells, density * impedance_links.area / impedance_links.mass).stiffness
    sums = row_sums(stiffness)
    joined = np.unique(impedance_links.cells)
    sums[joined] = row_sums(csr_array(stiffness[joined] + links[joined]))
    scale = 1.0 / np.sqrt(operator.volume)

    def apply(x: NDArray) -> NDArray:
        x = scale * x
        return scale * (stiffness @ x + links @ x)

    found = largest_eigenvalue(apply, np.random.default_rng(0).standard_normal(count), LANCZOS_ERROR)
    limit = min(found / (1.0 - LANCZOS_ERROR), float(np.max(sums / operator.volume))) * c * c
    if len(impedance_links.mass):
        limit += float(np.max(impedance_links.stiffness / impedance_links.mass))
    return float(TIME_STEP_MARGIN * 2.0 / np.sqrt(limit))
