"""Whether a room's cells are too many for this machine's memory, or too thin: told before they are made."""

from __future__ import annotations

import math
import os
from collections.abc import Callable

import numpy as np
from shapely.geometry import Polygon

from fdtd.errors import FdtdError
from fdtd.grid.axes import Axis
from fdtd.grid.shape import AXIS_NAMES, RoomShape

ROOM_BYTES = 480
"""Bytes a cell at the height of cutting a room, as measured (benchmarks/memory.py)."""
USUAL_MEMORY = 64e9
"""Bytes, where the system does not tell how much memory it has."""
THINNEST = 0.001
"""m; the time step falls with the thinnest cell, and a simulation over thinner ones would take days."""
LARGER = 1.1
"""Factor from one cell size that is tried to the next."""

Axes = tuple[Axis, Axis, Axis]


def machine_memory() -> float:
    """Bytes of this machine's memory."""
    try:
        return float(os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES"))
    except (AttributeError, OSError, ValueError):
        return USUAL_MEMORY


def checked_axes(shape: RoomShape, axes_at: Callable[[float], Axes], spacing: float) -> Axes:
    """The cell edges for the longest cell edge `spacing` (m), `axes_at(spacing)`.

    Raises FdtdError if the cells between them don't fit into this machine's memory, or are thinner than 1 mm.
    """
    axes, there = axes_at(spacing), machine_memory()
    needed = _cells(shape, axes) * ROOM_BYTES
    if needed > there:
        larger = spacing
        while larger < 1.0 and _cells(shape, axes_at(larger)) * ROOM_BYTES > there:
            larger = math.ceil(100.0 * LARGER * larger) / 100.0
        extent = " × ".join(f"{axis.edges[-1] - axis.edges[0]:.4g}" for axis in axes)
        raise FdtdError(
            f"cells of {spacing:g} m: this room, {extent} m, would have about {_rounded(_cells(shape, axes))} of them "
            f"and need {_rounded(needed / 1e9)} GB of memory, and this machine has {_rounded(there / 1e9)} GB; choose "
            f"larger cells, about {larger:.2g} m (--grid, or grid under [run]), or correct the room if it is smaller"
        )
    for name, axis in zip(AXIS_NAMES, axes, strict=True):
        k = int(np.argmin(np.diff(axis.edges)))
        low, high = axis.edges[k : k + 2]
        if high - low < THINNEST:
            raise FdtdError(
                f"thin partitions or walls at {name} = {low:.10g} m and {high:.10g} m are only {high - low:.2g} m "
                "apart; move "
                f"them into one plane, or at least {THINNEST:g} m apart"
            )
    return axes


def _cells(shape: RoomShape, axes: Axes) -> float:
    """Number of cells, as if the room were as high as its highest point everywhere."""
    length, width = (float(axis.edges[-1] - axis.edges[0]) for axis in axes[:2])
    return Polygon(shape.plan).area / (length * width) * math.prod(len(axis.edges) - 1 for axis in axes)


def _rounded(value: float) -> str:
    """To two digits, written out: 25,000,000 or 0.06."""
    short = float(f"{value:.2g}")
    return f"{short:,.0f}" if short >= 10.0 else f"{short:g}"
