"""The kernels give the same on machines with short vectors, or with none, and when they run uncompiled.

Set-up: a row and a pair of rows of random numbers, in an interpreter of its own, for a processor without any extension
or with the compiler off. Exact: the sums of products as NumPy makes them. Tolerance: rounding of single precision.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROWS = """
import numba, numpy as np
from fdtd.kernels.rows import plain_pair, plain_row, stencil_pair, stencil_row

@numba.njit
def one(p, q, along, count, first, lanes, places, weights):
    stencil_row(p, q, along, count, first, lanes, places, weights)

@numba.njit
def two(p, q, along, count, first, lanes, places, weights):
    stencil_pair(p, q, along, count, first, lanes, places, weights)

rng = np.random.default_rng(1)
along = rng.standard_normal((5, 300)).astype(np.float32)
for compiled, plain, places, number in (
    (one, plain_row, (200, 20, 60, 100, 140, 260, 300, 340, 380), 9),
    (two, plain_pair, (200, 320, 20, 100, 440, 560, 21, 63, 105, 147, 700, 742, 784, 826), 18),
):
    for count, lanes in ((1, 1), (5, 1), (8, 1), (15, 1), (16, 1), (40, 1), (37, 3), (48, 8)):
        p, q = rng.standard_normal((2, 1000)).astype(np.float32)
        weights = tuple(rng.standard_normal(number).astype(np.float32))
        wanted = q.copy()
        plain(p, wanted, along, count, 3, lanes, places, weights)
        compiled(p, q, along, count, 3, lanes, places, weights)
        assert np.abs(q - wanted).max() < 2e-5 and (q != wanted).sum() <= 2 * count, (number, count, lanes)
print("same")
"""
STEPS = """
import sys
import numpy as np
sys.path.insert(0, "tests")
from random_rooms import points_in_air, random_room
from rooms import problem_of
from fdtd.march.block import LaneBlock
from fdtd.model.lanes import make_lane

scene = random_room(13)
problem = problem_of(scene, 0.45)
places = points_in_air(problem, 2, 13)
lane = make_lane(scene, scene.variants[0], problem, places[0])
block = LaneBlock(problem, [lane], places, np.ones(4), 200.0, np.array([50.0]), map_steps=9)
out = block.advance(9)
print(*(float(np.abs(x).sum()) for x in (out, block.state.p_now, block.map_sums())))
"""


def _run(code: str, **environment: str) -> str:
    settings = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1", **environment}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, env=settings, timeout=300
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.parametrize("settings", [{}, {"NUMBA_CPU_NAME": "generic", "NUMBA_CPU_FEATURES": ""}])
def test_rows_on_long_and_short_vectors(settings: dict[str, str]) -> None:
    assert "same" in _run(ROWS, **settings)


def test_march_without_the_compiler() -> None:
    compiled, plain = (_run(STEPS, NUMBA_DISABLE_JIT=value).split() for value in ("0", "1"))
    assert [float(x) for x in plain] == pytest.approx([float(x) for x in compiled], rel=1e-6)
    assert float(plain[0]) > 0.0
