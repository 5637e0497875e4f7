"""The kernels give the same on machines with short vectors, or with none, and when they run uncompiled.

Set-up: rows of random numbers, in an interpreter of its own, for a processor without any extension or with the compiler
off. Exact: the sums of products as NumPy makes them. Tolerance: rounding of single and of double precision.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROWS = """
import numba, numpy as np
from fdtd.kernels.air import plain_rows
from fdtd.kernels.tables import repeated, vector_size
from fdtd.kernels.machine_code import stencil_rows
from fdtd.simulation.air_parts import row_parts

@numba.njit
def compiled(p, q, along, start, begin, end, count, parts, part, first, lanes, offsets, weights):
    stencil_rows(p, q, along, start, begin, end, count, parts, part, first, lanes, offsets, weights)

rng = np.random.default_rng(1)
for real, close in ((np.float32, 2e-5), (np.float64, 1e-13)):
    for length, lanes in ((4, 1), (5, 1), (8, 1), (15, 1), (16, 1), (40, 1), (37, 3), (4, 8), (40, 8), (6, 16)):
        along = rng.standard_normal((5, length + 3))
        along[:, 10:35] = along[:, 9:10]
        bounds, parts = row_parts(along, np.array([3]), np.array([length]), lanes, vector_size(real))
        table = np.repeat(along, repeated(lanes), axis=1).astype(real)
        p, q = rng.standard_normal((2, 400 * lanes)).astype(real)
        weights = tuple(rng.standard_normal(9).astype(real))
        offsets = tuple(lanes * k for k in (-120, -110, -90, -50, 50, 90, 110, 120))
        start = np.array([7, 130, 180, 230, 9])
        part, first = tuple(bounds[0].tolist()), 3 * repeated(lanes)
        rest = (start, 1, 4, length * lanes, parts, part, first, lanes, offsets, weights)
        wanted = q.copy()
        plain_rows.py_func(p, wanted, table, *rest)
        compiled(p, q, table, *rest)
        assert np.abs(q - wanted).max() < close and (q != wanted).sum() <= 3 * length * lanes, (real, length, lanes)
print("same")
"""
STEPS = """
import sys
import numpy as np
sys.path.insert(0, "tests")
from random_rooms import points_in_air, random_room
from rooms import problem_of
from fdtd.simulation.block import ExcitationBlock
from fdtd.model.excitations import make_excitation

scene = random_room(13)
problem = problem_of(scene, 0.45)
places = points_in_air(problem, 2, 13)
excitation = make_excitation(scene, scene.variants[0], problem, places[0])
block = ExcitationBlock(problem, [excitation], places, np.ones(4), 200.0, np.array([50.0]), map_steps=9)
out = block.advance(9)
print(*(float(np.abs(x).sum()) for x in (out, block.state.p_now, block.map_sums())))
"""


def _run(code: str, package: Path = ROOT, **environment: str) -> str:
    settings = {**os.environ, "PYTHONPATH": str(package), "OPENBLAS_NUM_THREADS": "1", **environment}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, env=settings, timeout=300
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.parametrize("settings", [{}, {"NUMBA_CPU_NAME": "generic", "NUMBA_CPU_FEATURES": ""}])
def test_rows_on_long_and_short_vectors(settings: dict[str, str]) -> None:
    assert "same" in _run(ROWS, **settings)


def test_simulation_without_the_compiler() -> None:
    compiled, plain = (_run(STEPS, NUMBA_DISABLE_JIT=value).split() for value in ("0", "1"))
    assert [float(x) for x in plain] == pytest.approx([float(x) for x in compiled], rel=1e-6)
    assert float(plain[0]) > 0.0


@pytest.mark.slow
def test_simulation_without_the_optional_machine_code(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "fdtd", tmp_path / "fdtd", ignore=shutil.ignore_patterns("__pycache__", "machine_code.py"))
    whole, without = (_run(STEPS, package).split() for package in (ROOT, tmp_path))
    assert [float(x) for x in without] == pytest.approx([float(x) for x in whole], rel=1e-6)
