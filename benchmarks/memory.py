"""Memory of a march against the size of the room: bytes a cell, what they are for, and the most on the way.

    python benchmarks/memory.py [CELLS ...] [--smoke]

Box rooms with resonant walls, one lane, single precision, each in a process of its own. Columns, in bytes a cell:
march = pressures, wall states and tables of the march, beyond 12 bytes a cell and lane; room = what else is held
(in brackets: while tables are made); held = all that the process has taken up since it started, once the march is
under way; cut peak = the most it had while the room was cut; peak = the most it ever had; estimate = what a run says
beforehand.
Nothing passes or fails here. --smoke: two small rooms.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import time
from dataclasses import is_dataclass
from pathlib import Path

import numpy as np
from scipy.sparse import issparse
from untreated import box_scene

from fdtd.model.excitations import make_excitation
from fdtd.model.problem import build_problem
from fdtd.simulation.device import SINGLE
from fdtd.simulation.signals import pulse
from fdtd.simulation.stepper import excitation_blocks, memory_bytes

SIZES = (100_000, 1_000_000, 5_000_000)
FREE = 12
"""Bytes a cell and excitation that two pressures and their walls may take."""


def resident() -> float:
    """Bytes of memory that this process holds."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return float(pages * os.sysconf("SC_PAGE_SIZE"))


def size(value: object, seen: set[int]) -> int:
    """Bytes of all arrays reachable from `value`, each counted once."""
    if id(value) in seen:
        return 0
    seen.add(id(value))
    if isinstance(value, np.ndarray):
        whole = value.base if isinstance(value.base, np.ndarray) else value
        again = id(whole) in seen and whole is not value
        seen.add(id(whole))
        return 0 if again else whole.nbytes
    if isinstance(value, (tuple, list)):
        return sum(size(part, seen) for part in value)
    if is_dataclass(value):
        return sum(size(part, seen) for part in vars(value).values())
    return size(value.data, seen) + size(value.indices, seen) + size(value.indptr, seen) if issparse(value) else 0


def one(cells: int) -> None:
    """One line of the table."""
    start = resident()
    scene = box_scene(cells)
    clock = time.process_time()
    variant = scene.variants[0]
    problem = build_problem(scene, variant, 0.1)
    clock = time.process_time() - clock
    cut_peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 - start
    excitation = make_excitation(scene, variant, problem, variant.sources[0].at)
    seats = [seat.at for seat in variant.seats]
    blocks = excitation_blocks(
        problem, [excitation], seats, pulse(200.0, problem.time_step), scene.run.max_frequency, None, SINGLE, 1000, 1
    )
    whole = size(problem, set())
    problem.release()  # as a run does
    for block in blocks:
        block.advance(4)
    count = len(problem.cells.volume)
    seen: set[int] = set()
    tables = [(b.state, b.air, b.walls, b.links, b.points, b.maps) for b in blocks]
    simulation = size(tables, seen) / count
    room = size(problem, seen) / count
    held = (resident() - start) / count
    peak = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 - start) / count
    estimate = memory_bytes(problem, 1, 0, "single") / count
    print(
        f"  {count:11,} {simulation:8.1f} - {FREE} = {simulation - FREE:6.1f} {room:6.1f} ({whole / count:5.0f}) "
        f"{simulation - FREE + room:6.1f} {held:8.0f} "
        f"{cut_peak / count:10.0f} {peak:8.0f} {estimate:9.0f} {clock:8.1f}"
    )


def main() -> None:
    """Read the command line and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("cells", nargs="*", type=int, default=SIZES)
    parser.add_argument("--smoke", action="store_true")
    parser.add_argument("--one", type=int, help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.one:
        one(chosen.one)
        return
    print("Bytes a cell; one excitation, single precision; last column: processor seconds to cut the room")
    print(
        "        cells     simulation beyond 12   room  (before)  sum     held   cut peak     peak  estimate  seconds"
    )
    for cells in (3000, 20_000) if chosen.smoke else chosen.cells:
        command = [sys.executable, __file__, "--one", str(cells)]
        print(subprocess.run(command, check=True, capture_output=True, text=True).stdout, end="", flush=True)


if __name__ == "__main__":
    main()
