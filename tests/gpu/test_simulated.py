"""The kernels of the GPU in the compiler's simulator: slow, but the same source on any machine."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def test_the_simulated_gpu_simulations_like_the_processor():
    """Few excitations and many, with walls, links, a moving face with electronics, sources, seats and maps."""
    paths = os.pathsep.join([str(HERE.parents[1]), str(HERE.parent)])
    environment = os.environ | {"NUMBA_ENABLE_CUDASIM": "1", "PYTHONPATH": paths}
    command = [sys.executable, "-W", "ignore", str(HERE.parent / "rooms_on_gpus.py")]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr[-2000:]
    rows = [line for line in done.stdout.splitlines() if line]
    assert [row.split()[0] for row in rows] == ["2", "9"], done.stdout


def test_a_whole_run_on_the_simulated_gpu_and_on_the_processor():
    """`simulating_on` sends the simulation of a run to the GPU, says so, and nothing else changes."""
    paths = os.pathsep.join([str(HERE.parents[1]), str(HERE.parent)])
    environment = os.environ | {"NUMBA_ENABLE_CUDASIM": "1", "PYTHONPATH": paths}
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", WHOLE], env=environment, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr[-2000:]
    error, reason = done.stdout.splitlines()
    assert reason == "Simulated on the GPU (simulated GPU), as asked."
    assert 0.0 < float(error) < 1e-9  # two orders of the same sums, not one and the same simulation


WHOLE = """
import numpy as np
from fdtd import workflow
from fdtd.simulation.device import simulating_on
from fdtd.scene.read import read_scene_text
scene = read_scene_text('''scene = 1
[room]
plan = [[0, 0], [2, 0], [2, 1.6], [0, 1.6]]
height = 1.5
[surfaces]
floor = "timber floor on joists"
ceiling = "rigid"
walls = "plastered masonry"
[[sources]]
name = "s"
at = [0.4, 0.4, 0.4]
[[seats]]
name = "a"
at = [1.5, 1.2, 1.1]
''')
told, found = [], []
for device in ("cpu", "gpu"):
    with simulating_on(device, told.append):
        found.append(workflow.run(scene, grid=0.5, frequencies=(60.0,), duration=0.03).variants[0])
print(np.abs(found[0].transfer - found[1].transfer).max() / np.abs(found[0].transfer).max())
print(told[0])
"""
