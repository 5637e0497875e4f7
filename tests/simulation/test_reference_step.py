"""The fast simulation against the plain time step (tests/plain_step.py), which is docs/theory.md in NumPy.

Set-up: an L-shaped room with a sloped ceiling, cells of 0.3 m, that has everything the simulation knows: edges, cut
cells, a porous screen, a panel and a fill (impedance links), resonant walls of one and of two branches, a local
absorber, a plate and an active unit that move as one; and random rooms. Exact: the same numbers but for rounding, and
for the 13 digits to which the tables keep weights.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from compiled_gpu import COMPILED_GPU, COMPILER, NO_COMPILER
from numpy.typing import NDArray
from plain_room import reference_room
from plain_step import Step
from plain_tables import silence
from random_rooms import points_in_air, random_room
from rooms import Problem, make_scene, problem_of, resonant

from fdtd.model.excitations import Excitation, Place, make_excitation
from fdtd.model.problem import AirLinks, air_links
from fdtd.physics.active import ActiveUnit
from fdtd.physics.admittance import RIGID, Branch
from fdtd.scene.schema import Absorber, Device, PorousVolume, Rectangle, Scene, ThinPartition
from fdtd.simulation.block import ExcitationBlock
from fdtd.simulation.gpu import GpuExcitations
from fdtd.simulation.points import PointWeights
from fdtd.simulation.signals import pulse

TOP = 200.0
UNIT = ActiveUnit(
    diaphragm_area=0.03,
    moving_mass=0.04,
    suspension_compliance=6e-4,
    mechanical_resistance=2.0,
    force_factor=8.0,
    coil_resistance=6.0,
    box_volume=0.03,
    target_resistance=120.0,
    target_share=0.2,
    band_high=150.0,
    delay=3e-4,
    largest_stroke=0.006,
    largest_current=4.0,
)


def full_room() -> Scene:
    """The L with everything in it."""
    plan = ((0.0, 0.0), (3.4, 0.0), (3.4, 1.6), (1.9, 1.6), (1.9, 2.9), (0.0, 2.9))
    medium = make_scene(plan, 1.0).air.medium
    walls = {
        "floor": (Branch(resistance=4e4),),
        "ceiling": (resonant(11.0, 74.0, 3.0),),
        "wall 1": (resonant(6.0, 52.0, 4.0),),
        "wall 2": (resonant(9.0, 31.0, 8.0), Branch(2.0, 900.0)),
        "wall 6": (Branch(4.0, 200.0, 1e5),),
    }
    electronics = UNIT.control(medium)
    active = Device("active", UNIT.passive(medium), design=UNIT, control=electronics, face_area=UNIT.face_area)
    return make_scene(
        plan,
        ((1.1, 0.45, 0.0),),
        surfaces=walls,
        thin_partitions=(
            ThinPartition(
                "screen", 0, 0.9, Rectangle((0.3, 0.1), (1.4, 1.0)), open_fraction=0.3, depth=0.02, resistance=60.0
            ),
            ThinPartition("panel", 1, 1.9, Rectangle((0.0, 0.0), (1.0, 0.9)), panel=Branch(3.0, 20.0, 2e4)),
            ThinPartition("shelf", 2, 0.9, Rectangle((2.3, 0.3), (3.4, 0.9)), material="rigid"),
        ),
        porous_volumes=(PorousVolume("wool", (0.0, 2.3, 0.0), (0.6, 2.9, 0.6), 4000.0, 0.9),),
        devices=(active, Device("plate", (resonant(6.0, 52.0, 4.0),)), Device("local", (Branch(3.0, 90.0),), "local")),
        absorbers=(
            Absorber("corner", "active", "wall 2", Rectangle((0.05, 0.05), (0.55, 0.45))),
            Absorber("trap", "plate", "floor", Rectangle((0.9, 0.5), (1.6, 1.3))),
            Absorber("pad", "local", "wall 1", Rectangle((1.2, 0.3), (2.0, 1.0))),
        ),
    )


def setups(scene: Scene, problem: Problem, number: int) -> list[Excitation]:
    """Excitations that differ: each its own source; in some, diaphragms or the walls do not move."""
    made = [make_excitation(scene, scene.variants[0], problem, place) for place in points_in_air(problem, number, 1)]
    for k in range(1, number):
        if k % 3 == 1:
            made[k] = replace(made[k], diaphragms=made[k].diaphragms[:1])
        if k % 4 == 3:
            made[k] = replace(made[k], local=tuple(RIGID for _ in made[k].local))
    return made


@cache
def prepared(name: str) -> tuple[Scene, Problem, AirLinks]:
    """A room by its name, cut into cells."""
    scene = full_room() if name == "full" else random_room(int(name))
    problem = problem_of(scene, 0.3)
    return scene, problem, air_links(problem.cells, scene.variants[0], problem.density)


class Both:
    """One room in both simulations, from silence or from noise."""

    def __init__(self, name: str, excitations: int, noise: bool) -> None:
        scene, self.problem, self.ways = prepared(name)
        self.excitations, self.signal = setups(scene, self.problem, excitations), pulse(TOP, self.problem.time_step)
        self.seats = points_in_air(self.problem, 2, 5)
        self.block = ExcitationBlock(self.problem, self.excitations, self.seats, self.signal, TOP)
        pressures = self.block.state.p_now, self.block.state.p_before
        self.start = np.random.default_rng(3).standard_normal((2, *pressures[0].shape)) * noise
        for p, start in zip(pressures, self.start, strict=True):
            p[:] = start

    def spread(self, place: Place) -> NDArray[np.float64]:
        """Weights of a point, (cell,)."""
        full = np.zeros(len(self.problem.cells.volume))
        cells, share = PointWeights(self.problem.cells).weights(place)
        full[cells] = share
        return full

    def plain(self, steps: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The seats (step, seat, excitation) and, after the last step, all cells (cell, excitation) by the plain time
        step."""
        audible, field = np.zeros((steps, len(self.seats), len(self.excitations))), np.zeros(self.start.shape[1:])
        seats = np.array([self.spread(seat) for seat in self.seats])
        for k, excitation in enumerate(self.excitations):
            room, source = reference_room(self.problem, self.ways, excitation, TOP), self.spread(excitation.source)
            step, state = Step(room), silence(room)._replace(p=self.start[0, :, k], p_before=self.start[1, :, k])
            for n in range(steps):
                audible[n, :, k] = seats @ state.p
                state = step(state, source * (self.signal[n] if n < len(self.signal) else 0.0))
            field[:, k] = state.p
        return audible, field

    def error(self, steps: int) -> float:
        """Largest difference of the two, over the largest pressure."""
        audible, field = self.plain(steps)
        record = self.block.advance(steps)
        largest = max(np.abs(audible).max(), np.abs(field).max())
        return float(max(np.abs(record - audible).max(), np.abs(self.block.state.p_now - field).max()) / largest)


