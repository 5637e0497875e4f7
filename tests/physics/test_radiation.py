"""Air in front of a small face: known masses, energy into the far field, and the most that a face can absorb."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, special

from fdtd.physics.admittance import diffuse_absorption
from fdtd.physics.medium import Medium
from fdtd.physics.radiation import (
    equivalent_absorption_area,
    inverse_distance,
    largest_absorption_area,
    piston_impedance,
    piston_mass,
)

MEDIUM = Medium(1.204, 343.2)


def rectangle_integral(width: float, height: float) -> float:
    """4 integral of (a - x)(b - y)/r in polar coordinates, where 1/r cancels, by quadrature."""

    def along(angle: float) -> float:
        reach = min(width / max(math.cos(angle), 1e-300), height / max(math.sin(angle), 1e-300))
        return integrate.quad(lambda r: (width - r * math.cos(angle)) * (height - r * math.sin(angle)), 0.0, reach)[0]

    corner = math.atan2(height, width)
    return 4.0 * integrate.quad(along, 0.0, math.pi / 2.0, points=[corner])[0]


def test_square_is_the_known_number() -> None:
    """Mean of 1/distance in the unit square: 4 asinh(1) + (4/3)(1 - sqrt 2) = 2.9732 (recomputed by quadrature)."""
    assert inverse_distance(1.0, 1.0) == pytest.approx(2.9732, abs=5e-5)


@pytest.mark.parametrize(("width", "height"), [(1.0, 1.0), (0.3, 0.2), (1.0, 0.05), (0.1, 0.7)])
def test_closed_form_of_the_double_integral(width: float, height: float) -> None:
    assert inverse_distance(width, height) == pytest.approx(rectangle_integral(width, height), rel=1e-8)


def test_square_is_close_to_the_circle_of_the_same_area() -> None:
    """Circular piston in a baffle: 8 a/(3 pi) of air column (Rayleigh; Kinsler et al., Fundamentals of Acoustics).

    The circle has the largest mass of all shapes of an area; the square has 1.2 % less.
    """
    side = 0.2
    circle = 8.0 / (3.0 * math.pi) * side / math.sqrt(math.pi)
    column = piston_mass(side, side, MEDIUM) * side**2 / MEDIUM.density
    assert column == pytest.approx(0.4732 * side, rel=1e-4)
    assert 0.98 < column / circle < 1.0


def test_low_frequency_limit_of_the_published_square_piston() -> None:
    """Rayleigh's integral at small k over a square, by quadrature over the pair density (exp(-jkr)/r)."""
    side, frequency = 0.2, 40.0
    k = 2.0 * math.pi * frequency / MEDIUM.speed_of_sound
    node, weight = special.roots_legendre(60)
    angle, weight_angle = (node + 1.0) * math.pi / 8.0, weight * math.pi / 8.0
    total = 0.0j
    for a, w in zip(angle, weight_angle, strict=True):  # an eighth of the square, times eight
        reach = side / math.cos(a)
        r = (node + 1.0) * reach / 2.0
        density = (side - r * math.cos(a)) * (side - r * math.sin(a))
        total += 8.0 * w * np.sum(weight * reach / 2.0 * density * np.exp(-1j * k * r))
    omega = 2.0 * math.pi * frequency
    exact = 1j * omega * MEDIUM.density / (2.0 * math.pi) * total / side**4
    found = piston_impedance(side, side, frequency, MEDIUM)
    assert found.real == pytest.approx(exact.real, rel=0.005)
    assert found.imag == pytest.approx(exact.imag, rel=0.01)


def test_corner_is_a_quarter_of_the_piston_that_its_images_complete() -> None:
    """With images, the quarter feels the pressure of the doubled piston, moved by four times the volume velocity."""
    whole = piston_impedance(0.6, 0.4, 50.0, MEDIUM)
    corner = piston_impedance(0.3, 0.2, 50.0, MEDIUM, corner=True)
    assert corner == pytest.approx(4.0 * whole, rel=1e-12)


@pytest.mark.parametrize("corner", [False, True])
def test_no_passive_face_exceeds_the_bound(corner: bool) -> None:
    """lambda²/pi, four times the lambda²/(4 pi) of a resonant monopole: 3.75 m² at 50 Hz, 0.94 m² at 100 Hz.

    The bound is from memory, the numbers are recomputed.
    """
    medium = MEDIUM
    assert largest_absorption_area(np.array([50.0, 100.0]), medium) / 4.0 == pytest.approx([3.75, 0.94], abs=0.005)
    rng = np.random.default_rng(3)
    frequency = rng.uniform(20.0, 200.0, 3000)
    size = 10.0 ** rng.uniform(-7.0, -1.0, 3000)
    y = size * np.exp(1j * rng.uniform(-0.5, 0.5, 3000) * math.pi)
    area = equivalent_absorption_area(y, 0.04, 0.2, 0.2, frequency, medium, corner)
    bound = largest_absorption_area(frequency, medium)
    assert np.all(area >= 0.0) and np.all(area <= bound * (1.0 + 1e-12))
    load = piston_impedance(0.2, 0.2, frequency, medium, corner)
    best = equivalent_absorption_area(1.0 / np.conj(load) / 0.04, 0.04, 0.2, 0.2, frequency, medium, corner)
    assert best == pytest.approx(bound, rel=1e-10)


def test_hard_small_face_is_the_limit_of_paris_integral() -> None:
    """Random-incidence absorption of a nearly hard surface is 8 Re(rho c Y) (Kuttruff); in a corner four times that."""
    y, area = 1e-5 / MEDIUM.impedance * np.exp(0.4j), 0.04
    wall = equivalent_absorption_area(y, area, 0.2, 0.2, 60.0, MEDIUM)
    assert wall == pytest.approx(area * diffuse_absorption(MEDIUM.impedance * y), rel=1e-3)
    assert wall == pytest.approx(8.0 * MEDIUM.impedance * area * y.real, rel=1e-4)
    assert equivalent_absorption_area(y, area, 0.2, 0.2, 60.0, MEDIUM, corner=True) == pytest.approx(4 * wall, rel=1e-4)


def test_a_face_that_feeds_the_field_counts_negative() -> None:
    assert equivalent_absorption_area(-1e-4, 0.04, 0.2, 0.2, 60.0, MEDIUM) < 0.0


@pytest.mark.parametrize("width", [0.0, -0.1, math.nan])
def test_face_without_size(width: float) -> None:
    with pytest.raises(ValueError, match="positive width"):
        piston_impedance(width, 0.2, 50.0, MEDIUM)
