"""The bare air update against the same equation in a general-purpose stencil compiler (Devito), in one run.

    python -m pip install devito              (in an environment of its own if you like; it needs a C compiler)
    python benchmarks/stencil_compiler.py     single precision, space order 4, the same threads
    python benchmarks/stencil_compiler.py --smoke

Both update the same number of points of a box without walls; they take turns, and the fastest of each counts.
Nothing passes or fails here; without Devito only our own figure is printed.
"""

from __future__ import annotations

import argparse
import os
import time

SIDE, STEPS, TURNS = 160, 40, 12
PAUSE = 0.3
"""s before a turn, in which threads that wait awake for more work fall asleep."""


def compiled_stencil(side: int, threads: int):
    """A function that simulations u.dt2 = laplacian(u) by a number of steps; None if Devito is not installed."""
    os.environ.setdefault("DEVITO_LANGUAGE", "openmp")
    os.environ.setdefault("DEVITO_LOGGING", "ERROR")
    os.environ["OMP_NUM_THREADS"] = str(threads)
    try:
        import devito
    except ImportError:
        return None
    import numpy as np

    box = devito.Grid(shape=(side,) * 3, extent=(side - 1.0,) * 3, dtype=np.float32)
    u = devito.TimeFunction(name="u", grid=box, time_order=2, space_order=4)
    u.data[:] = np.random.default_rng(1).standard_normal(u.data.shape)
    operator = devito.Operator(devito.Eq(u.forward, devito.solve(u.dt2 - u.laplace, u.forward)))
    operator.apply(time_m=1, time_M=2, dt=np.float32(0.475))

    def simulate(steps: int) -> None:
        operator.apply(time_m=1, time_M=steps, dt=np.float32(0.475))

    return simulate


def main() -> None:
    """Print one line for each and the ratio."""
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("--smoke", action="store_true", help="a small box, two turns")
    reader.add_argument("--side", type=int, default=SIDE, help="points along each side")
    reader.add_argument("--threads", type=int, default=os.cpu_count() or 1)
    asked = reader.parse_args()
    side, steps, turns = (40, 4, 2) if asked.smoke else (asked.side, STEPS, TURNS)
    from untreated import untreated_block

    block = untreated_block(side + 4, side + 4, side + 4, "single", asked.threads)
    theirs = compiled_stencil(side, asked.threads)
    best = {"ours": float("inf"), "stencil compiler": float("inf")}
    for _ in range(turns):
        for name, simulation in (("ours", block.advance), ("stencil compiler", theirs)):
            if simulation is not None:
                time.sleep(PAUSE)
                start = time.perf_counter()
                simulation(steps)
                best[name] = min(best[name], time.perf_counter() - start)
    speed = {name: side**3 * steps / seconds / 1e6 for name, seconds in best.items()}
    print(f"{side}³ points, single precision, space order 4, {asked.threads} threads, best of {turns} turns")
    print(f"ours              {speed['ours']:8.0f} million updates a second")
    if theirs is None:
        print("stencil compiler  not installed (python -m pip install devito)")
        return
    print(f"stencil compiler  {speed['stencil compiler']:8.0f} million updates a second")
    print(f"ratio             {speed['ours'] / speed['stencil compiler']:8.2f}")


if __name__ == "__main__":
    main()
