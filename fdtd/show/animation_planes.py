"""Colours of a plane in every picture of an animation: from values of cells to pixels."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib import colormaps
from numpy.typing import NDArray

from fdtd.listening.animation import Plane
from fdtd.show.plane_field import Air, Picture

SHADES = 256


def shades(name: str) -> NDArray[np.uint8]:
    """(256, 3) colours of the map `name`."""
    return (255.0 * colormaps[name](np.linspace(0.0, 1.0, SHADES))[:, :3] + 0.5).astype(np.uint8)


class PlanePixels:
    """The pixels of one panel: values stand at the middles of the cells and run smoothly between them."""

    def __init__(
        self, plane: Plane, air: Air, limits: tuple[float, float, float, float], size: tuple[int, int]
    ) -> None:
        """limits : left, right, bottom, top of the panel, m; size : its width and height, pixels."""
        left, right, bottom, top = limits
        wide, high = self.size = size
        across = left + (np.arange(wide) + 0.5) / wide * (right - left)
        up = bottom + (np.arange(high) + 0.5) / high * (top - bottom)
        self.plane, self.picture = plane, Picture(air, across, up)

    def colours(self, values: NDArray[np.float32], low: float, high: float, table: NDArray[np.uint8]) -> Any:
        """(height, width, 3) uint8 of `values` (cell,) on the scale from `low` to `high`."""
        shown = self.picture(self.plane.grid(values)).T[::-1]
        step = (shown - low) * (SHADES / (high - low))
        return table[np.clip(step, 0, SHADES - 1).astype(np.uint8)]
