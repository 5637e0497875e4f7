"""Make tests/data/fe-*.npz: finite-element responses of invented rooms, each with its scene file.

    python tests/data/make_fe_references.py [divided unit strong attic] [--order 4] [--folder tests/data]

fe-unit.npz was made with --order 3, the others with 4.
Each file holds f (Hz), H_NAME (seat, frequency) for every variant NAME of the scene, Pa/(m³/s), the scene's text,
and order, the polynomial order. See FE-ROOMS.md.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from finite_elements import Air, Point, RoomMesh, ThinPartition, transfer
from numpy.typing import NDArray

FREQUENCY = np.arange(20.0, 181.0, 2.0)
SAMPLES = np.concatenate([np.arange(20.0, 100.0, 10.0), np.arange(100.0, 184.0, 6.0)])
"""Hz; where full systems are solved."""
AIR = Air()
HEAD = 'scene = 1\ntitle = "{title}"\n\n[air]\nspeed_of_sound = 343.2\ndensity = 1.204\n\n'
RUN = "\n[run]\nmax_frequency = 200.0\ngrid = 0.1\nduration = 2.5\n"
Admittance = Callable[[float], complex]


def hard(ratio: float) -> Admittance:
    """Real admittance from the ratio rho c Y."""
    return lambda f: ratio / (AIR.density * AIR.speed_of_sound)


def branch(mass: float, resistance: float, stiffness: float) -> Admittance:
    """One series branch."""
    return lambda f: 1.0 / (2j * np.pi * f * mass + resistance + stiffness / (2j * np.pi * f))


def material(name: str, ratio: float | None = None, values: tuple[float, float, float] | None = None) -> str:
    """A material's lines in the scene file."""
    if values is None:
        return f'[materials."{name}"]\nadmittance_ratio = {ratio}\nsource = "invented"\n'
    return f'[materials."{name}"]\nbranches = [{branches(values)}]\nsource = "invented"\n'


def branches(values: tuple[float, float, float]) -> str:
    """One branch as the scene file writes it."""
    mass, resistance, stiffness = (float(v) for v in values)
    return f"{{ mass = {mass!r}, resistance = {resistance!r}, stiffness = {stiffness!r} }}"


def places(source: Point, seats: list[Point]) -> str:
    """Source and seats in the scene file."""
    text = f'[[sources]]\nname = "S"\nat = {list(source)}\n'
    return text + "".join(f'[[seats]]\nname = "R{n}"\nat = {list(at)}\n' for n, at in enumerate(seats))


def plan(length: float, width: float) -> str:
    """A rectangular floor; wall 1 is y = 0, wall 2 x = length, wall 3 y = width, wall 4 x = 0."""
    return f"[room]\nplan = [[0, 0], [{length}, 0], [{length}, {width}], [0, {width}]]\n"


CEILING = (9.0, 900.0, 9.0 * (2 * np.pi * 70.0) ** 2)


