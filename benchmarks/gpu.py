"""Cell updates a second on the graphics card, against its own copy bandwidth measured in the same run.

    python benchmarks/gpu.py [--smoke] [--scene SCENE]

The bound of an update is 12 bytes in single precision: one pressure read, one read and written. Rows: a study of 64
lanes on the L-shaped scene, one lane of it on a finer grid, one lane of a box of fifty million cells; all with branches
on their walls. Then the placement study of the scene (without its robustness), twice: the first compiles for the card.
--smoke : tiny rooms and few steps, also under the simulator (NUMBA_ENABLE_CUDASIM=1), to see that it works.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from gpu_box import box_layout
from numba import cuda

from fdtd.kernels import gpu
from fdtd.march.device import marching_on
from fdtd.march.gpu import CardLanes
from fdtd.march.signals import pulse, sampling_stride
from fdtd.model.lanes import make_lane
from fdtd.model.problem import build_problem
from fdtd.scene.read import read_scene
from fdtd.study.place import place

SCENE = Path(__file__).resolve().parents[1] / "scenes" / "l-shaped-living-room.toml"
REPEATS = 5
BYTES = 12


def copy_bandwidth(elements: int) -> float:
    """Bytes a second, read and written, of a copy on the card; best of a few."""
    source = cuda.to_device(np.ones(elements, dtype=np.float32))
    target = cuda.device_array_like(source)
    best = np.inf
    for _ in range(REPEATS + 1):
        cuda.synchronize()
        start = time.perf_counter()
        target.copy_to_device(source)
        cuda.synchronize()
        best = min(best, time.perf_counter() - start)
    return 2 * 4 * elements / best


def best_seconds(one: gpu.CardMarch, steps: int) -> float:
    """Seconds for `steps` steps with all that belongs to them, best of a few, compiled before."""
    one.start(2, 1.0)
    one.finish()
    best = np.inf
    for _ in range(REPEATS):
        start = time.perf_counter()
        one.start(steps, 1.0)
        one.finish()
        best = min(best, time.perf_counter() - start)
    return best


def scene_march(path: Path, spacing: float, lanes: int) -> tuple[gpu.CardMarch, int]:
    """Lanes with sources all over the room, every seat recorded as a study does; their cells."""
    scene = read_scene(path)
    variant = scene.variants[-1]
    problem = build_problem(scene, variant, spacing)
    template = make_lane(scene, variant, problem, variant.sources[0].at)
    draw = np.random.default_rng(1)
    points = draw.uniform([0.5, 0.5, 0.4], [3.2, 2.5, 2.0], (lanes, 3))
    chosen = [replace(template, diaphragms=(), source=tuple(p)) for p in points.tolist()]
    seats = [*(seat.at for seat in variant.seats), *(tuple(p) for p in points.tolist())]
    top = scene.run.max_frequency
    signal, every = pulse(top, problem.time_step), sampling_stride(top, problem.time_step)
    block = CardLanes(problem, chosen, seats, signal, top, precision="single", every=every, cards=gpu.cards()[:1])
    return block.marches[0], len(problem.cells.volume)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    parser.add_argument("--scene", type=Path, default=SCENE)
    chosen = parser.parse_args()
    found = gpu.cards()
    if not found:
        print("no graphics card: nothing measured (NUMBA_ENABLE_CUDASIM=1 and --smoke run it in a simulator)")
        return
    small = chosen.smoke
    bandwidth = copy_bandwidth(1 << 16 if small else 1 << 29)
    print(f"{found[0].name}: copies {bandwidth / 1e9:.0f} GB/s; bound {bandwidth / BYTES / 1e9:.0f} billion updates/s")
    print(f"{'room':38} {'cells':>12} {'lanes':>5} {'us/step':>9} {'billion/s':>9} {'of bound':>8}")
    grids = ((2, 0.9), (1, 0.9)) if small else ((64, 0.1), (1, 0.084))
    for lanes, spacing in grids:
        one, cells = scene_march(chosen.scene, spacing, lanes)
        report(f"{chosen.scene.stem}, {spacing:g} m", one, cells, 4 if small else 4000, bandwidth)
    shape = (16, 16, 20) if small else (200, 500, 500)
    layout, _ = box_layout(0.02, shape, np.float32)
    report("box", gpu.CardMarch(layout), int(np.prod(shape)), 2 if small else 60, bandwidth)
    if not small:
        study(chosen.scene)


def report(name: str, one: gpu.CardMarch, cells: int, steps: int, bandwidth: float) -> None:
    """One row of the table."""
    seconds, lanes = best_seconds(one, steps), one.layout.lanes
    rate = cells * lanes * steps / seconds
    share, micro = rate * BYTES / bandwidth, seconds / steps * 1e6
    print(f"{name:38} {cells:12,} {lanes:5} {micro:9.2f} {rate / 1e9:9.3f} {share:8.2f}", flush=True)


def study(path: Path) -> None:
    """Seconds of the placement study of a scene, in this process for the first time and once more."""
    scene, seconds, number = read_scene(path), [], 0
    with marching_on("gpu"):
        for _ in range(2):
            start = time.perf_counter()
            number = len(place(scene).places)
            seconds.append(time.perf_counter() - start)
    print(f"placement study of {number} places: {seconds[0]:.1f} s, once compiled {seconds[1]:.1f} s")


if __name__ == "__main__":
    main()
