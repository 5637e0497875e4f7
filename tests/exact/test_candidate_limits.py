"""Critical gains of units on candidate places, from the places' matrices, against simulations with the units in.

Set-up: a small lively room, a unit whose delay makes it oscillate at gains of about 1 to 3; singles, pairs (in one
corner, stacked, far apart) and triples. Exact: the field dies away at 3 % less than the critical gain and grows at 3 %
more (Nyquist; see ports/stability.py). Tolerance: those 3 %, three times what the record cut short at 40 dB costs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np
import pytest
from rooms import box_plan, make_scene

from fdtd.errors import StabilityError
from fdtd.model.excitations import diaphragm_of, make_excitation
from fdtd.ports.candidate_limits import CandidateLimits
from fdtd.ports.candidates import candidate_ports, candidate_problem, candidate_response
from fdtd.scene.schema import Absorber, Device, Rectangle, Scene
from fdtd.simulation.stepper import simulate

from .test_port_model import SLOW, SPACING, WALL

FREQUENCY = np.arange(20.0, 160.1, 5.0)
PLACES = (
    ("wall 2", (0.05, 0.05)),  # low in a corner
    ("wall 2", (0.05, 0.55)),  # above it
    ("wall 1", (2.45, 0.05)),  # round the corner
    ("wall 4", (1.2, 1.0)),
    ("wall 3", (0.9, 0.3)),
)
SETS = [(0,), (3,), (0, 1), (0, 2), (1, 3), (3, 4), (0, 1, 2), (0, 3, 4)]
ELL = ((0.0, 0.0), (3.3, 0.0), (3.3, 1.5), (1.8, 1.5), (1.8, 2.7), (0.0, 2.7))
MANY = tuple(
    (f"wall {wall}", (along, low)) for wall in (1, 2, 5, 6) for along in (0.05, 0.45, 0.85) for low in (0.05, 0.55)
)[:20]


@dataclass(frozen=True, eq=False)
class Room:
    """A room with places for units."""

    plan: tuple[tuple[float, float], ...]
    places: tuple[tuple[str, tuple[float, float]], ...]

    @cached_property
    def scene(self) -> Scene:
        seats = [(0.6, 1.3, 1.1)]
        return make_scene(self.plan, 1.9, surfaces=WALL, sources=[(0.5, 0.6, 0.4)], seats=seats)

    @cached_property
    def device(self) -> Device:
        medium = self.scene.air.medium
        control = SLOW.control(medium)
        return Device("active", SLOW.passive(medium), design=SLOW, control=control, face_area=SLOW.face_area)

    def faces(self, gain: float = 1.0) -> tuple[Absorber, ...]:
        return tuple(
            Absorber(f"place {k}", "active", wall, Rectangle(low, (low[0] + 0.3, low[1] + 0.2)), gain)
            for k, (wall, low) in enumerate(self.places)
        )

    @cached_property
    def limits(self) -> CandidateLimits:
        found = candidate_response(
            self.scene,
            self.scene.variants[0],
            self.faces(),
            FREQUENCY,
            spacing=SPACING,
            duration=4.0,
            active=[self.device],
        )
        assert found.loops is not None
        own = [
            diaphragm_of(face, self.device, port) for face, port in zip(self.faces(), found.faces.ports, strict=True)
        ]
        devices = [found.faces.simulated(tuple(own))]
        return CandidateLimits(found.faces, found.loops.duration, found.loops.between, devices)

    def critical(self, chosen: tuple[int, ...]) -> float:
        return self.limits.critical(chosen, (0,) * len(chosen))

    def grows(self, chosen: tuple[int, ...], gain: float) -> bool:
        """Whether the field of the room with these units is larger at its end than half way."""
        variant = self.scene.variants[0]
        problem = candidate_problem(self.scene, variant, self.faces(), SPACING)
        ports = candidate_ports(problem, self.faces())
        excitation = make_excitation(self.scene, variant, problem, variant.sources[0].at)
        units = tuple(diaphragm_of(self.faces(gain)[k], self.device, ports[k]) for k in chosen)
        excitation = replace(excitation, diaphragms=(*excitation.diaphragms, *units))
        try:
            seats = simulate(problem, [excitation], [variant.seats[0].at], 200.0, 10.0).seats[0, 0]
        except StabilityError:
            return True
        steps = len(seats)
        half = np.abs(seats[steps // 2 : steps // 2 + steps // 10]).max()
        return bool(np.abs(seats[-(steps // 10) :]).max() > half)


BOX = Room(box_plan(2.9, 2.1), PLACES)


@pytest.mark.parametrize("chosen", SETS, ids=str)
def test_critical_gain_is_where_the_simulation_starts_to_grow(chosen: tuple[int, ...]) -> None:
    critical = BOX.critical(chosen)
    assert 0.1 < critical < 20.0
    assert not BOX.grows(chosen, 0.97 * critical)
    assert BOX.grows(chosen, 1.03 * critical)


@pytest.mark.slow
@pytest.mark.parametrize("room", [Room(box_plan(2.9, 2.1), MANY[:12]), Room(ELL, MANY)], ids=["box", "L"])
def test_many_sets_on_two_rooms(room: Room) -> None:
    """All singles, 20 pairs (neighbours and stacked ones first) and 5 triples."""
    count = len(room.places)
    pairs = [*combinations(range(6), 2), *((k, (k + 7) % count) for k in range(5))]
    sets = [*((k,) for k in range(count)), *pairs, (0, 1, 2), (0, 2, 4), (1, 6, 9), (3, 4, 5), (2, 7, 10)]
    for chosen in sets:
        critical = room.critical(chosen)
        assert not room.grows(chosen, 0.97 * critical), chosen
        assert room.grows(chosen, 1.03 * critical), chosen


def test_a_further_unit_in_the_same_corner_takes_gain() -> None:
    alone = [BOX.critical((k,)) for k in range(3)]
    for one, other in combinations(range(3), 2):
        assert BOX.critical((one, other)) < min(alone[one], alone[other])


def test_the_order_of_the_units_does_not_matter() -> None:
    assert BOX.critical((2, 0)) == pytest.approx(BOX.critical((0, 2)), rel=1e-9)
