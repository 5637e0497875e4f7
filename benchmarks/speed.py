"""Cell updates a second of the simulation against the memory bandwidth of the machine, taken in the same run.

    python benchmarks/speed.py [SCENE] [--smoke] [--repeats N]

The bound is triad bandwidth (a[i] = b[i] + s c[i], the same threads) over 12 bytes an update in single and 24 in
double precision. Triad and simulation alternate in many short pieces and the fastest piece of each counts, so that
other programs disturb little; the load of the machine is printed. Nothing passes or fails here.

--smoke: everything once on tiny rooms. Memory is in memory.py, the time to the first words in start.py.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numba
import numpy as np
from untreated import untreated_block

from fdtd.kernels.compiled import available_threads
from fdtd.kernels.points import MAP_SAMPLES
from fdtd.model.excitations import make_excitation
from fdtd.model.problem import Problem, build_problem
from fdtd.scene.read import read_scene
from fdtd.scene.schema import Scene
from fdtd.simulation.block import ExcitationBlock
from fdtd.simulation.device import Execution
from fdtd.simulation.signals import pulse
from fdtd.simulation.stepper import excitation_blocks
from fdtd.simulation.thread_group import Pace

ROOT = Path(__file__).resolve().parents[1]
MAPS = np.array([30.0, 45.0, 60.0, 80.0])
BYTES = {"single": 12, "double": 24}
PIECE = 0.03
"""s, about, that one timed piece takes."""


@numba.njit(nogil=True, fastmath=True)
def _triad(a, b, c, scale):  # type: ignore[no-untyped-def]
    for i in range(len(a)):
        a[i] = b[i] + scale * c[i]


class Triad:
    """Bytes a second of the triad over arrays that no cache holds."""

    def __init__(self, pool: ThreadPoolExecutor, threads: int, count: int) -> None:
        self.pool, self.best = pool, 0.0
        self.parts = [[np.ones(count // threads, np.float32) for _ in range(3)] for _ in range(threads)]
        self.piece()
        self.best = 0.0

    def piece(self) -> None:
        """One pass."""
        start = time.perf_counter()
        list(self.pool.map(lambda part: _triad(*part, np.float32(1.5)), self.parts))
        size = sum(x.nbytes for part in self.parts for x in part)
        self.best = max(self.best, size / (time.perf_counter() - start))


class Timed:
    """Steps of blocks of excitations, as a simulation does them; best seconds a step of all of them."""

    def __init__(self, pool: ThreadPoolExecutor, blocks: list[ExcitationBlock]) -> None:
        self.pool, self.blocks = pool, blocks
        self.updates = sum(block.state.p_now.size for block in blocks)
        self.best, self.steps = np.inf, 4
        for _ in range(3):
            self.piece()
        # Map sums are made of several samples at a time, and of what is left at the end of a batch.
        whole = blocks[0].maps.stride * MAP_SAMPLES
        self.steps = max(whole, int(PIECE / self.best) // whole * whole)
        self.best = np.inf
        for block in blocks:  # such short pieces are no ground to choose between one thread and several
            block.pace = Pace(block.pace.threads)

    def piece(self) -> None:
        """Some steps."""
        start = time.perf_counter()
        list(self.pool.map(lambda block: block.advance(self.steps), self.blocks))
        self.best = min(self.best, (time.perf_counter() - start) / self.steps)

    def row(self, name: str, precision: str, bandwidth: float) -> None:
        """One line of the table."""
        rate = self.updates / self.best
        share = rate * BYTES[precision] / bandwidth
        print(
            f"  {name:46s} {precision}  {1e6 * self.best:9.0f} us/step {rate / 1e6:7.0f} M/s  {share:5.2f} of the bound"
        )


def scene_blocks(scene: Scene, problem: Problem, excitations: int, precision: str, maps: bool) -> list[ExcitationBlock]:
    """Blocks as a simulation of the last variant makes them, with its seats and, if asked for, maps."""
    variant = scene.variants[-1]
    excitation = make_excitation(scene, variant, problem, variant.sources[0].at)
    signal = pulse(scene.run.max_frequency, problem.time_step)
    seats = [seat.at for seat in variant.seats]
    return excitation_blocks(
        problem,
        [excitation] * excitations,
        seats,
        signal,
        scene.run.max_frequency,
        MAPS if maps else None,
        Execution(precision),
        100_000,
        1,
    )


def speed(path: Path, repeats: int, smoke: bool) -> None:
    """The tables of speed."""
    threads = available_threads()
    pool = ThreadPoolExecutor(threads)
    triad = Triad(pool, threads, 400_000 if smoke else 40_000_000)
    print(f"{threads} threads, load {os.getloadavg()[0]:.1f}; M/s = million cell updates a second")

    def table(title: str, cases: list[tuple[str, str, Callable[[], list[ExcitationBlock]]]]) -> None:
        timed = [Timed(pool, make()) for _, _, make in cases]
        triad.best = 0.0
        for _ in range(repeats):
            triad.piece()
            for one in timed:
                one.piece()
        print(f"{title}; triad {triad.best / 1e9:.1f} GB/s")
        for (name, precision, _), one in zip(cases, timed, strict=True):
            one.row(name, precision, triad.best)

    sides = [(24, 24, 24)] if smoke else [(160, 100, 80), (256, 200, 160)]
    for nx, ny, nz in sides:
        cells = nx * ny * nz
        table(
            f"Bare fourth-order kernel, {cells:,} cells",
            [
                ("one excitation", p, lambda p=p: [untreated_block(nx, ny, nz, p, threads)])  # noqa: B023
                for p in ("single", "double")
            ],
        )
    scene = read_scene(path)
    grids = [0.5] if smoke else [scene.run.grid, 0.07, 0.15, 0.25]
    for n, grid in enumerate(grids):
        problem = build_problem(scene, scene.variants[-1], grid)
        cases = []
        for precision in ("single", "double") if n == 0 else ("single",):
            for excitations in ((1, 4) if smoke else (1, 4, 16, 32)) if n == 0 else (1, 16):
                for maps in (False, True) if excitations in (1, 16) and n == 0 else (False,):
                    name = f"{excitations} excitation{'s' * (excitations > 1)}, walls and seats{', 4 maps' * maps}"
                    cases.append(
                        (
                            name,
                            precision,
                            lambda excitations=excitations, precision=precision, maps=maps: scene_blocks(
                                scene,
                                problem,  # noqa: B023
                                excitations,
                                precision,
                                maps,  # noqa: B023
                            ),
                        )
                    )
        cells = len(problem.cells.volume)
        table(f"{scene.title}, {grid:g} m, {cells:,} cells, {problem.time_step * 1e6:.0f} us a step", cases)


def main() -> None:
    """Read the command line and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("scene", nargs="?", type=Path, default=ROOT / "scenes" / "l-shaped-living-room.toml")
    parser.add_argument("--smoke", action="store_true", help="everything once on tiny rooms")
    parser.add_argument("--repeats", type=int, default=40, help="pieces timed of each case; the fastest counts")
    chosen = parser.parse_args()
    speed(chosen.scene, 2 if chosen.smoke else chosen.repeats, chosen.smoke)


if __name__ == "__main__":
    main()
