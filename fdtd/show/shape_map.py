"""A mode shape on a plane through the room: smooth signed colours, lines of equal pressure, nodal lines.

Sheets are cuts in the field: the pressure jumps across a closed one, and that jump is no nodal line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.patches import PathPatch
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import distance_transform_edt

from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene, Variant
from fdtd.show.geometry import View
from fdtd.show.slices import cell_slice, layer_at
from fdtd.show.style import look
from fdtd.show.things import room_path

Real = NDArray[np.float64]

FINER = 5
"""Points drawn for each cell, each way."""
QUIET = 0.05
"""Share of the peak below which a plane as a whole is called silent: nodal lines in it would mean nothing."""
LEVELS = (-0.75, -0.5, -0.25, 0.25, 0.5, 0.75)
"""Thin lines of equal pressure."""


@dataclass(frozen=True)
class Patch:
    """A piece of the plane between sheets: u, v : (n,), (m,) m; values : (n, m) pressure relative to the peak."""

    u: Real
    v: Real
    values: Real


def shape_patches(cells: CellGrid, shape: Real, variant: Variant, view: View) -> list[Patch]:
    """The field on the plane in smooth pieces that end at sheets; it goes on evenly where there is no air.

    shape : (cell,) with its peak at 1
    """
    plane = _plane(cells, shape, variant, view)
    known = np.isfinite(plane)
    if not known.any():
        return []
    nearest = distance_transform_edt(~known, return_distances=False, return_indices=True)
    filled = plane[tuple(nearest)]
    first, second = (cells.edges[axis] for axis in view.axes)
    patches = []
    for i0, i1 in _pieces(first, variant, view.axes[0]):
        for j0, j1 in _pieces(second, variant, view.axes[1]):
            inner = (i0 > 0, i1 < len(first) - 1, j0 > 0, j1 < len(second) - 1)
            patches.append(_smooth(first[i0 : i1 + 1], second[j0 : j1 + 1], filled[i0:i1, j0:j1], inner))
    return patches


def quiet(patches: list[Patch]) -> bool:
    """Whether the whole plane is nearly silent."""
    return max((float(np.abs(p.values).max()) for p in patches), default=0.0) < QUIET


def draw_shape(axes: Any, scene: Scene, view: View, patches: list[Patch], thin: bool = True) -> Any:
    """Draw the pieces clipped to the room; returns the last image, for a colour bar. thin : lines of equal pressure."""
    image = None
    clip = PathPatch(room_path(scene, view), transform=axes.transData)
    silent = quiet(patches)
    for patch in patches:
        image = axes.pcolormesh(
            patch.u, patch.v, patch.values.T, cmap=look().signed_colours, vmin=-1, vmax=1, shading="gouraud",
            rasterized=True, zorder=1,
        )  # fmt: skip
        image.set_clip_path(clip)
        if thin:
            _contour(axes, patch, LEVELS, clip, colors=look().ink, linewidths=0.3, alpha=0.35, linestyles="solid")
        if not silent:
            _contour(axes, patch, (0.0,), clip, colors=look().ink, linewidths=1.3, linestyles="solid")
    return image


def _contour(axes: Any, patch: Patch, levels: tuple[float, ...], clip: PathPatch, **line: Any) -> None:
    low, high = float(patch.values.min()), float(patch.values.max())
    inside = [level for level in levels if low < level < high]
    if inside:
        axes.contour(patch.u, patch.v, patch.values.T, levels=inside, zorder=2, **line).set_clip_path(clip)


def _plane(cells: CellGrid, shape: Real, variant: Variant, view: View) -> Real:
    """(n, m) real: between the middles of the two layers of cells next to the plane, NaN where there is no air."""
    axis, at = view.normal, view.position
    edges = cells.edges[axis]
    here = layer_at(cells, axis, at)
    own = np.real(cell_slice(cells, shape, axis, at))
    middle = 0.5 * (edges[1:] + edges[:-1])
    other = here + (1 if at >= middle[here] else -1)
    wall = max(edges[here], edges[other]) if 0 <= other < len(middle) else at
    if not 0 <= other < len(middle) or any(s.axis == axis and abs(s.position - wall) < 1e-6 for s in variant.sheets):
        return np.asarray(own)
    beyond = np.real(cell_slice(cells, shape, axis, float(middle[other])))
    part = (at - middle[here]) / (middle[other] - middle[here])
    return np.where(np.isfinite(beyond), own + part * (beyond - own), own)


def _pieces(edges: Real, variant: Variant, axis: int) -> list[tuple[int, int]]:
    """Ranges of cells along `axis` between the planes of sheets."""
    at = {int(np.argmin(np.abs(edges - s.position))) for s in variant.sheets if s.axis == axis}
    cuts = sorted({0, len(edges) - 1} | at)
    return list(zip(cuts[:-1], cuts[1:], strict=True))


def _smooth(first: Real, second: Real, values: Real, inner: tuple[bool, bool, bool, bool]) -> Patch:
    """Finer values up to the ends of the piece; inner : which of its four ends lie at a sheet and not at a wall."""
    u, values = _to_ends(first, values, inner[:2])
    v, values = _to_ends(second, values.T, inner[2:])
    values = values.T
    fine = [np.linspace(e[0], e[-1], max(FINER * (len(e) - 1) + 1, 2)) for e in (u, v)]
    # Monotone cubics: smooth, and no overshoot where the air ends.
    values = PchipInterpolator(v, PchipInterpolator(u, values, axis=0)(fine[0]), axis=1)(fine[1])
    return Patch(fine[0], fine[1], np.clip(values, -1.0, 1.0))


def _to_ends(edges: Real, values: Real, inner: tuple[bool, bool]) -> tuple[Real, Real]:
    """Middles of cells and both ends of their row: level at a wall, straight on at a sheet (which may have a gap)."""
    middle = 0.5 * (edges[1:] + edges[:-1])
    ends = [values[0], values[-1]]
    if len(middle) > 1:
        for k, (end, a, b) in enumerate(((edges[0], 0, 1), (edges[-1], -1, -2))):
            if inner[k]:
                ends[k] = values[a] + (end - middle[a]) / (middle[b] - middle[a]) * (values[b] - values[a])
    return np.array([edges[0], *middle, edges[-1]]), np.vstack([ends[0], values, ends[1]])