def divided(order: int) -> tuple[str, dict[str, NDArray]]:
    """Two rooms joined by a doorway in a thin partition."""
    x = [0, 0.8, 1.6, 2.3, 2.7, 2.86, 2.9, 2.94, 3.1, 3.6, 4.4, 5.3, 6.1]
    y = [0, 0.65, 1.1, 1.26, 1.3, 1.34, 1.75, 2.16, 2.2, 2.24, 2.5, 3.3, 4.2]
    z = [0, 0.9, 1.8, 1.96, 2.0, 2.04, 2.5]
    height = 2.5
    lines = (np.array(x), np.array(y), np.array(z) / height)
    opening = ((1.3, 0.0), (2.2, 2.0 / height))
    names = {"-z": "floor", "+z": "ceiling"}
    mesh = RoomMesh(
        lines, order, lambda v: height, ThinPartition(x.index(2.9), opening), lambda side, at: names.get(side, "walls")
    )
    source, seats = (0.7, 0.5, 0.4), [(1.9, 2.9, 1.1), (4.6, 1.4, 1.2), (5.2, 3.3, 1.1)]
    y_of = {"floor": hard(0.01), "walls": hard(0.015), "ceiling": branch(*CEILING)}
    text = HEAD.format(title="Divided") + plan(6.1, 4.2) + f"height = {height}\n"
    text += '[surfaces]\nfloor = "boards"\nceiling = "battens"\nwalls = "plaster"\n'
    text += material("boards", 0.01) + material("plaster", 0.015) + material("battens", values=CEILING)
    text += '[[sheets]]\nname = "divider"\nfrom = [2.9, 0.0, 0.0]\nto = [2.9, 4.2, 2.5]\n'
    text += 'openings = [{ from = [1.3, 0.0], to = [2.2, 2.0] }]\nmaterial = "plaster"\n'
    text += places(source, seats) + RUN
    return text, {"default": transfer(mesh, y_of, source, seats, FREQUENCY, SAMPLES)}


UNIT, SMALL = (0.5, 400.0, 12000.0), (0.1, 40.0, 0.0)


def unit(order: int) -> tuple[str, dict[str, NDArray]]:
    """A box with a 0.3 m unit in a corner or a 0.2 m unit of very low impedance, moving as one or reacting locally."""
    x = [0, 0.24, 0.3, 0.36, 0.44, 0.5, 0.56, 1.0, 1.8, 2.6, 3.5, 4.4, 5.3]
    y = [0, 0.06, 0.3, 0.9, 1.8, 2.8, 3.9]
    z = [0, 0.24, 0.3, 0.36, 0.44, 0.5, 0.56, 0.9, 1.65, 2.45]
    spots = {"unit": (0.0, 0.3), "small": (0.3, 0.5)}

    def surface(side: str, at: Point) -> str:
        for name, (low, high) in spots.items():
            if side == "-y" and low < at[0] < high and low < at[2] < high:
                return name
        return {"-z": "floor", "+z": "ceiling"}.get(side, "walls")

    mesh = RoomMesh((np.array(x), np.array(y), np.array(z)), order, surface=surface)
    source, seats = (4.7, 0.6, 0.4), [(1.4, 2.3, 1.1), (3.1, 2.9, 1.2), (0.9, 0.7, 1.0)]
    base = {"floor": hard(0.01), "walls": hard(0.012), "ceiling": hard(0.02)}
    base |= {name: base["walls"] for name in spots}
    found = {"bare": transfer(mesh, base, source, seats, FREQUENCY, SAMPLES)}
    for name, values in (("unit", UNIT), ("small", SMALL)):
        rest = {key: y_of for key, y_of in base.items() if key != name}
        y_unit = {name: branch(*values)}
        found[name + " as one"] = transfer(mesh, rest, source, seats, FREQUENCY, SAMPLES, y_unit)
        found[name + " local"] = transfer(mesh, rest | y_unit, source, seats, FREQUENCY, SAMPLES)
    text = HEAD.format(title="Unit") + plan(5.3, 3.9) + "height = 2.45\n"
    text += '[surfaces]\nfloor = "boards"\nceiling = "board"\nwalls = "plaster"\n'
    text += material("boards", 0.01) + material("plaster", 0.012) + material("board", 0.02)
    things = []
    for name, values in (("unit", UNIT), ("small", SMALL)):
        low, high = spots[name]
        for motion, label in (("diaphragm", "as one"), ("local", "local")):
            things.append(f"{name} {label}")
            text += f'[devices."device {name} {label}"]\nkind = "branches"\nbranches = [{branches(values)}]\n'
            text += f'motion = "{motion}"\n[[absorbers]]\nname = "{name} {label}"\non = "wall 1"\n'
            text += f'device = "device {name} {label}"\nfrom = [{low}, {low}]\nto = [{high}, {high}]\n'
    text += places(source, seats)
    for keep in ("bare", *things):
        text += f'[[variants]]\nname = "{keep if keep == "bare" else "with " + keep}"\n'
        text += f"without = {[t for t in things if t != keep]}\n".replace("'", '"')
    return text + RUN, {k if k == "bare" else "with " + k: v for k, v in found.items()}


