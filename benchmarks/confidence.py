"""Are the ranges of a placement study right, and how good is its advice? Many rooms that might be the true one.

    python benchmarks/confidence.py [--rooms 70] [--grid 0.2] [--perturbed-rooms 10] [--device cpu|gpu]

Three scenes: the L-shaped living room and the attic that are shipped, and a plain box. Each study gives ranges and one
advised place as it always does. Then so many true rooms are drawn from what is said to be unknown, by other random
numbers, and every place is simulated in each of them. Coverage: how often the benefit in a true room lies in the range
(80 % is right). Regret: dB of benefit that the best place of the true room has over the one that was advised, and over
what three rules of thumb say. All numbers of rooms and units are invented.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fdtd.placement.study import Design
from fdtd.scene.read import read_scene, read_scene_text
from fdtd.scene.schema import Scene
from fdtd.scene.shape import Shape
from fdtd.simulation.device import Execution
from fdtd.study.design_figures import first_choice
from fdtd.study.loudest import loudest
from fdtd.study.perturb import Doubt
from fdtd.study.place import PlacementStudy, place
from fdtd.study.robust import Robustness, measure_rooms, perturbed, robustness
from fdtd.study.shortlist import Scores, ranked_singles, shortlist

SCENES = Path(__file__).parents[1] / "scenes"
SPACING = 0.8
"""m between places: fewer than a study has, so that each can be simulated in every true room."""
TRUE_SEED = 1000
"""Of the true rooms; studies draw theirs from seed 1."""
BOX = """scene = 1
title = "Box with two traps"
[room]
plan = [[0, 0], [5.3, 0], [5.3, 3.9], [0, 3.9]]
height = 2.5
[surfaces]
floor = "boards"
ceiling = "plaster"
walls = "plaster"
[materials.boards]
admittance_ratio = 0.015
[materials.plaster]
branches = [{ mass = 11.0, resistance = 2200.0, stiffness = 1.1e6 }]
[[sources]]
name = "left"
at = [0.6, 1.1, 0.6]
[[sources]]
name = "right"
at = [0.6, 2.8, 0.6]
[[seats]]
name = "sofa"
at = [3.9, 1.9, 1.1]
[[seats]]
name = "chair"
at = [3.1, 3.1, 1.1]
[devices.trap]
kind = "plate"
mass = 3.2
depth = 0.18
loss = 0.35
motion = "diaphragm"
[spots]
device = "trap"
on = ["walls"]
size = [0.8, 1.2]
height = [0.0, 1.4]
count = 2
gains = [1.0]
[run]
grid = 0.1
max_frequency = 180
"""


@dataclass(frozen=True)
class Tested:
    """Of one scene. inside : (true room, design) whether the benefit lies in the range; regret : of what was advised
    and of each rule of thumb, (true room,) dB"""

    title: str
    inside: NDArray[np.bool_]
    regret: dict[str, NDArray[np.float64]]


def scenes() -> list[Scene]:
    """Three kinds of room, with fewer places than usual."""
    found = [read_scene(SCENES / "l-shaped-living-room.toml"), read_scene(SCENES / "attic-with-loft.toml")]
    found.append(read_scene_text(BOX))
    return [replace(scene, spots=replace(scene.spots, spacing=SPACING)) for scene in found if scene.spots is not None]


def corner_nearest_loudspeaker(study: PlacementStudy) -> int:
    """The place in a corner (else at an edge) that is nearest to the first loudspeaker."""
    rank = {"corner": 0, "edge": 1, "face": 2}
    best = min(rank[place.corner] for place in study.places)
    source = np.array(study.variant.sources[0].at)
    return min(
        (k for k, place in enumerate(study.places) if rank[place.corner] == best),
        key=lambda k: float(np.linalg.norm(source - study.places[k].at)),
    )


def loudest_by_meter(study: PlacementStudy) -> int:
    """The place where the tone that rings worst is loudest."""
    level = loudest(study.scene, study.variant, grid=study.spacing).level_at([place.at for place in study.places])
    return int(np.argmax(level))


def middle_of_longest_wall(study: PlacementStudy) -> int:
    """The place nearest to the middle of the longest wall, on the floor."""
    ends = max(Shape(study.scene.room).walls, key=lambda pair: float(np.linalg.norm(np.subtract(*pair))))
    middle = np.array([*np.mean(ends, axis=0), 0.0])
    return int(np.argmin([np.linalg.norm(middle - place.at) for place in study.places]))


RULES: dict[str, Callable[[PlacementStudy], int]] = {
    "corner nearest the loudspeaker": corner_nearest_loudspeaker,
    "loudest place by meter": loudest_by_meter,
    "middle of the longest wall": middle_of_longest_wall,
}


def tested(scene: Scene, rooms: int, grid: float, perturbed_rooms: int, execution: Execution) -> Tested:
    """Study the scene, then look at it in many true rooms."""
    study = place(scene, grid=grid, execution=execution)
    robust = robustness(study, perturbed_rooms=perturbed_rooms, execution=execution)
    singles = {design.ports[0]: design for design in ranked_singles(study.found)}
    chosen = {"as advised": first_choice(study, robust).ports[0]}
    chosen |= {name: rule(study) for name, rule in RULES.items()}
    ports = range(len(study.places))
    inside, regret = [], {name: [] for name in chosen}
    ranges = _ranges(study, robust)
    true = [perturbed(study, ports, Doubt(), (TRUE_SEED, k)) for k in range(rooms)]
    for given in measure_rooms(study, ports, true, study.spacing, execution):
        scores = Scores(given)
        inside.append([low <= scores.of(design).benefit <= high for design, (low, high) in ranges.items()])
        benefit = {port: scores.of(design).benefit for port, design in singles.items()}
        for name, port in chosen.items():
            regret[name].append(max(benefit.values()) - benefit.get(port, 0.0))
    return Tested(scene.title, np.array(inside), {name: np.array(values) for name, values in regret.items()})


def _ranges(study: PlacementStudy, robust: Robustness) -> dict[Design, tuple[float, float]]:
    """dB, low and high end of every design of the shortlist."""
    counts = zip(shortlist(study.found, study.places).counts[1:], robust.sure.counts, strict=True)
    known = {design: count.benefit for design, count in counts}
    known |= {design: place.benefit for design, place in robust.singles.items()}
    return {design: (span.low, span.high) for design, span in known.items()}


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rooms", type=int, default=70)
    parser.add_argument("--grid", type=float, default=0.2)
    parser.add_argument("--perturbed-rooms", type=int, default=10)
    parser.add_argument("--device", default="cpu")
    given = parser.parse_args()
    execution, found = Execution("single", given.device), []
    for scene in scenes():
        start = time.perf_counter()
        found.append(tested(scene, given.rooms, given.grid, given.perturbed_rooms, execution))
        print(f"{scene.title}: {given.rooms} true rooms in {time.perf_counter() - start:.0f} s")
        print(f"  in the range: {100 * found[-1].inside.mean():.0f} %")
        for name, regret in found[-1].regret.items():
            print(f"  {name}: {_regret(regret)}", flush=True)
    print(f"All: in the range {100 * np.concatenate([one.inside.ravel() for one in found]).mean():.0f} %")
    for name in found[0].regret:
        print(f"  {name}: {_regret(np.concatenate([one.regret[name] for one in found]))}")


def _regret(values: NDArray[np.float64]) -> str:
    return f"regret {values.mean():.2f} dB in the mean, below {np.quantile(values, 0.95):.2f} dB in 95 % of the rooms"


if __name__ == "__main__":
    main()
