"""How a simulation is shared out among excitations, threads and precisions does not change what it finds.

Set-up: random rooms (tests/random_rooms.py) and an L-shaped room. Exact: one excitation among several equals the
excitation alone; any
number of threads gives the same; single precision is double precision but for rounding.
Tolerance: 1e-12 of the largest pressure in double precision (rounding; the order of sums may differ); 0.02 dB between
single and
double precision 20-200 Hz where the level is within 30 dB of the seat's mean (in deeper nulls a difference is no
error).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from random_rooms import points_in_air, random_room
from rooms import DENSITY, SPEED, box_plan, level_error, make_scene, problem_of, resonant

from fdtd.model.excitations import make_excitation
from fdtd.model.problem import build_problem
from fdtd.physics.admittance import Branch, resistive
from fdtd.scene.schema import Absorber, Device, Rectangle
from fdtd.simulation.device import DOUBLE, Execution
from fdtd.simulation.signals import pulse
from fdtd.simulation.stepper import ExcitationBlock, simulate
from fdtd.simulation.transfer import transfer_functions

ELL = ((0.0, 0.0), (4.2, 0.0), (4.2, 2.1), (2.6, 2.1), (2.6, 3.3), (0.0, 3.3))


@pytest.mark.parametrize("seed", [2, 11, 17, 26])
def test_excitations_equal_separate_simulations(seed: int) -> None:
    scene = random_room(seed)
    variant = scene.variants[0]
    quiet = replace(variant, absorbers=tuple(replace(a, gain=0.0) for a in variant.absorbers))
    half = replace(variant, absorbers=tuple(replace(a, gain=0.5) for a in variant.absorbers))
    problem = build_problem(scene, variant, 0.3, (variant, quiet, half))
    places = points_in_air(problem, 3, seed)
    excitations = [make_excitation(scene, v, problem, p) for v, p in zip((variant, quiet, half), places, strict=True)]
    together = simulate(problem, excitations, places, 200.0, 0.1, execution=DOUBLE).seats
    for excitation, mine in zip(excitations, together, strict=True):
        alone = simulate(problem, [excitation], places, 200.0, 0.1, execution=DOUBLE).seats[0]
        assert np.abs(alone - mine).max() < 1e-12 * np.abs(alone).max()


@pytest.mark.parametrize("seed", [13])
def test_threads_change_nothing(seed: int) -> None:
    scene = random_room(seed)
    problem = problem_of(scene, 0.3)
    places = points_in_air(problem, 3, seed)
    excitations = [make_excitation(scene, scene.variants[0], problem, p) for p in places[:2]]
    signal = pulse(200.0, problem.time_step)
    found = [
        ExcitationBlock(problem, excitations, places, signal, 200.0, precision="double", threads=threads).advance(150)
        for threads in (1, 2, 3)
    ]
    for other in found[1:]:
        assert np.abs(other - found[0]).max() <= 1e-12 * np.abs(found[0]).max()


def test_single_precision_is_enough() -> None:
    walls = {f"wall {n}": resistive(0.02, DENSITY, SPEED) for n in range(1, 7)}
    surfaces = {"ceiling": (resonant(8.0, 60.0, 4.0),), "floor": (Branch(resistance=3e4),), **walls}
    scene = make_scene(ELL, 2.4, surfaces=surfaces, sources=[(0.4, 0.5, 0.3)], seats=[(3.6, 1.3, 1.2), (1.7, 2.6, 1.1)])
    problem, frequency = problem_of(scene, 0.15), np.arange(20.0, 200.1, 1.0)
    variant = scene.variants[0]
    excitation = make_excitation(scene, variant, problem, variant.sources[0].at)
    places = [s.at for s in variant.seats]
    single, double = (
        transfer_functions(
            simulate(problem, [excitation], places, 200.0, 1.5, execution=Execution(p)),
            frequency,
        )[0]
        for p in ("single", "double")
    )
    error = level_error(single, double)
    level = 20.0 * np.log10(np.abs(double))
    assert error[level > level.mean(axis=1, keepdims=True) - 30.0].max() < 0.02


def test_a_unit_moved_between_variants_is_two_ports() -> None:
    """The same absorber on one wall, then on another, then half under a patch: each excitation as if simulated
    alone."""
    device = Device("face", (Branch(0.4, 150.0, 9000.0),))
    first = Absorber("unit", "face", "wall 1", Rectangle((0.3, 0.3), (0.9, 0.9)))
    scene = make_scene(
        box_plan(3.0, 2.4),
        2.1,
        surfaces=(Branch(resistance=3000.0),),
        absorbers=[first],
        devices=[device],
        materials={"board": (Branch(9.0, 400.0, 1e6),)},
        sources=[(0.7, 0.8, 0.6)],
        seats=[(2.2, 1.5, 1.1)],
    )
    here = scene.variants[0]
    there = replace(here, absorbers=(replace(first, on="wall 3", rectangle=Rectangle((1.2, 0.6), (1.8, 1.2))),))
    shifted = replace(here, absorbers=(replace(first, rectangle=Rectangle((0.6, 0.3), (1.2, 0.9))),))
    variants = (here, there, shifted)
    scene = replace(scene, variants=variants)
    problem = build_problem(scene, here, 0.3, variants)
    excitations = [make_excitation(scene, v, problem, (0.7, 0.8, 0.6)) for v in variants]
    together = simulate(problem, excitations, [(2.2, 1.5, 1.1)], 200.0, 0.15).seats
    for variant, excitation, mine in zip(variants, excitations, together, strict=True):
        alone = simulate(problem, [excitation], [(2.2, 1.5, 1.1)], 200.0, 0.15).seats[0]
        assert np.abs(alone - mine).max() < 1e-12 * np.abs(alone).max()
        own = build_problem(scene, variant, 0.3)
        separate = simulate(
            own, [make_excitation(scene, variant, own, (0.7, 0.8, 0.6))], [(2.2, 1.5, 1.1)], 200.0, 0.15
        ).seats[0]
        assert np.abs(separate - mine).max() < 1e-9 * np.abs(separate).max()
    assert np.abs(together[0] - together[1]).max() > 1e-3 * np.abs(together[0]).max()
