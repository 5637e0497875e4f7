"""A room divided by a thin partition with a gap at one wall: the free edge of a thin partition, an r^(1/2) field.

Set-up: 6 x 4 m, zero-thickness rigid partition at x = 3 m from y = 0 to 3 m, one cell high.
Exact: antisymmetric modes 16.3643, 47.0183, 62.361 Hz, by the method of particular solutions with the edge's own field
(recomputed, no published table found; digits as given). Modes symmetric about the partition: (c/2) sqrt((2m/L)² +
(n/b)²).
Expected error: first order with plain links next to the edge (about 1 % at h = 0.1 m); second order with the edge
factors.
Tolerance: 0.1 % is the claim at h = 0.1 m; 0.01 % is checked for the antisymmetric modes (reached: 0.0024 %).
"""

from __future__ import annotations

import numpy as np
import pytest
from rooms import SPEED, box_plan, closed_thin_partition, make_scene, mode_frequencies, no_edge_terms, observed_order

import fdtd.model.problem

ANTISYMMETRIC = np.array([16.3643, 47.0183, 62.361])


def relative_errors(spacing: float) -> np.ndarray:
    """Relative errors of the three antisymmetric modes."""
    thin_partition = closed_thin_partition("partition", 0, 3.0, (0.0, 0.0), (3.0, spacing))
    found = mode_frequencies(make_scene(box_plan(6.0, 4.0), spacing, thin_partitions=[thin_partition]), spacing, 8)
    nearest = np.array([found[np.argmin(np.abs(found - f))] for f in ANTISYMMETRIC])
    return nearest / ANTISYMMETRIC - 1.0


def test_frequencies_at_10_cm() -> None:
    assert np.abs(relative_errors(0.1)).max() < 1e-4


def test_symmetric_modes_do_not_notice_the_partition() -> None:
    # Next to the thin partition the scheme is second order only, so these are a little less exact than those of a
    # untreated box.
    thin_partition = closed_thin_partition("partition", 0, 3.0, (0.0, 0.0), (3.0, 0.1))
    found = mode_frequencies(make_scene(box_plan(6.0, 4.0), 0.1, thin_partitions=[thin_partition]), 0.1, 8)
    for m, n in ((0, 1), (1, 0), (1, 1)):
        value = 0.5 * SPEED * np.hypot(2 * m / 6.0, n / 4.0)
        assert np.abs(found / value - 1.0).min() < 2e-4


@pytest.mark.parametrize("spacing", [0.14, 0.11, 0.085])
def test_frequencies_with_cells_of_unequal_size_at_the_edge(spacing: float) -> None:
    assert np.abs(relative_errors(spacing)).max() < 5e-4


def test_order_with_edge_factors() -> None:
    # The lower modes are already right to all digits of the exact values, so the third one shows the order.
    spacings = (0.25, 0.2, 0.125, 0.1)
    errors = [relative_errors(h)[2] for h in spacings]
    assert observed_order(spacings, errors) > 1.8


def test_first_order_without_edge_factors(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fdtd.model.problem, "edge_terms", no_edge_terms)
    spacings = (0.2, 0.1)
    errors = [relative_errors(h)[0] for h in spacings]
    assert observed_order(spacings, errors) == pytest.approx(1.0, abs=0.1)
    assert -0.012 < errors[1] < -0.008
