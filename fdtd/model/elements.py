"""Wall faces split among what lies on them: the surface itself, patches, absorbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.grid.cells import Cells
from fdtd.model.overlay import Cover, overlay
from fdtd.model.piston import ColumnExcess
from fdtd.model.rooms import surface_covers
from fdtd.scene.schema import ThinPartition, Variant


@dataclass(frozen=True)
class Elements:
    """Wall faces split among what covers them: cell (element,), area m², depth m (air column to the wall, in terms of
    inertia), excess m (to be taken off it in excitations where an absorber moves there), region (element,) into
    `Problem.regions`."""

    cell: NDArray[np.int64]
    area: NDArray[np.float64]
    depth: NDArray[np.float64]
    excess: NDArray[np.float64]
    region: NDArray[np.int64]


Regions = tuple[tuple[str, tuple[Cover, ...]], ...]
Key = tuple[str, tuple[int, ...]]
"""A surface and the numbers of the covers over it, bottom first."""


def wall_elements(
    cells: Cells, plain: NDArray[np.bool_], variant: Variant, grouped: tuple[Variant, ...]
) -> tuple[Elements, Regions]:
    """Every wall face split among the covers of all grouped variants, like elements of one cell added up; the regions.

    plain : (link,) links that a fourth-order difference may use.
    """
    covers, faces = surface_covers(grouped), cells.faces
    closed_share = np.array([_closed_share(thin_partition) for thin_partition in variant.thin_partitions] + [1.0])
    area = faces.area * closed_share[faces.thin_partition]
    depth = _inertial_depth(cells, plain)
    covered = np.isin(faces.surface, [n for n, name in enumerate(cells.surfaces) if any(c.on == name for c in covers)])
    untreated = np.flatnonzero((area > 0.0) & ~covered)
    split = _split(cells, covers, area, depth, np.flatnonzero((area > 0.0) & covered))
    # Regions are numbered in the order of the faces.
    first: dict[Key, int] = {}
    for n, at in zip(*_firsts(faces.surface[untreated], untreated), strict=True):
        first[cells.surfaces[n], ()] = int(at)
    for region, at in zip(split.region, split.face, strict=True):
        first.setdefault(region, at)
    number = {region: n for n, region in enumerate(sorted(first, key=lambda region: first[region]))}
    of_untreated = np.array([number.get((name, ()), -1) for name in cells.surfaces], dtype=np.int64)[
        faces.surface[untreated]
    ]
    of_split = np.array([number[region] for region in split.region], dtype=np.int64)
    face = np.concatenate([untreated, np.array(split.face, dtype=np.int64)])
    columns = [
        faces.cell[face],
        np.concatenate([of_untreated, of_split]),
        _rounded(depth[face]),
        _rounded(np.concatenate([np.zeros(len(untreated)), split.excess])),
    ]
    parts = np.concatenate([area[untreated], split.area])
    in_order = np.argsort(face, kind="stable")
    elements = _added_up([column[in_order] for column in columns], parts[in_order])
    return elements, tuple((surface, tuple(covers[k] for k in key)) for surface, key in number)


@dataclass(frozen=True)
class _Split:
    """Parts of faces under covers, by face: region (surface, numbers of the covers), excess m, area m²."""

    face: list[int]
    region: list[Key]
    excess: list[float]
    area: list[float]


def _split(cells: Cells, covers: tuple[Cover, ...], area: NDArray, depth: NDArray, chosen: NDArray) -> _Split:
    by_surface: dict[str, list[tuple[int, Cover]]] = {}
    for number, cover in enumerate(covers):
        by_surface.setdefault(cover.on, []).append((number, cover))
    excess, found = ColumnExcess(cells), _Split([], [], [], [])
    for face in chosen.tolist():
        surface = cells.surfaces[cells.faces.surface[face]]
        for key, part in overlay(cells.faces.outline[face], float(area[face]), by_surface[surface]):
            less = 0.0
            if key and covers[key[-1]].kind == "absorber":
                less = excess.of(face, covers[key[-1]], float(depth[face]))
            found.face.append(face)
            found.region.append((surface, key))
            found.excess.append(less)
            found.area.append(part)
    return found


def _firsts(values: NDArray, places: NDArray) -> tuple[NDArray, NDArray]:
    """Every distinct value with the place where it comes first."""
    distinct, at = np.unique(values, return_index=True)
    return distinct, places[at]


def _rounded(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """To 1e-12, correctly rounded, so that what is alike is equal."""
    distinct, which = np.unique(values, return_inverse=True)
    return np.array([round(value, 12) for value in distinct.tolist()])[which]


def _added_up(columns: list[NDArray], area: NDArray[np.float64]) -> Elements:
    """Pieces sorted by cell, region, depth and excess; those that agree in all four are one."""
    order = np.lexsort(columns[::-1])
    columns = [column[order] for column in columns]
    new = np.ones(len(order), dtype=bool)
    new[1:] = np.any([column[1:] != column[:-1] for column in columns], axis=0)
    where = np.empty(len(order), dtype=np.int64)
    where[order] = np.cumsum(new) - 1
    cell, region, depth, excess = (column[new] for column in columns)
    total: NDArray[np.float64] = np.asarray(np.bincount(where, area, len(cell)), dtype=float)
    return Elements(cell, total, depth, excess, region)


def _closed_share(thin_partition: ThinPartition) -> float:
    return 0.0 if thin_partition.panel is not None else 1.0 - thin_partition.open_fraction


def _inertial_depth(cells: Cells, plain: NDArray) -> NDArray[np.float64]:
    """Depth of the air column between each cell's value and the wall, m, for the air mass in series with the wall
    (theory.md, eq. 14).

    Half a cell for a plain second-order cell. Where the mirrored fourth-order difference acts at the wall, a normal
    velocity there disturbs it; the discrete boundary layer that follows shifts the cell's value as if the column were
    h/sqrt(3) deep (worked out for equal cells: roots of r + 1/r = 14).
    """
    faces = cells.faces
    depth = faces.depth.copy()
    linked = np.zeros((len(cells.volume), 3), dtype=bool)
    for axis in range(3):
        mine = plain & (cells.links.axis == axis)
        linked[cells.links.cells[mine].ravel(), axis] = True
    straight = (faces.axis >= 0) & cells.regular[faces.cell]
    has_fourth_order = straight & linked[faces.cell, np.maximum(faces.axis, 0)]
    depth[has_fourth_order] *= 2.0 / np.sqrt(3.0)
    return depth
