"""The climate that every test runs in: repeatable, without a screen, and with numerical faults as errors."""

from __future__ import annotations

import os
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import settings

os.environ["MPLBACKEND"] = "Agg"

# Examples are drawn the same way every time, so that a failure can be repeated; machines may be slow.
settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")


@pytest.fixture(autouse=True)
def numerical_faults_raise() -> Iterator[None]:
    """0/0, 1/0 and the like in NumPy fail the test instead of spreading NaN."""
    with np.errstate(divide="raise", invalid="raise"):
        yield
