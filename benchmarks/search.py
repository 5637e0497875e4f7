"""Seconds of the placement search over all singles, pairs and triples, against one dense solve a design in NumPy.

    python benchmarks/search.py [PORTS] [MOST]

Invented matrices (timing does not depend on the values); 4 gains, 561 frequencies, 2 seats. The first search compiles.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from fdtd.placement.objectives import make_axis, objectives
from fdtd.placement.search import search
from fdtd.placement.study import Design, SearchInput, design_response

GAINS, SEATS, PLAIN = 4, 2, 200


def invented(ports: int) -> SearchInput:
    """Random matrices of the right shapes."""
    rng = np.random.default_rng(1)
    frequency = np.arange(20.0, 160.1, 0.25)

    def draw(*shape: int) -> np.ndarray:
        return rng.standard_normal((len(frequency), *shape, 2)).view(complex)[..., 0]

    admittance = 0.2 * np.moveaxis(draw(GAINS, ports), 1, 0)[None]
    return SearchInput(frequency, draw(SEATS), draw(ports), draw(ports, SEATS), 0.1 * draw(ports, ports), admittance)


def main() -> None:
    """Print the table."""
    ports = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    most = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    study = invented(ports)
    start = time.perf_counter()
    search(invented(4), most=2)
    print(f"compiled or read from the cache, {time.perf_counter() - start:.1f} s")
    start = time.perf_counter()
    result = search(study, most)
    taken = time.perf_counter() - start
    counts = ", ".join(f"{one.tried:,} of {one.possible:,} with {one.count}" for one in result.searched)
    print(f"{counts}\n{result.number:,} designs in {taken:.2f} s: {1e6 * taken / result.number:.1f} us a design")
    axis = make_axis(study.frequency, study.weights)
    start = time.perf_counter()
    for k in range(PLAIN):
        at = (k % (ports - 2), ports - 2, ports - 1)
        objectives(design_response(study, Design(at, (0, 0, 0), (k % GAINS,) * 3)), axis)
    plain = (time.perf_counter() - start) / PLAIN
    print(f"plain: {1e6 * plain:.0f} us a design of 3 units, {plain * result.number / taken:.0f} times as long")


if __name__ == "__main__":
    main()
