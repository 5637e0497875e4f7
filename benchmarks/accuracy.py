"""Accuracy against closed forms, published eigenvalues and the project's own finite-element solutions.

    python benchmarks/accuracy.py            prints the tables of docs/accuracy.md

Nothing passes or fails here; tests/exact holds the same claims with tolerances.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fdtd import workflow
from fdtd.results.result import RunResult
from fdtd.scene.read import read_scene_text
from fdtd.simulation.device import Execution

DATA = Path(__file__).resolve().parents[1] / "tests" / "data"
AIR = "scene = 1\n[air]\nspeed_of_sound = {c}\ndensity = 1.204\n"
RIGID = '[surfaces]\nfloor = "rigid"\nceiling = "rigid"\nwalls = "rigid"\n'
POINTS = '[[sources]]\nname = "s"\nat = {source}\n' + "{seats}"
ELL = ((0.0, 0.0), (7.2, 0.0), (7.2, 3.1), (4.1, 3.1), (4.1, 5.6), (0.0, 5.6))
TURNS = (5.0, 17.0, 30.0, 45.0)
"""Degrees by which the L-shape is turned, so that all its walls cross the cells aslant."""


def mode_errors(room: str, exact: NDArray[np.float64], grid: float, c: float = 343.2) -> NDArray[np.float64]:
    """Errors of the lowest rigid modes in per cent; room : the [room] table and what else the scene needs."""
    points = POINTS.format(source=[0.2, 0.2, 0.05], seats='[[seats]]\nname = "a"\nat = [0.4, 0.3, 0.05]\n')
    scene = read_scene_text(AIR.format(c=c) + room + RIGID + points)
    found = workflow.modes(scene, count=len(exact), grid=grid).frequency
    return np.asarray(100.0 * (found / exact - 1.0), dtype=float)


def box_modes(sides: tuple[float, float, float], c: float, count: int) -> NDArray[np.float64]:
    """Closed form (Rayleigh), the zero left out."""
    n = np.stack(np.meshgrid(*[np.arange(12)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    return np.sort(0.5 * c * np.sqrt(((n / np.array(sides)) ** 2).sum(axis=1)))[1 : count + 1]


def print_modes() -> None:
    """Rigid rooms."""
    print("Rigid modes, largest error in per cent")
    for name, sides, c in (
        ("Kuttruff's 4.7 x 4.1 x 3.1 m", (4.7, 4.1, 3.1), 340.0),
        ("6.43 x 4.27 x 2.61 m", (6.43, 4.27, 2.61), 343.2),
    ):
        x, y, z = sides
        room = f"[room]\nplan = [[0, 0], [{x}, 0], [{x}, {y}], [0, {y}]]\nheight = {z}\n"
        error = mode_errors(room, box_modes(sides, c, 30), 0.1, c)
        print(f"  box {name}, h = 0.1 m, 30 modes: {np.abs(error).max():.4f}")
    dauge = (
        np.sqrt([1.47562182408, 3.53403136678, np.pi**2, np.pi**2, 11.3894793979, 12.5723873200])
        * 343.2
        / (5.0 * np.pi)
    )
    for cells in (20, 40, 80):
        room = f"[room]\nplan = [[0, 0], [2.5, 0], [2.5, 2.5], [5, 2.5], [5, 5], [0, 5]]\nheight = {5 / cells}\n"
        error = mode_errors(room, dauge, 5.0 / cells)
        print(f"  Dauge's L-shape, {cells} cells along the side, six modes: " + " ".join(f"{e:+.4f}" for e in error))
    for h in (0.2, 0.1, 0.05):
        room = f"[room]\nplan = [[0, 0], [6, 0], [6, 4], [0, 4]]\nheight = {h}\n"
        thin_partition = f'[[sheets]]\nname = "half wall"\nfrom = [3, 0, 0]\nto = [3, 3, {h}]\n'
        print(
            f"  open partition, h = {h} m, 16.3643 Hz: "
            f"{mode_errors(room + thin_partition, np.array([16.3643]), h)[0]:+.4f}"
        )
    attic = np.array(json.loads((DATA / "modes.json").read_text())["rooms"]["attic"]["f"][1:])
    room = (
        "[room]\nplan = [[0, 0], [6, 0], [6, 4.2], [0, 4.2]]\nceiling = [[[0, 0, 1.4], [6, 0, 1.4], [0, 4.2, 3.0]]]\n"
    )
    for h in (0.2, 0.1):
        print(f"  attic, h = {h} m, 24 modes: {np.abs(mode_errors(room, attic, h)).max():.4f}")


def turned(point: tuple[float, ...], degrees: float) -> list[float]:
    """A point of the L-shape turned about the origin and moved so that the room has no negative coordinates."""
    cos, sin = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    x, y = cos * point[0] - sin * (point[1] - 5.6), sin * point[0] + cos * point[1]
    return [float(x), float(y), *point[2:]]


def ell_run(grid: float, precision: str, degrees: float = 0.0, live: bool = False) -> RunResult:
    """The two reference rooms as two variants of one scene, turned by so many degrees; live : with walls that take a
    third as much."""
    share = 3.0 if live else 1.0
    seats = "".join(
        f'[[seats]]\nname = "{k}"\nat = {turned(at, degrees)}\n'
        for k, at in enumerate([(5.9, 1.6, 1.1), (2.0, 4.6, 1.1), (3.0, 1.8, 1.1)])
    )
    stiff = [m * (2 * np.pi * f) ** 2 for m, f in ((9.0, 70.0), (12.0, 42.0))]
    text = (
        AIR.format(c=343.2)
        + f"""
