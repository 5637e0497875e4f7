"""The loudest separate spots on floor and walls, and where such a spot is in words."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from fdtd.analysis.mode_shapes import Loudest
from fdtd.model.problem import Problem
from fdtd.results.placement_record import LoudSpot
from fdtd.scene.schema import Source

SPOTS = 10
APART = 0.8
"""m between spots that count as separate, in space and seen from above."""
SAME = 1.5
"""dB below a spot down to which the surface around it belongs to it."""
BESIDE = 0.6
"""m from a loudspeaker within which its own near field counts."""
NEARLY = 1.0
"""dB below the loudest place of a mode that is named with it."""
MOST_OF = 0.8
"""Share of a wall or of a height that is called all of it."""


def loudest_spots(
    sources: tuple[Source, ...],
    problem: Problem,
    level: NDArray[np.float64],
    cell: NDArray[np.int64],
    names: tuple[str, ...],
) -> tuple[LoudSpot, ...]:
    """Maxima over the boundary cells, loudest first, as a person walking round with a meter would list them.

    level : (cell of the room,) dB; cell, names : (row,) each boundary cell, once for each surface that it touches
    """
    meeting: dict[int, list[str]] = {}
    for c, name in zip(cell.tolist(), names, strict=True):
        meeting.setdefault(c, []).append(name)
    cells = np.array(list(meeting))
    centre, loud = problem.cells.centre[cells], np.round(level[cells], 2)
    near = cKDTree(centre).query_ball_point(centre, APART)
    peak = np.array([loud[k] >= max(loud[other] for other in near[k]) for k in range(len(cells))])
    free = np.ones(len(cells), dtype=bool)
    found: list[LoudSpot] = []
    # Lowest first among equals: a meter is held there most easily.
    for k in np.lexsort((centre[:, 2], -loud)).tolist():
        if len(found) == SPOTS or not (peak[k] and free[k]):
            continue
        region = _region(problem, cells, loud >= loud[k] - SAME, k)
        around = cKDTree(centre[region, :2]).query(centre[:, :2])[0] < APART
        free &= ~around
        mine = meeting[int(cells[k])]
        covered = _walls_covered(meeting, cells, region)
        x, y, z = (float(v) for v in centre[k])
        beside = [s.name for s in sources if np.linalg.norm(np.subtract(s.at, centre[k])) < BESIDE]
        found.append(
            LoudSpot(
                (x, y, z),
                float(level[cells[k]]),
                tuple(mine),
                tuple(name for name in mine if name in covered),
                _height(centre, region, k),
                beside[0] if beside else "",
            )
        )
    return tuple(found)


def _region(problem: Problem, cells: NDArray[np.int64], loud: NDArray[np.bool_], start: int) -> NDArray[np.bool_]:
    """(boundary cell,) those joined to the one at `start` through boundary cells that are as loud."""
    row = np.full(len(problem.cells.volume), -1)
    row[cells[loud]] = np.flatnonzero(loud)
    pair = row[problem.cells.links.cells]
    pair = pair[(pair >= 0).all(axis=1)]
    graph = coo_array((np.ones(len(pair)), (pair[:, 0], pair[:, 1])), shape=(len(cells), len(cells)))
    _, label = connected_components(graph, directed=False)
    return np.asarray(label == label[start])


def _walls_covered(meeting: dict[int, list[str]], cells: NDArray[np.int64], region: NDArray[np.bool_]) -> list[str]:
    """Walls of which most lies in the region."""
    whole: dict[str, int] = {}
    inside: dict[str, int] = {}
    for c, belongs in zip(cells.tolist(), region.tolist(), strict=True):
        for name in meeting[c]:
            whole[name] = whole.get(name, 0) + 1
            inside[name] = inside.get(name, 0) + belongs
    return [name for name in whole if name.startswith("wall ") and inside[name] >= MOST_OF * whole[name]]


def _height(centre: NDArray[np.float64], region: NDArray[np.bool_], k: int) -> bool:
    """Whether the region holds most of the boundary cells above and below cell `k`."""
    column = (np.abs(centre[:, :2] - centre[k, :2]) < 1e-6).all(axis=1)
    return bool(column.sum() > 3 and region[column].mean() >= MOST_OF)


def loudest_places(problem: Problem, pressure: NDArray[np.float64]) -> Loudest:
    """Where a mode is loudest along floor and walls, or all over the floor or the ceiling; pressure : (cell,), any
    unit."""
    faces, surfaces = problem.cells.faces, problem.cells.surfaces
    size = np.abs(pressure)
    covered = tuple(name for name in ("floor", "ceiling") if _covers(problem, size, name))
    if covered:
        return Loudest(covered)
    asked = np.array([name == "floor" or name.startswith("wall ") for name in surfaces])
    rows = np.unique(np.column_stack([faces.cell, faces.surface])[asked[faces.surface]], axis=0)
    level = 20.0 * np.log10(np.maximum(size, 1e-6 * size.max()) / size.max())
    spots = loudest_spots((), problem, level, rows[:, 0], tuple(surfaces[k] for k in rows[:, 1]))
    loud = [spot for spot in spots if spot.level >= spots[0].level - NEARLY]
    whole = tuple(sorted({name for spot in loud for name in spot.whole}))
    return Loudest(whole, tuple(spot for spot in loud if not spot.whole))


def _covers(problem: Problem, size: NDArray[np.float64], name: str) -> bool:
    """Whether a mode is nearly as loud as anywhere over most of a surface."""
    faces = problem.cells.faces
    if name not in problem.cells.surfaces:
        return False
    mine = faces.surface == problem.cells.surfaces.index(name)
    loud = size[faces.cell[mine]] >= 10.0 ** (-NEARLY / 20.0) * size.max()
    return bool(faces.area[mine] @ loud >= MOST_OF * faces.area[mine].sum())
