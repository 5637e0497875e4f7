"""Colours of a plane in every picture of a film: from values of cells to pixels, by two small matrix products."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib import colormaps
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from fdtd.listening.film import Plane

SHADES = 256


def shades(name: str) -> NDArray[np.uint8]:
    """(256, 3) colours of the map `name`."""
    return (255.0 * colormaps[name](np.linspace(0.0, 1.0, SHADES))[:, :3] + 0.5).astype(np.uint8)


class PlanePixels:
    """The pixels of one panel.

    Values stand at the middles of the cells and run linearly between them; beyond the outermost ones, and where there
    is no air, the nearest one counts.
    """

    def __init__(
        self, plane: Plane, limits: tuple[float, float, float, float], size: tuple[int, int]
    ) -> None:
        """limits : left, right, bottom, top of the panel, m; size : its width and height, pixels."""
        air = plane.grid(np.ones(len(plane.place), np.float32))
        number = np.full(air.size, 0, dtype=np.int64)
        number[plane.place] = np.arange(len(plane.place))
        nearest = distance_transform_edt(np.isnan(air), return_distances=False, return_indices=True)
        self.take = number.reshape(air.shape)[tuple(nearest)]
        left, right, bottom, top = limits
        wide, high = size
        across = left + (np.arange(wide) + 0.5) / wide * (right - left)
        up = top - (np.arange(high) + 0.5) / high * (top - bottom)
        self.across = _between(plane.edges[0], across)
        self.up = _between(plane.edges[1], up)

    def colours(self, values: NDArray[np.float32], low: float, high: float, table: NDArray[np.uint8]) -> Any:
        """(height, width, 3) uint8 of `values` (cell,) on the scale from `low` to `high`."""
        shown = self.up @ (values[self.take].T @ self.across.T)
        step = (shown - low) * (SHADES / (high - low))
        return table[np.clip(step, 0, SHADES - 1).astype(np.uint8)]


def _between(edges: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[np.float32]:
    """(pixel, cell) weights of linear interpolation between the middles of cells."""
    middle = 0.5 * (edges[1:] + edges[:-1])
    unit = np.eye(len(middle))
    return np.stack([np.interp(at, middle, row) for row in unit], axis=1).astype(np.float32)
