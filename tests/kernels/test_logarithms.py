"""Logarithms on whole vectors, against NumPy's."""

from __future__ import annotations

import numpy as np

from fdtd.kernels.designs import _logarithms


def test_logarithms_of_all_sizes_equal_numpys():
    """Sizes from the smallest normal number to the largest, and close to 1, where the result nears zero."""
    draw = np.random.default_rng(1)
    wide = np.exp(draw.uniform(-700.0, 700.0, 4000))
    near = 1.0 + draw.uniform(-1e-3, 1e-3, 1000)
    ends = [np.finfo(float).tiny, 0.5, np.sqrt(0.5), 1.0, np.sqrt(2.0), 2.0, np.finfo(float).max]
    values = np.concatenate([wide, near, ends])
    out = np.empty_like(values)
    _logarithms(values, out, np.empty_like(values))
    wanted = np.log(values)
    assert np.all(np.abs(out - wanted) <= 4 * np.spacing(np.abs(wanted)) + 1e-300)
