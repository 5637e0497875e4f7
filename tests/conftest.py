"""The climate that every test runs in: repeatable, without a screen, and with numerical faults as errors."""

from __future__ import annotations

import os
from collections.abc import Iterator

os.environ["MPLBACKEND"] = "Agg"
# As the command line does, before NumPy is loaded: threads inside small products only get in each other's way.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np  # noqa: E402
import pytest  # noqa: E402
from hypothesis import settings  # noqa: E402

# Examples are drawn the same way every time, so that a failure can be repeated; machines may be slow.
settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")


@pytest.fixture(autouse=True)
def numerical_faults_raise() -> Iterator[None]:
    """0/0, 1/0 and the like in NumPy fail the test instead of spreading NaN."""
    with np.errstate(divide="raise", invalid="raise"):
        yield
