"""Cell updates a second of the whole march (air, walls, sources, seats) on a shipped scene, against memory bandwidth.

    python benchmarks/speed.py [SCENE]

The bound is this machine's triad bandwidth (a[i] = b[i] + s c[i], numpy, one thread) over 12 bytes an update in single
and 24 in double precision; the ratio is taken in the same run. One thread; lanes of one block.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

from fdtd.march.signals import pulse
from fdtd.march.stepper import LaneBlock
from fdtd.model.lanes import make_lane
from fdtd.model.problem import build_problem
from fdtd.scene.read import read_scene

STEPS, REPEATS = 200, 3


def triad_bandwidth(count: int = 20_000_000) -> float:
    """Bytes a second, best of a few."""
    a, b, c = (np.ones(count, dtype=np.float32) for _ in range(3))
    best = np.inf
    for _ in range(REPEATS):
        start = time.perf_counter()
        np.multiply(c, 1.5, out=a)
        np.add(a, b, out=a)
        best = min(best, time.perf_counter() - start)
    # numpy needs two passes: five array transfers instead of the triad's three.
    return 5 * 4 * count / best


def main() -> None:
    """Print the table."""
    default = Path(__file__).resolve().parents[1] / "scenes" / "l-shaped-living-room.toml"
    scene = read_scene(Path(sys.argv[1]) if len(sys.argv) > 1 else default)
    variant = scene.variants[-1]
    problem = build_problem(scene, variant, scene.run.grid)
    cells = len(problem.cells.volume)
    bandwidth = triad_bandwidth()
    print(f"{scene.title}: {cells:,} cells; bandwidth {bandwidth / 1e9:.1f} GB/s")
    lane = make_lane(scene, variant, problem, variant.sources[0].at)
    for precision, size in (("single", 12), ("double", 24)):
        for lanes in (1, 4, 16):
            signal = pulse(scene.run.max_frequency, problem.time_step)
            seats = [seat.at for seat in variant.seats]
            block = LaneBlock(problem, [lane] * lanes, seats, signal, scene.run.max_frequency, precision=precision)
            block.advance(10)
            best = np.inf
            for _ in range(REPEATS):
                start = time.perf_counter()
                block.advance(STEPS)
                best = min(best, time.perf_counter() - start)
            rate = cells * lanes * STEPS / best
            share = rate * size / bandwidth
            print(f"  {precision}, {lanes:2d} lanes: {rate / 1e6:5.0f} million updates/s, {share:.2f} of the bound")


if __name__ == "__main__":
    main()
