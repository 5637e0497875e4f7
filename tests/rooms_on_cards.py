"""The same lanes marched on the processor and on a card, for the tests of this folder; also run by itself under the
simulator: python rooms_on_cards.py."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from fdtd.march.block import LaneBlock
from fdtd.march.gpu import CardLanes
from fdtd.march.signals import pulse
from fdtd.model.lanes import make_lane
from fdtd.model.problem import build_problem
from fdtd.scene.read import read_scene

SCENE = Path(__file__).resolve().parents[1] / "scenes" / "l-shaped-living-room.toml"
TOP = 100.0


def both(spacing: float, lanes: int, steps: tuple[int, ...], precision: str, maps: bool = True) -> dict[str, float]:
    """Largest differences, relative to the largest value, of seats, maps and strength of the shipped scene: walls with
    branches, a fill, a moving face with electronics, sources at points and on a port."""
    scene = read_scene(SCENE)
    variant = scene.variants[-1]
    problem = build_problem(scene, variant, spacing)
    lane = make_lane(scene, variant, problem, variant.sources[0].at)
    port = lane.diaphragms[0].port
    places = (variant.sources[0].at, port, variant.seats[0].at)
    chosen = [replace(lane, source=places[k % 3], diaphragms=lane.diaphragms[: 1 - k % 2]) for k in range(lanes)]
    seats, signal = [*(seat.at for seat in variant.seats), port], pulse(TOP, problem.time_step)
    frequency = np.array([40.0, 60.0]) if maps else None
    usual = LaneBlock(problem, chosen, seats, signal, TOP, frequency, "double", map_steps=sum(steps), every=2)
    card = CardLanes(problem, chosen, seats, signal, TOP, frequency, precision, map_steps=sum(steps), every=2)
    rows = [(usual.advance(count), card.advance(count)) for count in steps]
    a, b = (np.concatenate(x) for x in zip(*rows, strict=True))
    assert a.shape == b.shape
    found = {"seats": _apart(a, b), "strength": abs(card.strength() / usual.strength() - 1.0)}
    if maps:
        found["maps"] = _apart(usual.map_sums(), card.map_sums())
    return found


def _apart(a: np.ndarray, b: np.ndarray) -> float:
    return float(np.abs(a - b).max() / np.abs(a).max())


if __name__ == "__main__":
    for number in (2, 9):
        differences = both(1.2, number, (3, 2), "double")
        print(number, {k: f"{v:.3g}" for k, v in differences.items()})
        assert max(differences["seats"], differences["strength"]) < 1e-10
        assert differences["maps"] < 3e-7  # sums are kept as complex64
