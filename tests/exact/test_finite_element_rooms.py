"""Rooms that were not used to develop the program, against finite elements (tests/data/FE-ROOMS.md).

The project's targets for 0.1 m cells, |dB error| median / 95th percentile: 0.03 / 0.15 up to 100 Hz, 0.05 / 0.3 up to
180 Hz, and 0.15 dB for what an absorber changes.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from fdtd.scene.read import read_scene_text
from fdtd.simulation.device import DOUBLE
from fdtd.workflow import run

DATA = Path(__file__).parents[1] / "data"
TARGET = {100.0: (0.03, 0.15), 180.0: (0.05, 0.30)}

Levels = dict[str, NDArray[np.float64]]


def _simulate(room: str) -> tuple[NDArray[np.float64], Levels, Levels]:
    """Frequencies (Hz), and by variant the levels (seat, frequency) in dB of simulation and reference."""
    reference = np.load(DATA / f"fe-{room}.npz")
    frequency = reference["f"]
    result = run(read_scene_text(str(reference["scene"])), execution=DOUBLE, frequencies=(50.0,))
    rows = np.searchsorted(result.frequency, frequency - 1e-6)
    np.testing.assert_allclose(result.frequency[rows], frequency)
    simulated, known = {}, {}
    for variant in result.variants:
        name = variant.name if "H_" + variant.name in reference else "default"
        simulated[variant.name] = 20 * np.log10(np.abs(variant.transfer[0][:, rows]))
        known[variant.name] = 20 * np.log10(np.abs(reference["H_" + name]))
    return frequency, simulated, known


def _check(difference: NDArray, frequency: NDArray, top: float, median: float, most: float) -> None:
    error = np.abs(difference[:, frequency <= top])
    assert np.median(error) <= median, f"median {np.median(error):.3f} dB up to {top:g} Hz"
    assert np.percentile(error, 95) <= most, f"95th percentile {np.percentile(error, 95):.3f} dB up to {top:g} Hz"


@pytest.mark.slow
@pytest.mark.parametrize(("room", "limits"), [("divided", TARGET), ("strong", TARGET), ("attic", TARGET)])
def test_responses_agree_with_finite_elements(room: str, limits: dict[float, tuple[float, float]]) -> None:
    """Levels at three seats, 20 Hz up to each limit's frequency."""
    frequency, simulated, known = _simulate(room)
    for name, levels in simulated.items():
        for top, (median, most) in limits.items():
            _check(levels - known[name], frequency, top, median, most)


@pytest.fixture(scope="module")
def unit_room() -> tuple[NDArray[np.float64], Levels, Levels]:
    return _simulate("unit")


UNITS = ["with unit as one", "with unit local"]
SMALL = ["with small as one", "with small local"]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["bare", *UNITS, *SMALL])
def test_levels_with_a_unit_agree_with_finite_elements(unit_room: tuple, name: str) -> None:
    """A unit in a corner, or one of very low impedance, moving as one and reacting locally; 20 to 100 Hz."""
    frequency, simulated, known = unit_room
    _check(simulated[name] - known[name], frequency, 100.0, *TARGET[100.0])


@pytest.mark.slow
@pytest.mark.parametrize("name", [*UNITS, *SMALL])
def test_what_a_unit_changes_agrees_with_finite_elements(unit_room: tuple, name: str) -> None:
    """Level with the unit minus level without, 20 to 160 Hz."""
    frequency, simulated, known = unit_room
    change = simulated[name] - simulated["bare"] - (known[name] - known["bare"])
    _check(change, frequency, 160.0, 0.03, 0.15)
