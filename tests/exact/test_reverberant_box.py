"""A box lined with one surface of the library rings down as theory says.

Set-up: box 5.2 x 4.3 x 3.1 m, all six surfaces the same, cells of 0.2 m (some ten per wavelength at 141 Hz).
Theory, from the strictest to the plainest:
- Exact: the box is separable for equal locally reacting walls, so each mode's complex frequency follows from its modal
  equation with the branches' own Y at that complex frequency, whatever the absorption (tests/box_theory.py). A
  simulation started from one mode shape gives its decay. Expected error: second order in h at the wall cells, (k_x
  h/2)²: 4 % at 141 Hz; decays tell absorption, so that much of the absorption. Tolerance: 5 %, and 0.2 % of the
  frequency.
- Band: the octave's decay curve from corner to corner is the sum of those modes, all of which a corner excites alike;
  measured as in a room, from the -5 and -25 dB points. Residues are those of rigid modes, right for beta << 1.
  Tolerance 10 %.
- Sabine, T = 24 ln(10) V/(c S alpha) (ISO 354), with the printed random-incidence absorption: holds for oblique modes,
  which strike all the walls (delta = c beta sum 2/L_i = c S (8 beta)/(8 V), Kuttruff, Room Acoustics, ch. 3), while
  alpha = 8 beta, which is 5 % too much at alpha = 0.04 and 9 % at 0.08 (Paris' integral). So rows up to 0.08, modes of
  the 125 Hz octave's middle. Tolerance 10 %.
"""

from __future__ import annotations

import numpy as np
import pytest
from box_theory import eigenvalue, modes_below, ratio_at, rigid_frequency, single_modes, strongest_pole
from numpy.typing import NDArray
from rooms import DENSITY, SPEED, box_plan, make_scene, simulate_scene
from scipy import signal

from fdtd.library import surfaces as library
from fdtd.physics.admittance import Branches, resistive
from fdtd.scene.schema import Scene
from fdtd.simulation.transfer import impulse_responses, transfer_functions

SIZE = (5.2, 4.3, 3.1)
VOLUME = float(np.prod(SIZE))
AREA = 2.0 * (SIZE[0] * SIZE[1] + SIZE[1] * SIZE[2] + SIZE[2] * SIZE[0])
SPACING = 0.2
AXIAL, TANGENTIAL = [(1, 0, 0), (0, 0, 2), (4, 0, 0)], [(1, 1, 0), (2, 1, 0), (2, 3, 0)]
OBLIQUE = [(2, 2, 1), (3, 1, 1), (3, 2, 1), (2, 1, 2), (1, 2, 2)]
SOURCE, SEAT = (0.0, 0.0, 0.0), (5.2, 4.3, 3.1)
MEDIUM = make_scene(box_plan(1.0, 1.0), 1.0).air.medium
FREQUENCY = np.arange(0.25, 250.01, 0.25)
SURFACES = {
    "painted brickwork": "absorption",
    "carpet on concrete": "absorption",
    "single glazing": "absorption",
    "plaster on laths": "absorption",
    "heavy curtain": "absorption",
    "plasterboard on studs": "design",  # a plate that resonates at 65 Hz, in the middle of the modes
    "timber floor on joists": "design",
}


def branches_of(name: str, origin: str) -> Branches:
    """Branches that a scene gets from a row of the library."""
    return library.fitted(library.find(name), MEDIUM, origin).branches


def box(branches: Branches) -> Scene:
    """The box, one source in a corner, one seat in the opposite one."""
    return make_scene(box_plan(*SIZE[:2]), SIZE[2], surfaces=branches, sources=[SOURCE], seats=[SEAT])


def poles_found(branches: Branches, orders: list[tuple[int, int, int]]) -> list[complex]:
    """omega + j delta of single modes in the simulation, 1/s; the first 12 ms, when the walls get going, left out."""
    samples, step, dt = single_modes(box(branches), SIZE, orders, SPACING, 0.5)
    simulated = [strongest_pole(samples[10:, k], step) for k in range(len(orders))]
    return [2.0 / dt * np.sin(0.5 * w.real * dt) + 1j * w.imag for w in simulated]


