"""A rectangular room as a sum of its modes: matrices for the placement search with known best and worst spots.

G(f; x, y) = (rho c²/V) j omega sum_n phi_n(x) phi_n(y) / (omega_n² - omega² + 2 j delta omega), phi_n normalised to a
mean square of 1 (Kuttruff, Room Acoustics, ch. 3); every mode decays at the same rate delta.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import ArrayLike, NDArray

DENSITY, SPEED = 1.2, 343.0


def transfer(
    frequency: NDArray[np.float64],
    size: tuple[float, float, float],
    first: ArrayLike,
    second: ArrayLike,
    delta: float = 4.0,
    top: float = 260.0,
    orders: list[tuple[int, int, int]] | None = None,
) -> NDArray[np.complex128]:
    """(frequency, first, second) Pa/(m³/s); first, second : (point, 3) m; orders : modes to sum, all up to `top` Hz."""
    a, b = np.atleast_2d(first), np.atleast_2d(second)
    if orders is None:
        most = [int(2 * top * length / SPEED) + 1 for length in size]
        orders = [n for n in product(*(range(m + 1) for m in most)) if natural(n, size) <= top]
    omega = 2 * np.pi * frequency
    total = np.zeros((len(frequency), len(a), len(b)), dtype=complex)
    for n in orders:
        of_mode = 2 * np.pi * natural(n, size)
        resonance = 1j * omega / (of_mode**2 - omega**2 + 2j * delta * omega)
        total += resonance[:, None, None] * np.outer(shape(n, size, a), shape(n, size, b))
    return DENSITY * SPEED**2 / np.prod(size) * total


def natural(order: tuple[int, ...], size: tuple[float, float, float]) -> float:
    """Hz."""
    return SPEED / 2 * float(np.sqrt(sum((n / length) ** 2 for n, length in zip(order, size, strict=True))))


def shape(order: tuple[int, ...], size: tuple[float, float, float], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(point,) mode shape with a mean square of 1 over the room."""
    parts = [
        (np.sqrt(2.0) if n else 1.0) * np.cos(n * np.pi * points[:, axis] / length)
        for axis, (n, length) in enumerate(zip(order, size, strict=True))
    ]
    return np.prod(parts, axis=0)
