"""Arrays that begin with a cache line, so that whole vectors of numbers do not straddle two lines more than need be."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

CACHE_LINE = 64
"""Bytes."""


def aligned_zeros(shape: tuple[int, ...], real: type) -> NDArray[np.floating]:
    """Zeros of type `real`, the first at a multiple of `CACHE_LINE`."""
    count, item = int(np.prod(shape)), np.dtype(real).itemsize
    room: NDArray[np.floating] = np.zeros(count + CACHE_LINE // item, real)
    skip = (-room.ctypes.data % CACHE_LINE) // item
    return room[skip : skip + count].reshape(shape)
