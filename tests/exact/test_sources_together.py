"""Loudspeakers that play together, from the scene file to the figures of the result.

Set-up: box 3 × 2 × 2 m, two sources that mirror each other in y = 1 m, a seat in that plane.
Exact: by symmetry both sources give the same transfer function there, so that together they are +6.02 dB (20 lg 2) in
phase, nothing in opposite polarity, and |2 cos(omega T/2)| with one of them T late: nothing at 1/(2T).
Tolerance: 1e-9, rounding of double precision; the grid mirrors itself.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from fdtd.analysis.response import combined_map, combined_transfer, level_db
from fdtd.physics.loudspeaker import Crossover, Rolloff
from fdtd.results.result import RunResult
from fdtd.results.store import read_result, write_result
from fdtd.scene.read import read_scene_text
from fdtd.workflow import run

TEXT = """scene = 1
[room]
plan = [[0, 0], [3, 0], [3, 2], [0, 2]]
height = 2
[surfaces]
floor = "soft"
ceiling = "soft"
walls = "soft"
[materials.soft]
admittance_ratio = 0.05
[[sources]]
name = "left"
at = [0.5, 0.5, 0.6]
[[sources]]
name = "right"
at = [0.5, 1.5, 0.6]
[[seats]]
name = "middle"
at = [2.3, 1.0, 1.1]
[[variants]]
name = "left alone"
without = ["right"]
[[variants]]
name = "both"
[[variants]]
name = "opposed"
set = { right = { polarity = -1 } }
[[variants]]
name = "right late"
set = { right = { delay = 10 } }
[[variants]]
name = "in boxes"
set = { left = { rolloff = { kind = "vented", frequency = 30 }, lowpass = { frequency = 60 } }, right.level = -80 }
[run]
max_frequency = 100
grid = 0.25
duration = 0.5
"""


@pytest.fixture(scope="module")
def result() -> RunResult:
    return run(read_scene_text(TEXT), frequencies=[30.0, 50.0])


def together(result: RunResult) -> dict[str, np.ndarray]:
    """Variant -> (frequency,) complex at the seat."""
    return {v.name: combined_transfer(v.transfer, v.playback)[0] for v in result.variants}


def test_two_in_phase_are_6_db_louder(result: RunResult) -> None:
    found = together(result)
    alone, both = (level_db(found[n], result.frequency, result.density) for n in ("left alone", "both"))
    np.testing.assert_allclose(both - alone, 20 * np.log10(2.0), atol=1e-9)


def test_opposite_polarity_leaves_nothing(result: RunResult) -> None:
    found = together(result)
    assert np.abs(found["opposed"] / found["left alone"]).max() < 1e-9


def test_a_delay_leaves_a_null(result: RunResult) -> None:
    found = together(result)
    ratio = np.abs(found["right late"] / found["left alone"])
    np.testing.assert_allclose(ratio, np.abs(2 * np.cos(np.pi * result.frequency * 0.01)), atol=1e-9)
    assert ratio[np.argmin(np.abs(result.frequency - 50.0))] < 1e-9


def test_boxes_and_crossovers_are_factors(result: RunResult) -> None:
    """Butterworth at 30 Hz is 3.01 dB down, Linkwitz-Riley at 60 Hz 6.02; the other source is 80 dB below."""
    found = together(result)
    ratio = 20 * np.log10(np.abs(found["in boxes"] / found["left alone"]))
    low, at = Crossover("linkwitz-riley", 4, 60.0, "low"), result.frequency
    expected = 20 * np.log10(np.abs(Rolloff("vented", 30.0).response(at) * low.response(at)))
    assert np.abs(ratio - expected)[at > 15.0].max() < 0.05
    assert ratio[at == 30.0] == pytest.approx(-3.0103 + 20 * np.log10(np.abs(low.response(30.0))), abs=0.01)


def test_maps_and_the_file_hold_the_same_factors(result: RunResult, tmp_path: Path) -> None:
    write_result(result, tmp_path / "result.h5")
    read = read_result(tmp_path / "result.h5")
    for variant in read.variants:
        assert variant.playback.shape == (2, len(read.frequency)) and variant.playback.dtype == np.complex128
        assert variant.map_playback.shape == (2, 2) and variant.map_playback.dtype == np.complex128
    assert np.isnan(read.variants[0].playback[1]).all() and np.isnan(read.variants[0].map_playback[1]).all()
    alone, both, opposed = (combined_map(v.maps, v.map_playback) for v in read.variants[:3])
    one, other = read.variants[1].maps
    np.testing.assert_allclose(both, one + other, rtol=1e-6)
    np.testing.assert_allclose(opposed, one.astype(complex) - other, rtol=1e-6)
    np.testing.assert_allclose(alone, one, rtol=1e-5)
