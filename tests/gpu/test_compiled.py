"""The text of the GPU kernels, compiled as C++ for the CPU: the same source on any machine with a compiler."""

from __future__ import annotations

import numpy as np
import pytest
from compiled_gpu import COMPILED_GPU, COMPILER, NO_COMPILER
from rooms import make_scene, problem_of
from rooms_on_gpus import both

from fdtd import workflow
from fdtd.model.excitations import make_excitation
from fdtd.scene.read import read_scene_text
from fdtd.simulation import device
from fdtd.simulation.block import ExcitationBlock
from fdtd.simulation.device import Execution
from fdtd.simulation.gpu import GpuExcitations
from fdtd.simulation.signals import pulse

pytestmark = pytest.mark.skipif(COMPILER is None, reason=NO_COMPILER)


@pytest.mark.parametrize("excitations, gpus", [(1, 1), (2, 1), (5, 2), (9, 1), (34, 1)])
def test_seats_maps_and_strength_agree(excitations: int, gpus: int) -> None:
    """One field each and four at a time, one batch and two, one GPU and two: walls, links, a moving face with
    electronics, sources, seats and maps; batches of odd and even length."""
    found = both(1.2, excitations, (31, 30), "double", [COMPILED_GPU] * gpus)
    assert max(found["seats"], found["strength"]) < 1e-10
    assert found["maps"] < 3e-7  # sums are kept as complex64


def test_single_precision() -> None:
    found = both(0.9, 5, (61,), "single", [COMPILED_GPU])
    assert 1e-9 < found["seats"] < 3e-5


def test_cells_that_share_a_box() -> None:
    """A slot between two slanted walls that is narrower than a cell leaves air on both sides in the same boxes."""
    plan = ((0.0, 0.0), (3.0, 0.0), (3.0, 2.1), (1.6, 2.1), (1.45, 0.6), (1.4, 2.1), (0.0, 2.1))
    scene = make_scene(plan, 1.0)
    problem = problem_of(scene, 0.3)
    assert len(np.unique(problem.cells.index, axis=0)) < len(problem.cells.index)
    excitation = make_excitation(scene, scene.variants[0], problem, (0.6, 0.6, 0.5))
    seats, signal = [(2.5, 1.5, 0.5), (0.6, 1.8, 0.5)], pulse(200.0, problem.time_step)
    for number in (1, 5):
        setting = (problem, [excitation] * number, seats, signal, 200.0)
        usual = ExcitationBlock(*setting).advance(80)
        gpu = GpuExcitations(*setting, gpus=[COMPILED_GPU]).advance(80)
        assert np.abs(gpu - usual).max() < 1e-11 * np.abs(usual).max()


SCENE = """scene = 1
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
"""


def test_a_whole_run_on_the_gpu_and_on_the_cpu(monkeypatch: pytest.MonkeyPatch) -> None:
    """An execution sends the simulation of a run to the GPU, says so, and nothing else changes."""
    monkeypatch.setattr(device, "find_gpus", lambda: ((COMPILED_GPU,), ""))
    told: list[str] = []
    runs = []
    for where in ("cpu", "gpu"):
        execution = Execution(device=where, tell=told.append)
        scene = read_scene_text(SCENE)
        done = workflow.run(scene, grid=0.5, frequencies=(60.0,), duration=0.03, execution=execution)
        runs.append(done.variants[0].transfer)
    assert told == ["Simulated on the GPU (compiled for the CPU), as asked."]
    error = np.abs(runs[0] - runs[1]).max() / np.abs(runs[0]).max()
    assert 0.0 < error < 1e-9  # two orders of the same sums, not one and the same simulation
