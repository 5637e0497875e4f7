"""Units on any of many candidate faces, predicted from a simulation with an excitation per face, against simulations of
built-in ones.

Set-up: an L-shaped room, and two rooms joined by a doorway, h = 0.2 m, walls of library-like materials; nine faces of
0.3 x 0.4 m on the walls; random subsets of one to four, random passive branches on each (invented, seeded).
Exact: nothing is approximated between the two routes; what is left is that both simulations stop some 90 dB down, and
in single precision the rounding. Tolerances: 0.01 dB in double and 0.05 dB in single precision within 25 dB of each
seat's maximum, 15 to 200 Hz.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from random_rooms import some_branches
from rooms import closed_thin_partition, level_error, make_scene, resonant

from fdtd.model.excitations import Diaphragm, make_excitation
from fdtd.physics.admittance import Branch
from fdtd.ports.candidates import candidate_ports, candidate_problem, candidate_response
from fdtd.ports.predict import port_admittance, seat_transfer
from fdtd.scene.schema import Absorber, Rectangle, Scene
from fdtd.simulation.device import Execution
from fdtd.simulation.stepper import simulate
from fdtd.simulation.transfer import transfer_functions

ELL = ((0.0, 0.0), (4.2, 0.0), (4.2, 2.0), (2.4, 2.0), (2.4, 3.3), (0.0, 3.3))
FREQUENCY = np.arange(15.0, 200.1, 0.5)
SPACING = 0.2
DURATION = 5.0
WALLS = {
    "floor": (Branch(resistance=9000.0),),
    "ceiling": (resonant(9.0, 70.0, 3.0),),
    **{f"wall {n + 1}": (Branch(resistance=15000.0),) for n in range(6)},
}


def ell(divided: bool) -> Scene:
    thin_partitions = (
        [closed_thin_partition("wall", 0, 2.4, (0.0, 0.0), (2.0, 2.2), [((0.5, 0.0), (1.2, 2.0))])] if divided else []
    )
    return make_scene(
        ELL,
        2.2,
        surfaces=WALLS,
        sources=[(0.5, 0.6, 0.4), (3.6, 1.2, 0.3)],
        seats=[(1.5, 2.4, 1.1), (3.0, 0.7, 1.1)],
        thin_partitions=thin_partitions,
    )


def places() -> tuple[Absorber, ...]:
    spots = [
        ("wall 1", 0.0),
        ("wall 1", 1.1),
        ("wall 1", 3.9),
        ("wall 2", 1.7),
        ("wall 3", 0.6),
        ("wall 5", 0.0),
        ("wall 6", 0.0),
        ("wall 6", 1.3),
        ("wall 6", 3.0),
    ]
    return tuple(
        Absorber(f"place {k}", "none", on, Rectangle((x, 0.1 * (k % 3)), (x + 0.3, 0.1 * (k % 3) + 0.4)))
        for k, (on, x) in enumerate(spots)
    )


@pytest.mark.parametrize(
    ("divided", "precision", "limit"), [(False, "double", 0.01), (True, "double", 0.01), (False, "single", 0.05)]
)
def test_any_choice_of_units_is_what_a_simulation_gives(divided: bool, precision: str, limit: float) -> None:
    scene, candidates = ell(divided), places()
    variant = scene.variants[0]
    response = candidate_response(
        scene, variant, candidates, FREQUENCY, spacing=SPACING, execution=Execution(precision), duration=DURATION
    )
    problem = candidate_problem(scene, variant, candidates, SPACING)
    ports = candidate_ports(problem, candidates)
    rng = np.random.default_rng(7)
    for count in (1, 2, 4):
        chosen = rng.choice(len(ports), count, replace=False)
        units = tuple(Diaphragm(ports[k], some_branches(rng)) for k in chosen)
        everywhere = tuple(next((u for u in units if u.port == port), Diaphragm(port, ())) for port in ports)
        found = seat_transfer(response.faces, response.matrices, everywhere)
        excitations = [
            replace(make_excitation(scene, variant, problem, source.at), diaphragms=units) for source in variant.sources
        ]
        seats = [seat.at for seat in variant.seats]
        built_in = transfer_functions(
            simulate(problem, excitations, seats, 200.0, DURATION, execution=Execution(precision)), FREQUENCY
        )
        loud = np.abs(built_in) > np.abs(built_in).max(axis=-1, keepdims=True) * 10.0**-1.25
        assert level_error(found, built_in)[loud].max() < limit


def test_a_finished_batch_is_not_simulated_again(monkeypatch: pytest.MonkeyPatch) -> None:
    class Memory(dict):
        def load(self, key: str, number: int) -> np.ndarray | None:
            return self.get((key, number))

        def save(self, key: str, number: int, values: np.ndarray) -> None:
            self[key, number] = values

    scene, store = ell(False), Memory()
    monkeypatch.setattr("fdtd.ports.candidates.BATCH", 4)
    settings = {"spacing": 0.3, "duration": 0.3, "store": store}
    first = candidate_response(scene, scene.variants[0], places(), FREQUENCY, **settings)
    assert first.reused == 0.0 and len(store) == 3
    store.pop((first.key, 1))
    again = candidate_response(scene, scene.variants[0], places(), FREQUENCY, **settings)
    assert again.reused == pytest.approx(7 / 11)
    np.testing.assert_array_equal(first.matrices.ports_from_ports, again.matrices.ports_from_ports)
    other = replace(scene.variants[0], seats=scene.variants[0].seats[:1])
    assert candidate_response(scene, other, places(), FREQUENCY, **settings).reused == 0.0


def test_admittance_at_the_ports_gives_the_same_as_the_velocities() -> None:
    """The formula of the search, G_s - G D (1 + Z D)⁻¹ Z_s, with D from `port_admittance`."""
    scene, candidates = ell(False), places()[:3]
    response = candidate_response(scene, scene.variants[0], candidates, FREQUENCY, spacing=0.3, duration=0.4)
    units = tuple(Diaphragm(port, (resonant(3.0, 45.0, 2.0),)) for port in response.faces.ports)
    exact = seat_transfer(response.faces, response.matrices, units)
    y = port_admittance(response.faces, FREQUENCY, units)
    m = response.matrices
    z = np.swapaxes(m.ports_from_ports, 1, 2)
    flow = y[:, :, None] * np.linalg.solve(np.eye(3) + z * y[:, None, :], np.swapaxes(m.ports_from_sources, 1, 2))
    found = m.seats_from_sources - np.swapaxes(flow, 1, 2) @ m.seats_from_ports
    np.testing.assert_allclose(np.moveaxis(found, 0, 2), exact, rtol=1e-9)