[room]
plan = {[turned(corner, degrees) for corner in ELL]}
height = 2.5
[materials.floor]
admittance_ratio = {0.01 / share!r}
[materials.wall]
admittance_ratio = {0.015 / share!r}
[materials.roof]
branches = [{{ mass = 9.0, resistance = {900.0 / share!r}, stiffness = {stiff[0]!r} }}]
[materials.passive]
branches = [{{ mass = 12.0, resistance = 300.0, stiffness = {stiff[1]!r} }}]
[surfaces]
floor = "floor"
ceiling = "roof"
walls = "wall"
[[patches]]
name = "unit"
on = "wall 6"
from = [5.0, 0.0]
to = [5.6, 0.6]
material = "passive"
[[variants]]
name = "ell"
without = ["unit"]
[[variants]]
name = "ell-passive"
"""
        + POINTS.format(source=turned((0.8, 0.6, 0.5), degrees), seats=seats)
    )
    return workflow.run(
        read_scene_text(text), grid=grid, frequencies=(40.0,), duration=2.5, execution=Execution(precision)
    )


def print_transfer_functions() -> None:
    """Simulation against finite elements."""
    print("Simulation against finite elements, |dB error| median / 95 %, three seats")
    for grid, precision in ((0.15, "double"), (0.1, "double"), (0.1, "single")):
        result = ell_run(grid, precision)
        errors = []
        for variant in result.variants:
            reference = np.load(DATA / f"{variant.name}.npz")
            f = reference["f"]
            pick = np.searchsorted(result.frequency, f - 1e-6)
            errors.append(20.0 * np.log10(np.abs(variant.transfer[0][:, pick] / reference["H"])))
            for low, high in ((20, 100), (20, 160), (20, 180)):
                e = np.abs(errors[-1][:, (f >= low) & (f <= high)])
                place = f"{variant.name}, h = {grid} m, {precision}, {low}-{high} Hz"
                print(f"  {place}: {np.median(e):.4f} / {np.percentile(e, 95):.4f}")
        change = np.abs((errors[1] - errors[0])[:, (f >= 20) & (f <= 160)])
        place = f"on minus off, h = {grid} m, {precision}, 20-160 Hz"
        print(f"  {place}: {np.median(change):.4f} / {np.percentile(change, 95):.4f}")


def print_turned() -> None:
    """What walls that cross the cells aslant cost: the same room turned, against itself along the cells."""
    print("The L-shape turned against itself, |dB difference| median / 95 %, three seats")
    for grid, live in ((0.15, False), (0.1, False), (0.1, True)):
        along = ell_run(grid, "double", live=live)
        f = along.frequency
        for degrees in TURNS[1:2] if live else TURNS:
            aslant = ell_run(grid, "double", degrees, live)
            differences = [
                20.0 * np.log10(np.abs(b.transfer[0] / a.transfer[0]))
                for a, b in zip(along.variants, aslant.variants, strict=True)
            ]
            for what, difference in (("level", differences[0]), ("on minus off", differences[1] - differences[0])):
                for low, high in ((20, 100), (20, 180)):
                    d = np.abs(difference[:, (f >= low) & (f <= high)])
                    place = f"{what}, h = {grid} m, {degrees:g} degrees{', live' * live}, {low}-{high} Hz"
                    print(f"  {place}: {np.median(d):.3f} / {np.percentile(d, 95):.3f}")


if __name__ == "__main__":
    print_modes()
    print_transfer_functions()
    print_turned()