PANEL = (12.0, 1500.0, 12.0 * (2 * np.pi * 50.0) ** 2)


def strong(order: int) -> tuple[str, dict[str, NDArray]]:
    """A box with strongly absorbing walls, one of them resonant."""
    size = (4.7, 3.6, 2.6)
    lines = tuple(
        np.concatenate([[0.0], np.linspace(0.12, s - 0.12, n), [s]]) for s, n in zip(size, (7, 6, 5), strict=True)
    )
    names = {"-x": "absorber", "+y": "panel"}
    mesh = RoomMesh(lines, order, surface=lambda side, at: names.get(side, "walls"))
    source, seats = (0.7, 0.6, 0.4), [(3.6, 2.5, 1.2), (2.1, 1.4, 1.1), (1.2, 2.9, 1.6)]
    y_of = {"absorber": hard(0.1), "walls": hard(0.05), "panel": branch(*PANEL)}
    text = HEAD.format(title="Strong") + plan(*size[:2]) + f"height = {size[2]}\n"
    text += '[surfaces]\nfloor = "soft"\nceiling = "soft"\nwalls = "soft"\n"wall 4" = "softer"\n"wall 3" = "panel"\n'
    text += material("soft", 0.05) + material("softer", 0.1) + material("panel", values=PANEL)
    return text + places(source, seats) + RUN, {"default": transfer(mesh, y_of, source, seats, FREQUENCY, SAMPLES)}


def attic(order: int) -> tuple[str, dict[str, NDArray]]:
    """A room under one slope with a resonant ceiling."""
    low, high, width, length = 1.4, 3.0, 4.2, 5.0
    lines = (np.linspace(0, length, 8), np.linspace(0, width, 8), np.linspace(0, 1, 5))
    names = {"-z": "floor", "+z": "ceiling"}
    mesh = RoomMesh(
        lines, order, lambda v: low + (high - low) * v / width, surface=lambda side, at: names.get(side, "walls")
    )
    source, seats = (0.6, 3.5, 0.5), [(3.9, 2.1, 1.2), (2.2, 1.3, 1.1), (4.2, 3.4, 1.7)]
    y_of = {"floor": hard(0.01), "walls": hard(0.015), "ceiling": branch(*CEILING)}
    text = HEAD.format(title="Attic") + plan(length, width)
    text += f"ceiling = [[[0, 0, {low}], [{length}, 0, {low}], [0, {width}, {high}]]]\n"
    text += '[surfaces]\nfloor = "boards"\nceiling = "battens"\nwalls = "plaster"\n'
    text += material("boards", 0.01) + material("plaster", 0.015) + material("battens", values=CEILING)
    return text + places(source, seats) + RUN, {"default": transfer(mesh, y_of, source, seats, FREQUENCY, SAMPLES)}


ROOMS = {"divided": divided, "unit": unit, "strong": strong, "attic": attic}


def main() -> None:
    """Make the files asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rooms", nargs="*", default=list(ROOMS))
    parser.add_argument("--order", type=int, default=4)
    parser.add_argument("--folder", type=Path, default=Path(__file__).parent)
    options = parser.parse_args()
    for name in options.rooms:
        start = time.perf_counter()
        text, found = ROOMS[name](options.order)
        fields = {"H_" + key: values for key, values in found.items()}
        np.savez_compressed(options.folder / f"fe-{name}.npz", f=FREQUENCY, scene=text, order=options.order, **fields)
        print(f"{name}: {time.perf_counter() - start:.0f} s", flush=True)


if __name__ == "__main__":
    main()
