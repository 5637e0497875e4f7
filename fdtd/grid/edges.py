"""Edge factors: the singular field at free edges of thin partitions and convex corners of solids, carried by links.

Around an edge with air angle alpha the pressure behaves like r^nu cos(nu theta), nu = pi/alpha (Grisvard, Elliptic
Problems in Nonsmooth Domains, ch. 4). A plain link passes too little of it, which makes the whole scheme first order.
Each link beside the edge is multiplied by (flux of that field through the link's face) / (flux that the plain link
would give from the field's values at the two cell centres), less what the fourth-order differences carry
(theory.md, eq. 4).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.grid.cells import Cells

# The four cells around an edge, counter-clockwise in the plane (u, v): offsets (du, dv).
QUADRANTS = ((1, 1), (0, 1), (0, 0), (1, 0))
SLAB = 200_000
"""Lines of the grid that are looked at together, to save memory."""

# The fourth-order differences further out already carry part of the singular field. This share of (factor - 1) is what
# then makes the scheme second order again; found by driving the error of the first singular mode of an L-shape and of a
# room with a mid partition to zero (the same to 1e-3 on four grids and two modes; tests/exact shows the order).
SHARE_WITH_FOURTH_ORDER = {3: 0.8111, 4: 0.9033}


def edge_factor(
    quarters: int, step: int, half_widths: tuple[float, float], reach: float, before: tuple, after: tuple
) -> float:
    """Factor of the link across the ray at `step` quarter turns from the start of an air sector of `quarters`.

    half_widths : m, half the cells' width on both sides of the face; reach : m, half the face's length from the edge
    before, after : (r, theta) of the two cell centres
    """
    nu = 2.0 / quarters
    flux = np.sin(nu * step * np.pi / 2) * (2.0 * reach) ** nu
    rise = before[0] ** nu * np.cos(nu * before[1]) - after[0] ** nu * np.cos(nu * after[1])
    plain = rise * 2.0 * reach / (half_widths[0] + half_widths[1])
    return float(flux / plain)


@dataclass(frozen=True)
class EdgeTerms:
    """factor : (link,) 1 away from edges; touched : (link,) links whose face touches an edge
    pairs : (pair, 2) links on either side of a thin partition, beside its free edge; surplus : (pair,) factor - 1 that
    counts for the difference of their flows only. The singular field flows in opposite directions there; a smooth
    flow along the thin partition is the same on both sides and must not meet the factor."""

    factor: NDArray[np.float64]
    touched: NDArray[np.bool_]
    pairs: NDArray[np.int64]
    surplus: NDArray[np.float64]


def edge_terms(cells: Cells, tightness: NDArray[np.float64]) -> EdgeTerms:
    """What the links beside edges need.

    tightness : (link,) how closed the way is, 1 for a closed thin partition, 0 for none; between them (a see-through
    shelf) the factor is blended, since such a thin partition acts as closed only close to its edge.
    """
    count = len(cells.links.area)
    found = _Found(np.ones(count), np.zeros(count, dtype=bool), [], [])
    table = cells.lookup()
    link_at = _link_table(cells, table)
    padded = np.pad(table, 1, constant_values=-1)
    widths = [np.diff(e) for e in cells.edges]
    for along in range(3):
        u, v = [a for a in range(3) if a != along]
        _one_direction(cells, padded, link_at, widths, (along, u, v), tightness, found)
    pairs = np.array(found.pairs, dtype=np.int64).reshape(-1, 2)
    return EdgeTerms(found.factor, found.touched, pairs, np.array(found.surplus))


@dataclass
class _Found:
    factor: NDArray
    touched: NDArray
    pairs: list[tuple[int, int]]
    surplus: list[float]


def _link_table(cells: Cells, table: NDArray) -> NDArray[np.int32]:
    """(axis, nx + 2, ny + 2, nz + 2) link from each padded grid position to the next along an axis, or -1."""
    shape = [n + 2 for n in table.shape]
    link_at = np.full([3, *shape], -1, dtype=np.int32)
    links = cells.links
    for axis in range(3):
        mine = np.flatnonzero(links.axis == axis)
        start = cells.index[links.cells[mine, 0]] + 1
        link_at[axis][tuple(start.T)] = mine
    return link_at


def _one_direction(
    cells: Cells, padded: NDArray, link_at: NDArray, widths: list, axes: tuple, tightness: NDArray, found: _Found
) -> None:
    along, u, v = axes
    shape = np.array(padded.shape) - 2
    shape[[u, v]] += 1
    interesting = np.zeros(shape, dtype=bool)
    regular, whole = np.append(cells.regular, False), np.append(cells.links.whole, False)
    tight = np.append(tightness, 1.0)
    layers = max(1, SLAB // int(shape[u] * shape[v]))
    for start in range(0, int(shape[along]), layers):
        slab = [slice(None)] * 3
        slab[along] = slice(start, min(start + layers, int(shape[along])))
        quadrant, face = _surroundings(padded, link_at, axes, slab[along])
        air = quadrant >= 0
        some = (air.sum(axis=0) >= 3) & (np.where(face >= 0, tight[face], 1.0).max(axis=0) > 0.0)
        if some.any():
            some &= np.where(air, regular[quadrant], quadrant == -1).all(axis=0)
            some &= np.where(face >= 0, whole[face], True).all(axis=0)
            interesting[tuple(slab)] = some
    for place in np.argwhere(interesting):
        corner = place + (np.arange(3) == along)  # in the padded tables
        quadrant = np.array([padded[tuple(_beside(corner, u, v, du, dv))] for du, dv in QUADRANTS])
        face = np.array([link_at[axis][tuple(_beside(corner, u, v, du, dv))] for axis, du, dv in _faces(u, v)])
        closed = np.where(face >= 0, tight[face], 1.0)
        _around(quadrant, face, closed, place, widths, axes, found)


def _faces(u: int, v: int) -> tuple[tuple[int, int, int], ...]:
    """Axis crossed and offsets of the faces between consecutive quadrants: 0-1 crosses u, 1-2 v, 2-3 u, 3-0 v."""
    return (u, 0, 1), (v, 0, 0), (u, 0, 0), (v, 1, 0)


def _beside(corner: NDArray, u: int, v: int, du: int, dv: int) -> NDArray[np.int64]:
    at = corner.copy()
    at[[u, v]] += (du, dv)
    return at


def _surroundings(padded: NDArray, link_at: NDArray, axes: tuple, part: slice) -> tuple[NDArray, NDArray]:
    """The four cells and the four faces around every line of the grid along an axis, for `part` of that axis."""
    along, u, v = axes

    def shifted(array: NDArray, du: int, dv: int) -> NDArray:
        window = [slice(1 + part.start, 1 + part.stop)] * 3
        window[u] = slice(du, padded.shape[u] - 1 + du)
        window[v] = slice(dv, padded.shape[v] - 1 + dv)
        return array[tuple(window)]

    quadrant = np.stack([shifted(padded, du, dv) for du, dv in QUADRANTS])
    return quadrant, np.stack([shifted(link_at[axis], du, dv) for axis, du, dv in _faces(u, v)])


def _around(
    quadrant: NDArray, face: NDArray, closed: NDArray, place: NDArray, widths: list, axes: tuple, found: _Found
) -> None:
    """Apply the factors around one edge: air sectors of 3 or 4 quarters between closed faces."""
    _, u, v = axes
    size = {0: (widths[u], place[u]), 1: (widths[v], place[v])}

    def width(q: int, axis: int) -> float:
        array, at = size[axis]
        return float(array[at - 1 + QUADRANTS[q][axis]])

    barriers = [k for k in range(4) if closed[k] > 0.0]
    for number, barrier in enumerate(barriers):
        following = barriers[(number + 1) % len(barriers)]
        quarters = (following - barrier) % 4 or 4
        members = [(barrier + 1 + n) % 4 for n in range(quarters)]
        if quarters < 3 or any(quadrant[q] < 0 for q in members):
            continue
        strength = min(closed[barrier], closed[following]) * SHARE_WITH_FOURTH_ORDER[quarters]
        surplus: dict[int, float] = {}
        for step in range(1, quarters):
            k = (barrier + step) % 4
            before, after = members[step - 1], members[step]
            across = 0 if k % 2 == 0 else 1
            polar = []
            for q, turn in ((before, step - 1), (after, step)):
                normal, reach = 0.5 * width(q, across), 0.5 * width(q, 1 - across)
                tilt = np.arctan2(normal, reach)
                theta = step * np.pi / 2 + (tilt if turn == step else -tilt)
                polar.append((float(np.hypot(normal, reach)), theta))
            halves = (0.5 * width(before, across), 0.5 * width(after, across))
            value = edge_factor(quarters, step, halves, 0.5 * width(before, 1 - across), polar[0], polar[1])
            surplus[int(face[k])] = strength * (value - 1.0)
        links = list(surplus)
        found.touched[links] = True
        if quarters == 4:
            found.pairs.append((links[0], links[2]))
            found.surplus.append(0.5 * (surplus[links[0]] + surplus[links[2]]))
            links = links[1:2]
        for link in links:
            found.factor[link] *= 1.0 + surplus[link]
