"""Time and memory of a whole placement study: cold, re-ranked from kept matrices, and against a simulation per design.

    python benchmarks/placement.py [SCENE] [--grid H]

Prints what it measured; never fails. The factor compares the study with one simulation of one excitation per design,
timed by a simulation of the same room and length.
"""

from __future__ import annotations

import argparse
import resource
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fdtd.model.excitations import make_excitation
from fdtd.model.problem import build_problem
from fdtd.scene.read import read_scene
from fdtd.simulation.device import SINGLE
from fdtd.simulation.stepper import simulate
from fdtd.study.place import place
from fdtd.study.settling import settling_time

SCENE = Path(__file__).resolve().parents[1] / "scenes" / "l-shaped-living-room.toml"


class Memory(dict[tuple[str, int], NDArray[np.complex128]]):
    """Keeps batches in memory."""

    def load(self, key: str, number: int) -> NDArray[np.complex128] | None:
        return self.get((key, number))

    def save(self, key: str, number: int, values: NDArray[np.complex128]) -> None:
        self[key, number] = values


def main() -> None:
    """Run the study twice and one simulation by itself."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("scene", nargs="?", default=SCENE)
    parser.add_argument("--grid", type=float, default=None)
    chosen = parser.parse_args()
    scene = read_scene(chosen.scene)
    assert scene.spots is not None
    store = Memory()
    start = time.perf_counter()
    searched: list[float] = []

    def progress(done: float, message: str) -> None:
        if done >= 0.75 and not searched:
            searched.append(time.perf_counter())

    study = place(scene, grid=chosen.grid, store=store, progress=progress)
    cold = time.perf_counter() - start
    search = time.perf_counter() - searched[0]
    device = scene.spots.devices[0]
    lighter = replace(device, branches=tuple(b.scaled(1.2) for b in device.branches))
    other = replace(scene, spots=replace(scene.spots, devices=(lighter,)))
    start = time.perf_counter()
    again = place(other, grid=chosen.grid, store=store)
    ranked = time.perf_counter() - start
    variant = scene.spots.start
    problem = build_problem(scene, variant, study.spacing)
    duration = settling_time(scene, variant, study.spacing)
    start = time.perf_counter()
    excitation = make_excitation(scene, variant, problem, variant.sources[0].at)
    simulate(problem, [excitation], [s.at for s in variant.seats], 200.0, 0.1 * duration, execution=SINGLE, sparse=True)
    one = 10.0 * (time.perf_counter() - start)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    designs = study.found.number
    cells = len(problem.cells.volume)
    print(f"candidates {len(study.places)}, designs {designs:,}, cells {cells:,}, {duration:g} s of sound")
    print(f"cold: {cold:.0f} s, of it the search {search:.1f} s; peak memory {peak:.2f} GB")
    print(f"another device, matrices kept ({100 * again.response.reused:.0f} % of excitations): {ranked:.1f} s")
    whole = one * designs
    print(f"one simulation per design: {one:.1f} s each, {whole / 86400:.0f} days; factor {whole / cold:,.0f}")


if __name__ == "__main__":
    main()
