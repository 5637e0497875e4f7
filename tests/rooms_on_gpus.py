"""The same excitations simulated on the processor and on a GPU."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from fdtd.kernels.gpu import Gpu
from fdtd.model.excitations import make_excitation
from fdtd.model.problem import build_problem
from fdtd.scene.read import read_scene
from fdtd.simulation.block import ExcitationBlock
from fdtd.simulation.gpu import GpuExcitations
from fdtd.simulation.signals import pulse

SCENE = Path(__file__).resolve().parents[1] / "scenes" / "l-shaped-living-room.toml"
TOP = 100.0


def both(
    spacing: float, excitations: int, steps: tuple[int, ...], precision: str, gpus: list[Gpu] | None = None
) -> dict[str, float]:
    """Largest differences, relative to the largest value, of seats, maps and strength of the shipped scene: walls with
    branches, a fill, a moving face with electronics, sources at points and on a port."""
    scene = read_scene(SCENE)
    variant = scene.variants[-1]
    problem = build_problem(scene, variant, spacing)
    excitation = make_excitation(scene, variant, problem, variant.sources[0].at)
    port = excitation.diaphragms[0].port
    places = (variant.sources[0].at, port, variant.seats[0].at)
    chosen = [
        replace(excitation, source=places[k % 3], diaphragms=excitation.diaphragms[: 1 - k % 2])
        for k in range(excitations)
    ]
    seats, signal = [*(seat.at for seat in variant.seats), port], pulse(TOP, problem.time_step)
    frequency = np.array([40.0, 60.0])
    usual = ExcitationBlock(problem, chosen, seats, signal, TOP, frequency, "double", map_steps=sum(steps), every=2)
    gpu = GpuExcitations(problem, chosen, seats, signal, TOP, frequency, precision, sum(steps), 2, gpus)
    rows = [(usual.advance(count), gpu.advance(count)) for count in steps]
    a, b = (np.concatenate(x) for x in zip(*rows, strict=True))
    assert a.shape == b.shape
    found = {"seats": _apart(a, b), "strength": abs(gpu.strength() / usual.strength() - 1.0)}
    found["maps"] = _apart(usual.map_sums(), gpu.map_sums())
    return found


def _apart(a: np.ndarray, b: np.ndarray) -> float:
    return float(np.abs(a - b).max() / np.abs(a).max())
