"""Cell updates a second on the GPU, against its own copy bandwidth measured in the same run.

    python benchmarks/gpu.py [--smoke] [--scene SCENE]

The bound of an update is 12 bytes in single precision: one pressure read, one read and written. Rows: a study of 64
excitations on the L-shaped scene, one excitation of it on a finer grid, one excitation of a box of fifty million cells;
all with branches on their walls. Then the placement study of the scene (without its perturbed rooms), twice: the first
compiles for the GPU. --smoke : tiny rooms and few steps, to see that it works.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from gpu_box import box_plan

from fdtd.kernels import gpu
from fdtd.model.excitations import make_excitation
from fdtd.model.problem import build_problem
from fdtd.scene.read import read_scene
from fdtd.simulation.device import Execution
from fdtd.simulation.gpu import GpuExcitations
from fdtd.simulation.signals import pulse, sampling_stride
from fdtd.study.place import place

SCENE = Path(__file__).resolve().parents[1] / "scenes" / "l-shaped-living-room.toml"
REPEATS = 5
BYTES = 12


def copy_bandwidth(elements: int) -> float:
    """Bytes a second, read and written, of a copy on the GPU; best of a few."""
    import cupy

    source = cupy.ones(elements, dtype=np.float32)
    target = cupy.empty_like(source)
    best = np.inf
    for _ in range(REPEATS + 1):
        cupy.cuda.Device().synchronize()
        start = time.perf_counter()
        target[...] = source
        cupy.cuda.Device().synchronize()
        best = min(best, time.perf_counter() - start)
    return 2 * 4 * elements / best


def best_seconds(some: list[gpu.GpuSimulation], steps: int) -> float:
    """Seconds for `steps` steps with all that belongs to them, best of a few, compiled before and past the signal."""

    def once() -> float:
        start = time.perf_counter()
        for one in some:
            one.start(steps)
        for one in some:
            one.finish()
        return time.perf_counter() - start

    return min([once() for _ in range(REPEATS + 2)][2:])


def scene_simulation(path: Path, spacing: float, excitations: int) -> tuple[list[gpu.GpuSimulation], int]:
    """Excitations with sources all over the room, every seat recorded as a study does; their cells."""
    scene = read_scene(path)
    variant = scene.variants[-1]
    problem = build_problem(scene, variant, spacing)
    template = make_excitation(scene, variant, problem, variant.sources[0].at)
    draw = np.random.default_rng(1)
    points = draw.uniform([0.5, 0.5, 0.4], [3.2, 2.5, 2.0], (excitations, 3))
    chosen = [replace(template, diaphragms=(), source=tuple(p)) for p in points.tolist()]
    seats = [*(seat.at for seat in variant.seats), *(tuple(p) for p in points.tolist())]
    top = scene.run.max_frequency
    signal, every = pulse(top, problem.time_step), sampling_stride(top, problem.time_step)
    block = GpuExcitations(problem, chosen, seats, signal, top, precision="single", every=every, gpus=gpu.gpus()[:1])
    return block.simulations, len(problem.cells.volume)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    parser.add_argument("--scene", type=Path, default=SCENE)
    chosen = parser.parse_args()
    found = gpu.gpus()
    if not found:
        print("no GPU: nothing measured")
        return
    small = chosen.smoke
    bandwidth = copy_bandwidth(1 << 16 if small else 1 << 29)
    print(f"{found[0].name}: copies {bandwidth / 1e9:.0f} GB/s; bound {bandwidth / BYTES / 1e9:.0f} billion updates/s")
    print(f"{'room':38} {'cells':>12} {'excitations':>5} {'us/step':>9} {'billion/s':>9} {'of bound':>8}")
    grids = ((2, 0.9), (1, 0.9)) if small else ((64, 0.1), (1, 0.084))
    for excitations, spacing in grids:
        some, cells = scene_simulation(chosen.scene, spacing, excitations)
        every = some[0].plan.values["every"]  # whole samples: batches as in a simulation
        report(f"{chosen.scene.stem}, {spacing:g} m", some, cells, every * (1 if small else 4000 // every), bandwidth)
    shape = (20, 16, 16) if small else (500, 500, 200)
    box = gpu.GpuSimulation(box_plan(0.02, shape, np.float32), found[0])
    report("box", [box], int(np.prod(shape)), 2 if small else 60, bandwidth)
    if not small:
        study(chosen.scene)


def report(name: str, some: list[gpu.GpuSimulation], cells: int, steps: int, bandwidth: float) -> None:
    """One row of the table."""
    seconds, excitations = best_seconds(some, steps), sum(one.plan.excitations for one in some)
    rate = cells * excitations * steps / seconds
    share, micro = rate * BYTES / bandwidth, seconds / steps * 1e6
    print(f"{name:38} {cells:12,} {excitations:5} {micro:9.2f} {rate / 1e9:9.3f} {share:8.2f}", flush=True)


def study(path: Path) -> None:
    """Seconds of the placement study of a scene, in this process for the first time and once more."""
    scene, seconds, number = read_scene(path), [], 0
    for _ in range(2):
        start = time.perf_counter()
        number = len(place(scene, execution=Execution("single", "gpu")).places)
        seconds.append(time.perf_counter() - start)
    print(f"placement study of {number} places: {seconds[0]:.1f} s, once compiled {seconds[1]:.1f} s")


if __name__ == "__main__":
    main()
