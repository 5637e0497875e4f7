"""Time to a given accuracy: the whole run against a finite-element frequency sweep (scikit-fem) of the same room.

    python benchmarks/sweep.py               prints one table and the ratio
    python benchmarks/sweep.py --smoke       the same with few frequencies and one mesh: does it still work?

Both answer the same question: the level at three seats of an L-shaped room with a resonant ceiling, 20 to 160 Hz in
steps of 0.25 Hz, to 0.25 dB (95th percentile) of the reference in tests/data/ell.npz. The sweep has the choice of order
and mesh; its matrices are put together once, and only every `EVERY`-th frequency is solved and timed (each costs the
same). Nothing passes or fails here.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from accuracy import AIR, ELL, POINTS
from numpy.typing import NDArray
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from fdtd import workflow
from fdtd.scene.read import read_scene_text
from fdtd.simulation.device import SINGLE

REFERENCE = Path(__file__).resolve().parents[1] / "tests" / "data" / "ell.npz"
SPEED, DENSITY = 343.2, 1.204
LIMIT = 0.25
"""dB, 95th percentile that both have to reach."""
LOW, HIGH, STEP = 20.0, 160.0, 0.25
EVERY = 20
"""Every so many frequencies of the sweep are solved."""
LINES = ((0.0, 4.1, 7.2), (0.0, 3.1, 5.6), (0.0, 2.5))
"""m, planes that the room's walls lie on; the block x > 4.1, y > 3.1 is no air."""
THIN = (-0.24, -0.06, 0.06, 0.24)
"""m, further planes beside that edge."""
SOURCE, SEATS = (0.8, 0.6, 0.5), ((5.9, 1.6, 1.1), (2.0, 4.6, 1.1), (3.0, 1.8, 1.1))
ROOF = (9.0, 900.0, 9.0 * (2.0 * np.pi * 70.0) ** 2)
"""kg/m², Pa·s/m, Pa/m of the ceiling."""
FLOOR, WALL = 0.01, 0.015
"""Admittances as shares of that of air."""


@dataclass(frozen=True)
class Row:
    """error : dB, median and 95th percentile; seconds : for the whole band; unknowns : pressures."""

    name: str
    error: tuple[float, float]
    seconds: float
    unknowns: int


def scene_text() -> str:
    """The reference room."""
    seats = "".join(f'[[seats]]\nname = "{k}"\nat = {list(at)}\n' for k, at in enumerate(SEATS))
    mass, resistance, stiffness = ROOF
    return (
        AIR.format(c=SPEED)
        + f"""
[room]
plan = {[list(corner) for corner in ELL]}
height = 2.5
[materials.floor]
admittance_ratio = {FLOOR}
[materials.wall]
admittance_ratio = {WALL}
[materials.roof]
branches = [{{ mass = {mass}, resistance = {resistance}, stiffness = {stiffness!r} }}]
[surfaces]
floor = "floor"
ceiling = "roof"
walls = "wall"
"""
        + POINTS.format(source=list(SOURCE), seats=seats)
    )


def error(frequency: NDArray[np.float64], found: NDArray[np.complex128]) -> tuple[float, float]:
    """Median and 95th percentile of the level error, dB, where the reference has the frequency."""
    reference = np.load(REFERENCE)
    row = {round(float(f), 6): k for k, f in enumerate(reference["f"])}
    pairs = [(k, row[round(float(f), 6)]) for k, f in enumerate(frequency) if round(float(f), 6) in row]
    mine, theirs = np.transpose(pairs)
    off = np.abs(20.0 * np.log10(np.abs(found[:, mine] / reference["H"][:, theirs])))
    return float(np.median(off)), float(np.percentile(off, 95))


def simulate(grid: float, repeats: int) -> Row:
    """The whole run, from the scene's text to transfer functions; the fastest of `repeats`."""
    seconds = []
    for _ in range(repeats):
        start = time.perf_counter()
        scene = read_scene_text(scene_text())
        result = workflow.run(scene, grid=grid, frequencies=(), execution=SINGLE, duration=2.5)
        seconds.append(time.perf_counter() - start)
    band = (result.frequency >= LOW) & (result.frequency <= HIGH)
    cells = len(result.variants[0].cells.volume)
    off = error(result.frequency[band], result.variants[0].transfer[0][:, band])
    return Row(f"this program, cells of {grid:g} m", off, min(seconds), cells)


