"""The discrete problem that march and modes share: cells, operator, wall pieces, loose links, time step.

It holds geometry and the air only. What the pieces are made of is given per lane (`Lane` in lanes.py), so variants
that differ in materials, devices or sources share one Problem.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import diags_array
from scipy.sparse.linalg import ArpackError, eigsh

from fdtd.grid.cells import Cells, build_cells
from fdtd.grid.edges import EdgeTerms, edge_terms
from fdtd.model.operator import Operator, build_operator, with_links
from fdtd.model.overlay import Cover, overlay
from fdtd.model.piston import ColumnExcess
from fdtd.model.rooms import fill_shares, room_axes, room_shape, surface_covers
from fdtd.physics.admittance import Branch
from fdtd.scene.schema import Scene, Sheet, Variant

TIME_STEP_MARGIN = 0.9995
"""Share of the stability limit that is used."""
LANCZOS_ERROR = 5e-3
"""Largest relative error of the spectral radius."""

SMALLEST_RESISTANCE = 1e-6
"""Pa·s/m; less is the rounding of a fill that only touches a link."""


@dataclass(frozen=True)
class Pieces:
    """Wall faces split among what covers them: cell (piece,), area m², depth m (air column to the wall, in terms of
    inertia), excess m (to be taken off it in lanes where an absorber moves there), region (piece,) into
    `Problem.regions`."""

    cell: NDArray[np.int64]
    area: NDArray[np.float64]
    depth: NDArray[np.float64]
    excess: NDArray[np.float64]
    region: NDArray[np.int64]


@dataclass(frozen=True)
class LooseLinks:
    """Links with a velocity of their own: cells (link, 2), area m²; per unit area mass kg/m², resistance Pa·s/m,
    stiffness Pa/m (the air's own mass included)."""

    cells: NDArray[np.int64]
    area: NDArray[np.float64]
    mass: NDArray[np.float64]
    resistance: NDArray[np.float64]
    stiffness: NDArray[np.float64]


@dataclass(frozen=True)
class Problem:
    """regions : (surface, covers over it bottom first) for each region number of `pieces`; time_step : s."""

    cells: Cells
    operator: Operator
    pieces: Pieces
    regions: tuple[tuple[str, tuple[Cover, ...]], ...]
    loose: LooseLinks
    plain: NDArray[np.bool_]
    speed_of_sound: float
    density: float
    time_step: float


def build_problem(scene: Scene, variant: Variant, spacing: float, grouped: tuple[Variant, ...] = ()) -> Problem:
    """The discrete problem of one variant, or of several (`grouped`) that share their geometry.

    spacing : m, longest cell edge. Cell edges are planned from all variants of the scene, so they are the same in all.
    """
    cells = build_cells(room_shape(scene, variant), spacing, room_axes(scene, spacing))
    air = scene.air
    weight, plain, mirrors, edges, loose, porosity = _links(cells, variant, air.density)
    operator = build_operator(cells, weight, plain, mirrors, edges.pairs, edges.surplus, porosity)
    pieces, regions = _pieces(cells, plain, variant, grouped or (variant,))
    step = _time_step(operator, loose, air.speed_of_sound, air.density)
    return Problem(cells, operator, pieces, regions, loose, plain, air.speed_of_sound, air.density, step)


def _links(
    cells: Cells, variant: Variant, density: float
) -> tuple[NDArray, NDArray, NDArray, EdgeTerms, LooseLinks, NDArray]:
    """Plain links' weights, which triples may use, which are walls to them, edges, loose links, porosity."""
    links = cells.links
    open_share = np.ones(len(links.area))
    extra = np.zeros(len(links.area))
    resistance = np.zeros(len(links.area))
    tightness = np.zeros(len(links.area))
    panels: list[tuple[NDArray, float, Branch]] = []
    for number, sheet in enumerate(variant.sheets):
        mine = links.sheet == number
        open_share[mine] = 1.0 if sheet.open_fraction > 0.0 else 0.0
        if sheet.open_fraction > 0.0:
            # The cells beside the sheet hold the slab's own depth of air already.
            extra[mine] = sheet.depth * (1.0 / sheet.open_fraction - 1.0)
            resistance[mine] = sheet.resistance / sheet.open_fraction
            tightness[mine] = extra[mine] / (extra[mine] + links.length[mine])
        else:
            tightness[mine] = 1.0
        if sheet.panel is not None and sheet.open_fraction < 1.0:
            panels.append((np.flatnonzero(mine), 1.0 - sheet.open_fraction, sheet.panel))
    edges = edge_terms(cells, tightness)
    factor = edges.factor
    flow, heavier, porosity = fill_shares(cells, variant.fills)
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
    loose = LooseLinks(links.cells[columns[0]], *columns[1:])
    plain = links.whole & ~edges.touched & (links.sheet < 0) & ~has_state & (np.abs(heavier - 1.0) < 1e-9)
    # Beside a free edge the mirror image at the sheet would meet the singular field: no triple there.
    at_edge = np.zeros(len(cells.volume), dtype=bool)
    at_edge[links.cells[edges.touched]] = True
    mirrors = (open_share == 0.0) & ~at_edge[links.cells].any(axis=1)
    # A panel moves: the air on both its sides is counted as half a cell each, which a triple there would change.
    for panel_rows, _, _ in panels:
        mirrors[panel_rows] = False
    return np.where(has_state, 0.0, weight), plain, mirrors, edges, loose, porosity


def _pieces(cells: Cells, plain: NDArray, variant: Variant, grouped: tuple[Variant, ...]) -> tuple[Pieces, tuple]:
    """Every wall face split among the covers of all grouped variants, like pieces of one cell added up."""
    covers = surface_covers(grouped)
    by_surface: dict[str, list[tuple[int, Cover]]] = {}
    for number, cover in enumerate(covers):
        by_surface.setdefault(cover.on, []).append((number, cover))
    faces = cells.faces
    depth, excess = _inertial_depth(cells, plain), ColumnExcess(cells)
    closed_share = np.array([_closed_share(sheet) for sheet in variant.sheets] + [1.0])
    regions: dict[tuple[str, tuple[int, ...]], int] = {}
    rows: dict[tuple[int, int, float, float], float] = {}
    for face in range(len(faces.area)):
        area = faces.area[face] * closed_share[faces.sheet[face]]
        if area <= 0.0:
            continue
        surface = cells.surfaces[faces.surface[face]]
        for key, part in overlay(faces.outline[face], area, by_surface.get(surface, ())):
            region = regions.setdefault((surface, key), len(regions))
            column, less = float(depth[face]), 0.0
            if key and covers[key[-1]].kind == "absorber":
                less = excess.of(face, covers[key[-1]], column)
            row = (int(faces.cell[face]), region, round(column, 12), round(less, 12))
            rows[row] = rows.get(row, 0.0) + part
    order = sorted(rows)
    table = np.array(order, dtype=float).reshape(-1, 4)
    pieces = Pieces(
        table[:, 0].astype(np.int64),
        np.array([rows[k] for k in order]),
        table[:, 2],
        table[:, 3],
        table[:, 1].astype(np.int64),
    )
    return pieces, tuple((surface, tuple(covers[k] for k in key)) for surface, key in regions)


def _closed_share(sheet: Sheet) -> float:
    return 0.0 if sheet.panel is not None else 1.0 - sheet.open_fraction


def _inertial_depth(cells: Cells, plain: NDArray) -> NDArray[np.float64]:
    """Depth of the air column between each cell's value and the wall, m, for the air mass in series with the wall.

    Half a cell for a plain second-order cell. Where the mirrored triple acts at the wall, a normal velocity there
    disturbs it; the discrete boundary layer that follows shifts the cell's value as if the column were
    h/sqrt(3) deep (worked out for equal cells: roots of r + 1/r = 14).
    """
    faces = cells.faces
    depth = faces.depth.copy()
    linked = np.zeros((len(cells.volume), 3), dtype=bool)
    for axis in range(3):
        mine = plain & (cells.links.axis == axis)
        linked[cells.links.cells[mine].ravel(), axis] = True
    straight = (faces.axis >= 0) & cells.regular[faces.cell]
    has_triple = straight & linked[faces.cell, np.maximum(faces.axis, 0)]
    depth[has_triple] *= 2.0 / np.sqrt(3.0)
    return depth


def _time_step(operator: Operator, loose: LooseLinks, c: float, density: float) -> float:
    """Largest stable time step, s, from the spectral radius of the plain part with the loose links' inertia.

    Lanczos' value lies below the true one by at most its residual, `LANCZOS_ERROR` of it; row sums bound it from above.
    """
    whole = with_links(operator, loose.cells, density * loose.area / loose.mass)
    rows = float(np.max(np.asarray(abs(whole.stiffness).sum(axis=1)).ravel() / whole.volume))
    scale = diags_array(1.0 / np.sqrt(whole.volume))
    start = np.random.default_rng(0).standard_normal(len(whole.volume))
    try:
        found = eigsh(
            scale @ whole.stiffness @ scale, k=1, which="LA", tol=LANCZOS_ERROR, v0=start, return_eigenvectors=False
        )
        limit = min((1.0 + LANCZOS_ERROR) * float(found[0]), rows) * c * c
    except (ArpackError, TypeError):  # no convergence, or too few cells for it
        limit = rows * c * c
    if len(loose.mass):
        limit += float(np.max(loose.stiffness / loose.mass))
    return float(TIME_STEP_MARGIN * 2.0 / np.sqrt(limit))
