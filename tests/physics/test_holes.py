"""Air in holes and slots against creeping flow, boundary layers, potential flow and published approximations."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import j1

from fdtd.physics import holes
from fdtd.physics.medium import Medium

AIR = Medium(density=1.204, speed_of_sound=343.2)
BASS = np.geomspace(20.0, 200.0, 40)


def test_narrow_hole_is_poiseuille_flow() -> None:
    """8 eta t/a² and 4/3 of the mass (Crandall 1926)."""
    radius, length, f = 5e-6, 1e-3, 10.0
    found = complex(holes.hole_impedance(f, AIR, radius, length))
    assert found.real == pytest.approx(8.0 * AIR.viscosity * length / radius**2, rel=1e-6)
    assert found.imag == pytest.approx(2.0 * np.pi * f * AIR.density * length * 4.0 / 3.0, rel=1e-5)


def test_narrow_slot_is_plane_poiseuille_flow() -> None:
    """12 eta t/w² and 6/5 of the mass."""
    width, length, f = 1e-5, 1e-3, 10.0
    found = complex(holes.slot_impedance(f, AIR, width, length))
    assert found.real == pytest.approx(12.0 * AIR.viscosity * length / width**2, rel=1e-6)
    assert found.imag == pytest.approx(2.0 * np.pi * f * AIR.density * length * 1.2, rel=1e-5)


@pytest.mark.parametrize(("kind", "per_size"), [(holes.hole_impedance, 2.0), (holes.slot_impedance, 2.0)])
def test_wide_openings_have_thin_boundary_layers(kind, per_size: float) -> None:  # type: ignore[no-untyped-def]
    """Perimeter/area times (1 + j) sqrt(omega rho eta/2): 2/radius for a hole, 2/width for a slot."""
    size, length, f = 0.05, 0.02, 100.0
    layer = (1.0 + 1j) * np.sqrt(0.5 * 2.0 * np.pi * f * AIR.density * AIR.viscosity)
    extra = complex(kind(f, AIR, size, length)) - 2j * np.pi * f * AIR.density * length
    assert extra == pytest.approx(per_size / size * length * layer, rel=0.02)


def test_slot_formula_as_it_is_printed() -> None:
    q = 0.5 * 0.003 * np.sqrt(2j * np.pi * BASS * AIR.density / AIR.viscosity)
    wanted = 2j * np.pi * BASS * AIR.density * 0.018 / (1.0 - np.tanh(q) / q)
    np.testing.assert_allclose(holes.slot_impedance(BASS, AIR, 0.003, 0.018), wanted, rtol=1e-12)


def test_hole_formula_follows_maas_approximation() -> None:
    """32 eta t/d² sqrt(1 + k²/32), omega rho t (1 + 1/sqrt(9 + k²/2)), k = d sqrt(omega rho/(4 eta)): D.-Y. Maa, Noise
    Control Eng. J. 29 (1987) 77-84, within 8 % of the exact form (formula from memory)."""
    diameter, length = 0.8e-3, 1e-3
    f = np.geomspace(20.0, 20_000.0, 100)
    k = diameter * np.sqrt(2.0 * np.pi * f * AIR.density / (4.0 * AIR.viscosity))
    resistance = 32.0 * AIR.viscosity * length / diameter**2 * np.sqrt(1.0 + k**2 / 32.0)
    mass = AIR.density * length * (1.0 + 1.0 / np.sqrt(9.0 + k**2 / 2.0))
    found = holes.hole_impedance(f, AIR, diameter / 2.0, length)
    np.testing.assert_allclose(found.real, resistance, rtol=0.08)
    np.testing.assert_allclose(found.imag, 2.0 * np.pi * f * mass, rtol=0.08)


def test_end_correction_of_a_hole_alone() -> None:
    """8/(3 pi) = 0.849 radii in a flange: Jaouen and Chevillotte, Acta Acustica 104 (2018) 243-250. Two of them on a
    hole of no length make 8.1 % more mass than Rayleigh's conductivity 2a of a thin hole."""
    assert holes.hole_end(1.0, 0.0) == pytest.approx(0.849, abs=5e-4)
    radius = 0.5
    mass = 2.0 * holes.hole_end(radius, 0.0) / (np.pi * radius**2)
    assert mass == pytest.approx(1.0808, abs=1e-4)


def lattice_end(share: float, reach: int = 1200) -> float:
    """End correction, in spacings, of a round piston in a square pattern: sum over the evanescent modes of one square.

    (4 pi/b²) sum J1²(K a)/K³ over K = (2 pi/b)(m, n) not 0, the mass of uniform flow; the rest beyond `reach` by its
    integral with J1² at its mean 1/(pi K a).
    """
    radius, largest = np.sqrt(share / np.pi), 2.0 * np.pi * reach
    steps = np.arange(-reach, reach + 1)
    wave = 2.0 * np.pi * np.hypot(*np.meshgrid(steps, steps))
    wave = wave[(wave > 0.0) & (wave < largest)]
    return float(4.0 * np.pi * np.sum(j1(wave * radius) ** 2 / wave**3) + 1.0 / (np.pi * radius * largest**2))


def test_fok_takes_off_what_a_square_pattern_of_holes_takes_off() -> None:
    """For few holes only the far flow of the neighbours counts, whatever the flow in the hole: 1.4092 x pi/4 radii per
    root of the open share (pi/4 as Fok starts from a thin hole)."""
    share = 0.0025
    radius = np.sqrt(share / np.pi)
    saved = (holes.FLANGED_END * radius - lattice_end(share)) / (radius * np.sqrt(share))
    assert saved == pytest.approx(1.4092 * np.pi / 4.0, rel=0.01)


@pytest.mark.parametrize(("share", "closeness"), [(0.0025, 0.01), (0.01, 0.02), (0.04, 0.04), (0.09, 0.06)])
def test_fok_against_the_sum_over_a_square_pattern(share: float, closeness: float) -> None:
    """Uniform flow is an upper bound of the mass (Thomson's principle); Fok stays below it, and near it."""
    ours = holes.hole_end(np.sqrt(share / np.pi), share)
    assert 1.0 - closeness < ours / lattice_end(share) < 1.0


@pytest.mark.parametrize(("share", "length"), [(0.25, 1.22288), (0.5, 0.44124), (0.75, 0.10079)])
def test_end_correction_of_slots_is_the_potential_flow(share: float, length: float) -> None:
    """Added length of a gap at one side of a duct of width 1, which with its mirror image is a slot of twice the width
    every 2: numerical Laplace solutions (finite volumes, extrapolated), of our own."""
    both = 2.0 * holes.slot_end(2.0 * share, share) / share
    assert both == pytest.approx(length, rel=3e-4)
