"""What loudspeaker places cost on top of a placement study: `fdtd arrange` against `fdtd place`, simulation and search.

    python benchmarks/arrange.py [--grid 0.1] [--spacing 1.1] [--count 2] [--device cpu|gpu]

The L-shaped living room with its candidate places and pairs of units, first by itself, then with the loudspeaker at
every place of the floor, `spacing` m apart. One after the other in one run; the ratio is what counts.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from fdtd.scene.read import read_scene
from fdtd.simulation.device import Execution
from fdtd.study.arrange import arrangement_study
from fdtd.study.place import place

SCENE = Path(__file__).parents[1] / "scenes" / "l-shaped-living-room.toml"


def main() -> None:
    """Time both, print seconds and their ratio."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--grid", type=float, default=0.1)
    parser.add_argument("--spacing", type=float, default=1.1)
    parser.add_argument("--count", type=int, default=2)
    parser.add_argument("--device", default="cpu", choices=("cpu", "gpu"))
    asked = parser.parse_args()
    scene, execution = read_scene(SCENE), Execution("single", asked.device)
    start = time.perf_counter()
    alone = place(scene, grid=asked.grid, most=asked.count, execution=execution)
    middle = time.perf_counter()
    both = arrangement_study(scene, grid=asked.grid, spacing=asked.spacing, most=asked.count, execution=execution)
    end = time.perf_counter()
    print(f"{len(alone.places)} places for up to {asked.count} units, {asked.grid:g} m cells: {middle - start:.1f} s")
    print(f"the same with {len(both.positions)} places for the loudspeaker: {end - middle:.1f} s")
    print(f"ratio {(end - middle) / (middle - start):.2f}")


if __name__ == "__main__":
    main()
