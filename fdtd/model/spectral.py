"""The largest eigenvalue of a symmetric operator, with three vectors' memory, to an error that does not hang on luck.

A small residual only says that *some* eigenvalue is near: where the largest one belongs to a few cells, and thousands
of cells share the next, the second is met first, with as small a residual as one likes. So the number of steps is set
beforehand, by a bound that holds for any operator and a random start.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh_tridiagonal

UNLIKELY = 1e-6
"""Greatest probability, over the random start and whatever the operator, that the error is larger than asked."""


def steps_needed(count: int, error: float) -> int:
    """Lanczos steps after which the largest eigenvalue of `count` is found to a relative `error`, but for `UNLIKELY`.

    Source: Kuczyński and Woźniakowski, Estimating the largest eigenvalue by the power and Lanczos algorithms with a
    random start, SIAM J. Matrix Anal. Appl. 13 (1992), theorem 4.2: the error of k steps on a positive semi-definite
    matrix of order n exceeds e with a probability of at most 1.648 sqrt(n) exp(-sqrt(e) (2 k - 1)).
    """
    odds = np.log(1.648 * np.sqrt(count) / UNLIKELY)
    return int(np.ceil(0.5 * (1.0 + odds / np.sqrt(error))))


def largest_eigenvalue(
    apply: Callable[[NDArray[np.float64]], NDArray[np.float64]], start: NDArray[np.float64], error: float
) -> float:
    """Largest eigenvalue of a symmetric, positive semi-definite operator, from below, to a relative `error`.

    start : (row,) random, normally distributed, so that no direction is preferred.
    Lanczos' recurrence without reorthogonalization: lost orthogonality only repeats eigenvalues that have been found,
    which does no harm to the largest. Source: Cullum and Willoughby, Lanczos Algorithms for Large Symmetric Eigenvalue
    Computations, vol. 1 (1985), ch. 4.
    """
    vector, before = start / np.linalg.norm(start), np.zeros_like(start)
    diagonal: list[float] = []
    beside: list[float] = []
    for _ in range(steps_needed(len(start), error)):
        image = apply(vector)
        diagonal.append(float(vector @ image))
        image -= diagonal[-1] * vector
        if beside:
            image -= beside[-1] * before
        beside.append(float(np.linalg.norm(image)))
        if beside[-1] == 0.0:
            break
        before, vector = vector, image
        vector /= beside[-1]
    last = (len(diagonal) - 1, len(diagonal) - 1)
    values = eigh_tridiagonal(
        np.array(diagonal), np.array(beside[:-1]), eigvals_only=True, select="i", select_range=last
    )
    return float(values[0])