@pytest.mark.parametrize("name, excitations", [("full", 1), ("full", 8), ("2", 8), ("6", 1), ("7", 1)])
def test_the_fast_simulation_is_the_plain_time_step(name: str, excitations: int) -> None:
    """Random rooms 2, 6 and 7: a box with a fill, an L under a slope, a skew room with thin partitions."""
    assert Both(name, excitations, noise=True).error(2) < 1e-12
    assert Both(name, excitations, noise=False).error(60 // excitations) < 1e-11


@pytest.mark.skipif(COMPILER is None, reason=NO_COMPILER)
@pytest.mark.parametrize("name, excitations", [("full", 1), ("full", 8), ("2", 5), ("6", 1), ("7", 3)])
def test_the_gpu_kernels_are_the_plain_time_step(name: str, excitations: int) -> None:
    """The same rooms, with the kernels of the GPU compiled for the CPU."""
    for noise, steps, most in ((True, 2, 1e-12), (False, 60 // excitations, 1e-11)):
        room = Both(name, excitations, noise)
        audible, field = room.plain(steps)
        gpu = GpuExcitations(
            room.problem, room.excitations, room.seats, room.signal, TOP, map_steps=steps, gpus=[COMPILED_GPU]
        )
        one = gpu.simulations[0]
        values = one.plan.values
        at = values["place"][:, None] * values["apart"] + np.arange(excitations) * values["field"]
        for pressure, start in zip(("pressure_even", "pressure_odd"), room.start, strict=True):
            one.held[pressure][at] = start
        record = gpu.advance(steps)
        found = one.held["pressure_odd" if steps % 2 else "pressure_even"][at]
        largest = max(np.abs(audible).max(), np.abs(field).max())
        assert max(np.abs(record - audible).max(), np.abs(found - field).max()) < most * largest


TABLES: dict[str, Callable[[ExcitationBlock], NDArray]] = {
    "rows of the air": lambda block: block.air.bundle_weight,
    "along a row": lambda block: block.air.along,
    "single cells": lambda block: block.air.weight_table,
    "links": lambda block: block.links.push,
    "simple walls": lambda block: block.walls.faces.block_table,
    "corners": lambda block: block.walls.faces.edge_table,
    "walls of several branches": lambda block: block.walls.faces.a,
    "springs": lambda block: block.walls.faces.g,
    "diaphragms": lambda block: block.walls.ports.solve,
    "electronics": lambda block: block.walls.ports.control.read,
    "sources": lambda block: block.points.drive_weight,
    "seats": lambda block: block.points.seat_weight,
}


@pytest.mark.parametrize("table", TABLES)
def test_one_wrong_weight_is_noticed(table: str) -> None:
    both = Both("full", 1, noise=True)
    values = TABLES[table](both.block).reshape(-1)
    values[np.argmax(np.abs(values))] *= 1.0 + 1e-5
    assert both.error(12) > 1e-11
