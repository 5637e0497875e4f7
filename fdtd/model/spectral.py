"""The largest eigenvalue of a large symmetric operator with three vectors' memory."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh_tridiagonal

MOST_STEPS = 300
LOOK_EVERY = 5
"""Steps between two looks at the error."""


def largest_eigenvalue(
    apply: Callable[[NDArray[np.float64]], NDArray[np.float64]], start: NDArray[np.float64], error: float
) -> float | None:
    """Largest eigenvalue to a relative residual of `error`, from below; None if that is not reached.

    Lanczos' recurrence without reorthogonalization: lost orthogonality only repeats eigenvalues that have been found,
    which does no harm to the largest. Source: Cullum and Willoughby, Lanczos Algorithms for Large Symmetric Eigenvalue
    Computations, vol. 1 (1985), ch. 4.
    """
    vector, before = start / np.linalg.norm(start), np.zeros_like(start)
    diagonal: list[float] = []
    beside: list[float] = []
    for step in range(1, MOST_STEPS + 1):
        image = apply(vector)
        diagonal.append(float(vector @ image))
        image -= diagonal[-1] * vector
        if beside:
            image -= beside[-1] * before
        beside.append(float(np.linalg.norm(image)))
        if step % LOOK_EVERY == 0 or beside[-1] == 0.0:
            last = (step - 1, step - 1)
            value, shape = eigh_tridiagonal(np.array(diagonal), np.array(beside[:-1]), select="i", select_range=last)
            if beside[-1] * abs(shape[-1, 0]) <= error * value[0]:
                return float(value[0])
        before, vector = vector, image
        vector /= beside[-1]
    return None