def mesh(size: float, graded: bool):
    """Blocks of at most `size` m in the L; graded : thinner ones beside the edge that stands out into the room."""
    import skfem

    lines = []
    for number, planes in enumerate(LINES):
        if graded and number < 2:
            planes = tuple(sorted({*planes, *(planes[1] + d for d in THIN)}))
        parts = [
            np.linspace(a, b, max(1, int(np.ceil((b - a) / size - 1e-9))) + 1)[:-1]
            for a, b in zip(planes, planes[1:], strict=False)
        ]
        lines.append(np.append(np.concatenate(parts), planes[-1]))
    box = skfem.MeshHex.init_tensor(*lines)
    middle = box.p[:, box.t].mean(axis=1)
    return box.restrict(np.flatnonzero(~((middle[0] > LINES[0][1]) & (middle[1] > LINES[1][1])))).with_boundaries(
        {"floor": lambda x: x[2] < 1e-9, "roof": lambda x: x[2] > LINES[2][-1] - 1e-9}
    )


def sweep(element: str, size: float, graded: bool, every: int = EVERY) -> Row:
    """(K - k² M + j omega rho sum Y B) p = j omega rho b, one factorisation a frequency (SuperLU)."""
    import skfem
    from skfem.models.poisson import laplace, mass

    start = time.perf_counter()
    room = mesh(size, graded)
    kind = getattr(skfem, element)()
    basis = skfem.Basis(room, kind)
    stiffness, inertia = laplace.assemble(basis), mass.assemble(basis)
    sides = {"all": skfem.FacetBasis(room, kind)}
    sides |= {name: skfem.FacetBasis(room, kind, facets=name) for name in ("floor", "roof")}
    wall, floor, roof = (mass.assemble(sides[name]) for name in ("all", "floor", "roof"))
    wall = wall - floor - roof
    probe = basis.probes(np.array((SOURCE, *SEATS)).T).tocsr()
    load = probe[[0]].toarray()[0]
    together = time.perf_counter() - start
    frequency = np.arange(LOW, HIGH + 1e-9, STEP)
    asked = frequency[::every]
    found = np.zeros((len(SEATS), len(asked)), dtype=complex)
    start = time.perf_counter()
    for k, f in enumerate(asked):
        omega = 2.0 * np.pi * f
        heavy, lossy, stiff = ROOF
        ceiling = DENSITY * SPEED / (1j * omega * heavy + lossy + stiff / (1j * omega))
        walls = (1j * omega / SPEED) * (FLOOR * floor + WALL * wall + ceiling * roof)
        system = csc_array(stiffness - (omega / SPEED) ** 2 * inertia + walls)
        factors = splu(system, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.1, options={"SymmetricMode": True})
        found[:, k] = probe[1:] @ factors.solve(1j * omega * DENSITY * load)
    seconds = together + (time.perf_counter() - start) * len(frequency) / len(asked)
    name = f"sweep, {element}, {size:g} m" + (", graded" if graded else "")
    return Row(name, error(asked, found), seconds, len(load))


def main() -> None:
    """Print the table."""
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("--smoke", action="store_true", help="few frequencies, one mesh, one cell size")
    smoke = reader.parse_args().smoke
    simulations = [simulate(h, 1 if smoke else 3) for h in ((0.3,) if smoke else (0.16, 0.14, 0.12, 0.11, 0.1))]
    meshes = (
        [("ElementHex2", 1.2, True)]
        if smoke
        else [
            ("ElementHexS2", 0.4, False),
            ("ElementHex2", 0.4, False),
            ("ElementHexS2", 0.4, True),
            ("ElementHexS2", 0.34, True),
            ("ElementHex2", 0.5, True),
            ("ElementHex2", 0.4, True),
        ]
    )
    sweeps = [sweep(*one, every=140 if smoke else EVERY) for one in meshes]
    print(f"{'':40}{'unknowns':>10}{'median dB':>11}{'95 % dB':>9}{'seconds':>10}")
    for row in simulations + sweeps:
        print(f"{row.name:40}{row.unknowns:>10,}{row.error[0]:>11.3f}{row.error[1]:>9.3f}{row.seconds:>10.2f}")
    good = [[row for row in rows if row.error[1] <= LIMIT] for rows in (simulations, sweeps)]
    if all(good):
        mine, theirs = (min(rows, key=lambda row: row.seconds) for rows in good)
        print(
            f"\nTo {LIMIT} dB: {mine.name} {mine.seconds:.2f} s, {theirs.name} {theirs.seconds:.1f} s: "
            f"{theirs.seconds / mine.seconds:.0f} times less"
        )
    else:
        print(f"\nNot both reach {LIMIT} dB with what was tried.")


if __name__ == "__main__":
    main()
