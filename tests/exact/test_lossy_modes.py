"""Complex eigenmodes of the lossy cell graph against exact rooms and against the simulation.

Set-up: the room of 4.7 x 4.1 x 3.1 m, c = 340 m/s, with a constant real admittance on all six walls, or hard with a
resonant ceiling; and a small odd room with fill, panel and devices.
Exact: one transcendental equation per axis (room_modes.py).
Expected error: second order in h at reacting walls, of the decay constant: 0.05 to 0.3 % at h = 0.1 m, four times that
at 0.2 m. Tolerance at 0.1 m: 0.1 % of frequency, 1 % of decay time; at 0.2 m twice that for decays and, at the ceiling,
for frequencies.
Against the simulation: its rule for fills and devices leaves about 1e-4 of frequency, and the fit of the ringing 0.5 %
of the decay time; 0.02 Hz, 1 %, and 5 % of the amplitudes are asked for where a resonance is clear (T60 over 0.3 s).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from exact_room_modes import Walls, ceiling_modes, followed_mode
from rooms import DENSITY, Problem, box_plan, make_scene, problem_of, resonant, simulate_scene
from scipy.optimize import linear_sum_assignment

from fdtd.analysis.resonances import find_resonances
from fdtd.model.excitations import Excitation, make_excitation
from fdtd.modes.lossy import DECAY_60, LossyModes, lossy_modes
from fdtd.physics.admittance import Branch, Branches, resistive
from fdtd.physics.control import StateSpace
from fdtd.scene.schema import Absorber, Device, PorousVolume, Rectangle, Scene, Seat, Source, ThinPartition
from fdtd.simulation.transfer import impulse_responses, transfer_functions

SIZE, SPEED = (4.7, 4.1, 3.1), 340.0
PRINTED = {
    50: {
        (1, 0, 0): (36.1620, 6.74832),
        (0, 1, 0): (41.4575, 6.96004),
        (0, 0, 1): (54.8375, 7.49498),
        (1, 1, 0): (55.0190, 8.40753),
        (2, 0, 0): (72.3436, 6.74727),
        (2, 1, 1): (99.8019, 10.60119),
    },
    10: {
        (1, 0, 0): (35.9609, 34.06126),
        (0, 1, 0): (41.3129, 35.11935),
        (0, 0, 1): (54.8086, 37.78500),
        (1, 1, 0): (54.9289, 42.43999),
        (2, 0, 0): (72.4202, 33.92598),
        (2, 1, 1): (99.8975, 53.42133),
    },
}
"""Wall impedance over rho c -> mode -> frequency Hz, decay constant 1/s; worked out independently for this project."""
CEILING = (resonant(5.0, 45.0, 6.0),)


def excitation_of(scene: Scene, problem: Problem) -> Excitation:
    return make_excitation(scene, scene.variants[0], problem, (0.1, 0.1, 0.1))


def modes_of(scene: Scene, spacing: float, low: float, high: float) -> LossyModes:
    problem = problem_of(scene, spacing)
    return lossy_modes(problem, excitation_of(scene, problem), low, high)


def box(surfaces: dict[str, Branches] | Branches) -> Scene:
    return make_scene(box_plan(*SIZE[:2]), SIZE[2], surfaces=surfaces, speed=SPEED)


def real_walls(zeta: float) -> Walls:
    """Six walls of impedance zeta rho c."""
    wall = lambda s: 1.0 / (DENSITY * SPEED * zeta)  # noqa: E731
    return ((wall, wall),) * 3


def lowest_orders(count: int) -> list[tuple[int, int, int]]:
    """Orders of the lowest rigid modes, without (0, 0, 0)."""
    orders = sorted(product(range(8), repeat=3), key=lambda o: sum((n / a) ** 2 for n, a in zip(o, SIZE, strict=True)))
    return orders[1 : count + 1]


def assert_same(found: LossyModes, exact: np.ndarray, decay: float) -> None:
    """Frequencies within 0.1 %, decay times within `decay`, none missing, none invented up to the last exact one."""
    exact = np.array(sorted(exact, key=lambda s: s.imag))
    known = exact.imag / (2.0 * np.pi)
    assert len(found.unfinished) == 0
    assert np.sum(found.frequency < 1.001 * known[-1]) == len(known)
    np.testing.assert_allclose(found.frequency[: len(known)], known, rtol=1e-3)
    np.testing.assert_allclose(found.decay_time[: len(known)], DECAY_60 / -exact.real, rtol=decay)


@pytest.mark.parametrize("zeta", [50, 10])
def test_the_exact_routine_gives_the_known_table(zeta: int) -> None:
    for order, (frequency, decay) in PRINTED[zeta].items():
        s = followed_mode(SIZE, real_walls(zeta), order, SPEED, DENSITY)
        assert s.imag / (2.0 * np.pi) == pytest.approx(frequency, abs=6e-5)
        assert -s.real == pytest.approx(decay, abs=6e-6)


GRIDS = pytest.mark.parametrize(
    ("spacing", "decay"), [(0.2, 0.02), pytest.param(0.1, 0.01, marks=pytest.mark.slow)], ids=["coarse", "fine"]
)


@pytest.mark.parametrize("zeta", [50, 10])
@GRIDS
def test_six_walls_of_real_admittance(zeta: int, spacing: float, decay: float) -> None:
    exact = np.array([followed_mode(SIZE, real_walls(zeta), o, SPEED, DENSITY) for o in lowest_orders(15)])
    high = 1.02 * exact.imag.max() / (2.0 * np.pi)
    assert_same(modes_of(box(resistive(1.0 / zeta, DENSITY, SPEED)), spacing, 20.0, high), exact, decay)


@GRIDS
def test_resonant_ceiling(spacing: float, decay: float) -> None:
    exact, share = ceiling_modes(SIZE, CEILING[0], 20.0, 86.0, 0.08, SPEED, DENSITY)
    found = modes_of(box({"ceiling": CEILING}), spacing, 20.0, 86.0)
    assert len(found.unfinished) == 0
    rows, columns = linear_sum_assignment(np.abs(found.eigenvalue[:, None] - exact))
    assert len(rows) == len(found.frequency) >= 15
    assert set(np.flatnonzero(share > 0.025)) <= set(columns)
    exact, share = exact[columns], share[columns]
    np.testing.assert_allclose(found.frequency, exact.imag / (2.0 * np.pi), rtol=0.1 * decay)
    np.testing.assert_allclose(found.decay_time, -DECAY_60 / exact.real, rtol=decay)
    np.testing.assert_allclose(found.presence, share, rtol=0.03, atol=0.002)


def odd_room(devices: list[Device], absorbers: list[Absorber]) -> Scene:
    """L-shaped under a slope, with a porous fill, a light partition and a resonant rug."""
    return make_scene(
        [(0.0, 0.0), (4.4, 0.0), (4.4, 2.0), (2.6, 2.0), (2.6, 3.6), (0.0, 3.6)],
        [(2.2, 0.1, 0.0)],
        surfaces={
            "floor": resistive(0.01, DENSITY, SPEED),
            "wall 1": (resonant(8.0, 60.0, 4.0),),
            "ceiling": resistive(0.02, DENSITY, SPEED),
        },
        porous_volumes=[PorousVolume("sofa", (0.0, 2.6, 0.0), (1.5, 3.6, 0.6), 4000.0, 0.95)],
        thin_partitions=[
            ThinPartition("screen", 0, 2.6, Rectangle((0.0, 0.0), (2.0, 1.5)), panel=Branch(4.0, 60.0, 2.0e4))
        ],
        devices=devices,
        absorbers=absorbers,
        speed=SPEED,
    )


def simulate_at_cells(scene: Scene, spacing: float, cells: list[int]) -> tuple[Problem, np.ndarray, float]:
    """Band-limited impulse responses (cell, time), the source at the centre of the first of `cells`; sample step, s."""
    problem = problem_of(scene, spacing)
    centres = [tuple(map(float, problem.cells.centre[cell])) for cell in cells]
    variant = replace(
        scene.variants[0],
        sources=(Source("source", centres[0]),),
        seats=tuple(Seat(f"seat {n}", at) for n, at in enumerate(centres)),
    )
    done = simulate_scene(replace(scene, variants=(variant,)), spacing, 4.0, problem=problem)
    frequency = np.arange(10.0, 200.0, 0.25)
    response, time = impulse_responses(transfer_functions(done, frequency)[0], frequency, 200.0)
    return problem, response, float(time[1])


PASSIVE = Device("box", (resonant(3.0, 50.0, 5.0),))
UNIT = Device(
    "unit",
    (resonant(6.0, 40.0, 2.0),),
    control=StateSpace(
        np.array([[0.0, 1.0], [-((2 * np.pi * 45.0) ** 2), -150.0]]), np.array([0.0, 1.0]), np.array([0.0, 0.3])
    ),
)


@pytest.mark.parametrize("device", [PASSIVE, UNIT], ids=["passive", "with control"])
def test_the_simulation_rings_at_the_modes(device: Device) -> None:
    absorber = Absorber("absorber", device.name, "wall 6", Rectangle((0.3, 0.2), (1.1, 1.2)))
    scene = odd_room([device], [absorber])
    whole = np.flatnonzero(problem_of(scene, 0.25).cells.regular)
    cells = [int(whole[k]) for k in (0, 40, 150, 300, len(whole) - 1)]
    problem, response, step = simulate_at_cells(scene, 0.25, cells)
    audible = find_resonances(response, step, 20.0, 100.0)
    modes = lossy_modes(problem, excitation_of(scene, problem), 20.0, 110.0)
    assert len(modes.unfinished) == 0
    at = modes.shape[:, cells]
    amplitude = DENSITY * SPEED**2 / problem.operator.volume.sum() * at[:, :1] * at
    size = np.linalg.norm(amplitude, axis=1)
    clear = (modes.decay_time > 0.3) & (size > 0.05 * size.max()) & (modes.frequency < 99.0)
    assert clear.sum() >= 6
    for k in np.flatnonzero(clear):
        n = int(np.argmin(np.abs(audible.frequency - modes.frequency[k])))
        assert abs(audible.frequency[n] - modes.frequency[k]) < 0.02
        assert audible.decay_time[n] == pytest.approx(modes.decay_time[k], rel=0.01)
        assert np.linalg.norm(audible.amplitude[:, n] - amplitude[k]) < 0.05 * size[k]


def test_control_that_drives_makes_a_mode_grow() -> None:
    # A face whose admittance has a negative real part around 40 Hz: electronics that feed the room.
    drive = StateSpace(
        np.array([[0.0, 1.0], [-((2 * np.pi * 42.0) ** 2), -300.0]]), np.array([0.0, 1.0]), np.array([0.0, -0.5])
    )
    device = Device("unit", (resonant(20.0, 200.0, 2.0),), control=drive)
    absorber = Absorber("absorber", "unit", "wall 2", Rectangle((0.4, 0.4), (1.6, 1.6)))
    scene = make_scene(
        box_plan(4.2, 2.6), 2.2, surfaces=resistive(0.01, DENSITY, SPEED), devices=[device], absorbers=[absorber]
    )
    found = modes_of(scene, 0.25, 30.0, 60.0)
    assert len(found.unfinished) == 0
    assert found.decay_time.min() < 0.0


def test_without_losses_the_modes_are_the_rigid_ones() -> None:
    # Hard but for a face with mass and stiffness only: nothing decays; without the face, Rayleigh's frequencies.
    scene = make_scene(box_plan(3.1, 2.7), 2.3, surfaces={"ceiling": (Branch(30.0, 0.0, 1.0e6),)})
    found = modes_of(scene, 0.3, 40.0, 110.0)
    assert len(found.frequency) >= 3
    assert np.all(np.abs(found.eigenvalue.real) < 1e-5)
    hard = modes_of(make_scene(box_plan(3.1, 2.7), 2.3), 0.3, 40.0, 110.0)
    orders = sorted(
        np.sqrt((m / 3.1) ** 2 + (n / 2.7) ** 2 + (q / 2.3) ** 2) for m, n, q in product(range(4), repeat=3)
    )
    exact = 343.2 / 2.0 * np.array(orders)
    exact = exact[(exact > 40.0) & (exact < 110.0)]
    np.testing.assert_allclose(hard.frequency, exact, rtol=1e-3)
    np.testing.assert_allclose(hard.presence, 1.0, atol=1e-6)


def test_multiple_modes_come_as_often_as_they_are() -> None:
    # A cube: 100, 010, 001 share a frequency, 110, 101, 011 another; 200 and its like a third.
    side = 2.4
    found = modes_of(make_scene(box_plan(side, side), side, surfaces=resistive(0.02, DENSITY, 343.2)), 0.3, 50.0, 150.0)
    first = 343.2 / (2.0 * side)
    for factor, times in ((1.0, 3), (np.sqrt(2.0), 3), (np.sqrt(3.0), 1), (2.0, 3)):
        same = np.abs(found.frequency / (factor * first) - 1.0) < 3e-3
        assert same.sum() == times
        # Different shapes, not one three times.
        assert np.linalg.matrix_rank(found.shape[same], tol=0.1 * np.linalg.norm(found.shape[0])) == times


def test_an_empty_band_is_refused() -> None:
    with pytest.raises(ValueError, match="0 < low < high"):
        modes_of(make_scene(box_plan(3.1, 2.7), 2.3), 0.5, 40.0, 30.0)


def test_a_band_without_modes_is_empty() -> None:
    found = modes_of(make_scene(box_plan(3.1, 2.7), 2.3), 0.3, 20.0, 30.0)
    assert found.shape.shape == (0, len(problem_of(make_scene(box_plan(3.1, 2.7), 2.3), 0.3).cells.volume))