def test_theory_reproduces_the_table_of_exact_modes() -> None:
    """Room 4.7 x 4.1 x 3.1 m with rho c Y = 1/50 and 1/10, values worked out by another program of ours to 1e-14."""
    size = (4.7, 4.1, 3.1)
    scale = SPEED / 340.0  # the table is for 340 m/s
    for order, share, frequency, delta in (
        ((1, 0, 0), 50, 36.1620, 6.74832),
        ((0, 1, 1), 50, 68.7498, 9.15425),
        ((2, 1, 1), 50, 99.8019, 10.60119),
        ((1, 0, 0), 10, 35.9609, 34.06126),
        ((2, 0, 0), 10, 72.4202, 33.92598),
        ((1, 1, 1), 10, 77.6989, 53.52122),
    ):
        omega = eigenvalue(order, size, resistive(1.0 / share, DENSITY, SPEED))
        assert omega.real == pytest.approx(2.0 * np.pi * frequency * scale, rel=2e-5)
        assert omega.imag == pytest.approx(delta * scale, rel=1e-5)


@pytest.mark.parametrize("name", SURFACES)
def test_each_mode_decays_as_its_equation_says(name: str) -> None:
    branches = branches_of(name, SURFACES[name])
    orders = [*AXIAL, *TANGENTIAL, *OBLIQUE]
    for order, found in zip(orders, poles_found(branches, orders), strict=True):
        exact = eigenvalue(order, SIZE, branches)
        assert found.imag == pytest.approx(exact.imag, rel=0.05), order
        assert found.real == pytest.approx(exact.real, rel=0.002), order


WEAK = ("painted brickwork", "timber floor on concrete", "carpet on concrete", "single glazing")


@pytest.mark.parametrize("name", WEAK)
def test_oblique_modes_decay_by_sabine_from_the_printed_table(name: str) -> None:
    surface = library.find(name)
    printed = surface.absorption[125.0]
    assert printed <= 0.08
    sabine = SPEED * AREA * printed / (8.0 * VOLUME)
    assert all(111.0 < rigid_frequency(order, SIZE) < 142.0 for order in OBLIQUE)
    decay = np.imag(poles_found(branches_of(name, "absorption"), [*OBLIQUE, *AXIAL]))
    assert np.mean(decay[: len(OBLIQUE)]) == pytest.approx(sabine, rel=0.1)
    assert np.mean(decay[len(OBLIQUE) :]) < 0.8 * sabine  # axial modes graze four walls: Sabine does not hold


def decay_time(transfer: NDArray[np.complex128], centre: float) -> float:
    """T60 in an octave, s, from the -5 and -25 dB points of the backward integral (ISO 3382-2), causal filter."""
    b, a = signal.butter(3, 2.0 * np.pi * centre * 2.0 ** np.array([-0.5, 0.5]), "bandpass", analog=True)
    filtered = transfer * signal.freqs(b, a, 2.0 * np.pi * FREQUENCY)[1]
    response, time = impulse_responses(filtered, FREQUENCY, 250.0)
    response = response[: int(0.8 * len(response))]  # what the ramps let ring before zero is at the end
    level = 10.0 * np.log10(np.cumsum(response[::-1] ** 2)[::-1])
    use = (level < level[0] - 5.0) & (level > level[0] - 25.0)
    return -60.0 / float(np.polyfit(time[: len(response)][use], level[use], 1)[0])


def corner_to_corner(branches: Branches) -> NDArray[np.complex128]:
    """Sum over the modes below 260 Hz, (frequency,), in any unit."""
    s = 2j * np.pi * FREQUENCY
    total = np.zeros(len(s), dtype=complex)
    for order in modes_below(260.0, SIZE):
        omega = eigenvalue(order, SIZE, branches)
        sign_and_size = np.prod([(-1.0) ** n * (1.0 if n == 0 else 2.0) for n in order])
        total += sign_and_size * s / ((s + omega.imag) ** 2 + omega.real**2)
    return total


@pytest.mark.parametrize("name", ["carpet on concrete", "single glazing", "plaster on laths"])
def test_octave_decays_as_the_sum_of_its_modes(name: str) -> None:
    branches = branches_of(name, SURFACES[name])
    found = transfer_functions(simulate_scene(box(branches), SPACING, 3.0), FREQUENCY)[0, 0]
    assert decay_time(found, 125.0) == pytest.approx(decay_time(corner_to_corner(branches), 125.0), rel=0.1)


def test_sabine_does_not_hold_where_the_walls_resonate() -> None:
    """Why the exact equation is used: at its resonance a plate of 8 beta = 1 or so shifts the modes that it damps."""
    branches = branches_of("plasterboard 100 mm off the wall", "design")
    omega = eigenvalue((1, 1, 1), SIZE, branches)
    sabine = SPEED * AREA * 8.0 * ratio_at(branches, omega.real).real / (8.0 * VOLUME)
    assert abs(sabine / omega.imag - 1.0) > 0.1
    assert omega.real / (2.0 * np.pi) > rigid_frequency((1, 1, 1), SIZE) + 4.0
