"""Plates, perforated and slotted panels, Helmholtz resonators: published worked numbers, closed limits, passivity."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fdtd.physics import holes
from fdtd.physics.admittance import admittance, normal_absorption
from fdtd.physics.medium import Medium
from fdtd.physics.panels import (
    HelmholtzResonator,
    PerforatedPanel,
    Plate,
    SlottedPanel,
    cavity_impedance,
    first_resonance,
)

AIR = Medium(density=1.204, speed_of_sound=343.2)
BASS = np.geomspace(20.0, 200.0, 40)
THIN = Medium(density=1.204, speed_of_sound=343.2, viscosity=1e-12)  # air without viscosity, for closed formulas


# Plate


@pytest.mark.parametrize(("mass", "depth", "frequency"), [(10.0, 0.1, 60.0), (5.0, 0.1, 84.9), (10.0, 0.2, 42.4)])
def test_plate_resonance_is_sixty_over_root_of_mass_and_depth(mass: float, depth: float, frequency: float) -> None:
    """f0 = 60/sqrt(m d) (Kuttruff, Room Acoustics, sec. 2.4, prints 600 with d in cm; from memory; M. Feuerbacher 2005
    derives it). In this air the constant is 59.94, and a third of the cavity's air moves along: 0.2 to 0.4 % lower."""
    assert Plate(mass, depth).resonance(AIR) == pytest.approx(frequency, rel=6e-3)
    with_air = 59.94 / np.sqrt((mass + AIR.density * depth / 3.0) * depth)
    assert Plate(mass, depth).resonance(AIR) == pytest.approx(with_air, rel=1e-4)


def test_cavity_full_of_wool_is_nearly_isothermal() -> None:
    """Constant 59.94/sqrt(1.4) = 50.7 in place of 60; 5 % of skeleton in the wool make its air 5 % stiffer."""
    plate = Plate(10.0, 0.1, fill_depth=0.1, fill_resistivity=10_000.0)
    assert plate.resonance(AIR) == pytest.approx(50.7 / np.sqrt(0.95), rel=5e-3)


def test_own_stiffness_adds_to_that_of_the_cavity() -> None:
    stiffness = AIR.bulk_modulus / 0.1
    soft, stiff = Plate(20.0, 0.1).resonance(AIR), Plate(20.0, 0.1, stiffness=stiffness).resonance(AIR)
    assert stiff / soft == pytest.approx(np.sqrt(2.0), rel=2e-3)


def test_plate_admittance_is_the_published_impedance() -> None:
    """Z = r + j omega m - j rho c cot(k d), r = loss x omega0 x m."""
    plate = Plate(7.0, 0.15, loss=0.2)
    omega = 2.0 * np.pi * BASS
    loss = 0.2 * 2.0 * np.pi * plate.resonance(AIR) * 7.0
    wanted = loss + 1j * (omega * 7.0 - AIR.impedance / np.tan(omega / AIR.speed_of_sound * 0.15))
    np.testing.assert_allclose(1.0 / plate.admittance(BASS, AIR), wanted, rtol=1e-10)


@pytest.mark.parametrize("depth", [0.05, 0.1, 0.2])
def test_the_branch_leaves_out_the_next_term_of_the_cotangent(depth: float) -> None:
    """-cot x = -1/x + x/3 + x³/45 + 2x⁵/945 + ...: of rho c²/(omega d), the branch leaves out x⁴/45 + 2x⁶/945."""
    plate = Plate(8.0, depth, loss=0.1, stiffness=2e5)
    x = 2.0 * np.pi * BASS / AIR.speed_of_sound * depth
    (branch,) = plate.branches(AIR) or ()
    assert branch.mass == pytest.approx(8.0 + AIR.density * depth / 3.0)
    missing = 1.0 / plate.admittance(BASS, AIR) - 1.0 / admittance((branch,), BASS)
    left_out = missing.imag * x / AIR.impedance
    np.testing.assert_allclose(left_out, x**4 / 45.0 + 2.0 * x**6 / 945.0, rtol=0.03, atol=1e-11)
    assert np.abs(missing.real).max() < 1e-9 * branch.resistance


def test_the_branch_absorbs_like_the_plate() -> None:
    for depth in (0.05, 0.1, 0.2):
        plate = Plate(8.0, depth)
        exact = normal_absorption(AIR.impedance * plate.admittance(BASS, AIR))
        found = normal_absorption(AIR.impedance * admittance(plate.branches(AIR) or (), BASS))
        assert np.abs(exact - found).max() < 2e-3


def test_a_filled_cavity_has_no_exact_branches() -> None:
    assert Plate(8.0, 0.1, fill_depth=0.05, fill_resistivity=8000.0).branches(AIR) is None


def test_wool_in_the_cavity_damps() -> None:
    empty, half = Plate(8.0, 0.1, loss=0.0), Plate(8.0, 0.1, loss=0.0, fill_depth=0.05, fill_resistivity=8000.0)
    assert empty.admittance(BASS, AIR).real.max() == pytest.approx(0.0, abs=1e-12)
    at_resonance = 1.0 / half.admittance(half.resonance(AIR), AIR)
    # The air goes through a third of the wool on average: sigma depth/3, plus what heat exchange takes.
    assert 8000.0 * 0.05 / 3.0 * 0.2 < float(at_resonance.real) < 8000.0 * 0.05
    assert abs(float(at_resonance.imag)) < 1e-6 * AIR.impedance


def test_cavity_fill_of_almost_nothing_changes_little() -> None:
    """What is left is the skeleton's 5 % of the volume."""
    filled, empty = cavity_impedance(BASS, AIR, 0.1, 0.1, 1e-3), cavity_impedance(BASS, AIR, 0.1)
    np.testing.assert_allclose(filled * 0.95, empty, rtol=3e-3)


# Perforated and slotted panels


def test_perforated_resonance_of_a_published_example() -> None:
    """Holes of 1/8 in, 3/8 in apart in triangles (open share 0.10), 1/16 in thick, 3/4 in of air: nomogram 2000 Hz; the
    formula (c/2 pi) sqrt(P/(D (t + 0.8 d))) gives 1947 Hz (iperf.org/ac25.html). Ours has less end correction, since
    neighbours share the flow, and the air of the deep cavity (k D = 0.7) moves along; the two nearly cancel."""
    inch, share = 0.0254, 0.10
    spacing = 0.5 * inch / 8.0 * np.sqrt(np.pi / share)
    panel = PerforatedPanel(inch / 8.0, spacing, inch / 16.0, 0.75 * inch)
    assert panel.open_share == pytest.approx(share)
    assert panel.resonance(AIR) == pytest.approx(2000.0, rel=0.03)


def test_sparse_holes_over_a_shallow_cavity_follow_the_textbook_formula() -> None:
    """(c/2 pi) sqrt(P/(D (t + 0.85 d))), Cox and D'Antonio, Acoustic Absorbers and Diffusers, ch. 7."""
    panel = PerforatedPanel(0.01, 0.2, 0.02, 0.05)
    wanted = AIR.speed_of_sound / (2.0 * np.pi) * np.sqrt(panel.open_share / (0.05 * (0.02 + 0.85 * 0.01)))
    assert panel.resonance(THIN) == pytest.approx(wanted, rel=0.02)
    assert panel.resonance(AIR) < panel.resonance(THIN)  # boundary layers add mass


def test_slotted_resonance_from_mass_and_spring() -> None:
    panel = SlottedPanel(0.005, 0.1, 0.02, 0.05)
    length = 0.02 / 0.05 + 2.0 * (0.1 / np.pi) * np.log(1.0 / np.sin(np.pi * 0.05 / 2.0)) + 0.05 / 3.0
    wanted = AIR.speed_of_sound / (2.0 * np.pi) / np.sqrt(0.05 * length)
    assert panel.resonance(THIN) == pytest.approx(wanted, rel=1e-3)


def test_losses_without_cloth_are_those_of_the_holes_and_their_ends() -> None:
    """Wide holes: viscous drag on the wall, (t + d) long (Ingard 1953): 4 Rs/d per length,
    Rs = sqrt(omega rho eta/2)."""
    panel = PerforatedPanel(0.02, 0.08, 0.03, 0.1)
    surface = np.sqrt(0.5 * 2.0 * np.pi * BASS * AIR.density * AIR.viscosity)
    wanted = 4.0 * surface / 0.02 * (0.03 + 0.02) / panel.open_share
    np.testing.assert_allclose((1.0 / panel.admittance(BASS, AIR)).real, wanted, rtol=0.15)
    rows = np.array([50.0, 5000.0])  # the thinner the boundary layer, the closer
    closer = (1.0 / panel.admittance(rows, AIR)).real / np.sqrt(rows)
    assert closer[1] / (wanted[0] / np.sqrt(BASS[0])) == pytest.approx(1.0, abs=0.02)


def test_cloth_is_in_series() -> None:
    untreated, clothed = (
        PerforatedPanel(0.005, 0.03, 0.006, 0.1),
        PerforatedPanel(0.005, 0.03, 0.006, 0.1, resistance=200.0),
    )
    added = 1.0 / clothed.admittance(BASS, AIR) - 1.0 / untreated.admittance(BASS, AIR)
    np.testing.assert_allclose(added, 200.0, rtol=1e-9)


def test_matched_cloth_absorbs_all_at_resonance() -> None:
    untreated = SlottedPanel(0.006, 0.08, 0.02, 0.12)
    own = float((1.0 / untreated.admittance(untreated.resonance(AIR), AIR)).real)
    panel = SlottedPanel(0.006, 0.08, 0.02, 0.12, resistance=AIR.impedance - own)
    alpha = normal_absorption(AIR.impedance * panel.admittance(panel.resonance(AIR), AIR))
    assert float(alpha) == pytest.approx(1.0, abs=1e-6)


def test_wool_that_touches_the_panel_adds_resistance_in_the_crowded_flow() -> None:
    near = PerforatedPanel(0.005, 0.025, 0.003, 0.1, fill_depth=0.1, fill_resistivity=10_000.0)
    clear = PerforatedPanel(0.005, 0.025, 0.003, 0.1, fill_depth=0.0999, fill_resistivity=10_000.0)
    f = 100.0
    added = complex(1.0 / near.admittance(f, AIR) - 1.0 / clear.admittance(f, AIR))
    wanted = 10_000.0 * holes.hole_end(0.0025, near.open_share) / near.open_share
    assert added.real == pytest.approx(wanted, rel=0.02)
    assert wanted > AIR.impedance  # it matters


# Helmholtz resonator


def test_helmholtz_resonance_of_the_textbook() -> None:
    """f0 = 55 sqrt(S/(l V)), l with both ends: a rounded c/(2 pi), which is 54.6 at 343 m/s (common textbook form;
    euphonics.org/4-2-1-the-helmholtz-resonator has omega0 = c sqrt(S/(V l)))."""
    resonator = HelmholtzResonator(neck_area=0.01, neck_length=0.1, volume=0.05)
    length = 0.1 + 2.0 * 0.849 * np.sqrt(0.01 / np.pi)
    assert resonator.resonance(AIR) == pytest.approx(55.0 * np.sqrt(0.01 / (length * 0.05)), rel=0.01)
    exact = AIR.speed_of_sound / (2.0 * np.pi) * np.sqrt(0.01 / (length * 0.05))
    assert resonator.resonance(THIN) == pytest.approx(exact, rel=2e-4)


def test_only_the_inner_end_is_in_the_admittance() -> None:
    resonator = HelmholtzResonator(0.005, 0.05, 0.03)
    length = 0.05 + 0.8488 * np.sqrt(0.005 / np.pi)
    omega = 2.0 * np.pi * BASS
    wanted = omega * THIN.density * length - THIN.bulk_modulus * 0.005 / (omega * 0.03)
    np.testing.assert_allclose((1.0 / resonator.admittance(BASS, THIN)).imag, wanted, rtol=1e-4, atol=1e-3)


def test_hole_without_neck_in_a_thin_wall() -> None:
    resonator = HelmholtzResonator(0.002, 0.0, 0.02)
    radius = np.sqrt(0.002 / np.pi)
    wanted = THIN.speed_of_sound / (2.0 * np.pi) * np.sqrt(0.002 / (0.02 * 2.0 * 8.0 / (3.0 * np.pi) * radius))
    assert resonator.resonance(THIN) == pytest.approx(wanted, rel=1e-5)


def test_resistance_is_added_as_given() -> None:
    untreated, packed = HelmholtzResonator(0.005, 0.05, 0.03), HelmholtzResonator(0.005, 0.05, 0.03, resistance=30.0)
    added = 1.0 / packed.admittance(BASS, AIR) - 1.0 / untreated.admittance(BASS, AIR)
    np.testing.assert_allclose(added, 30.0, rtol=1e-9)


# All of them

DEPTHS = st.floats(0.005, 1.0)
SHARES = st.floats(0.0, 1.0)
RESISTIVITIES = st.floats(100.0, 1e6)
FREQUENCIES = np.geomspace(1.0, 2000.0, 100)


def assert_passive(found: np.ndarray) -> None:
    assert np.isfinite(found).all()
    assert (found.real >= -1e-12 * np.abs(found)).all()


@given(st.floats(0.05, 100.0), DEPTHS, st.floats(0.0, 1.0), st.floats(0.0, 1e6), SHARES, RESISTIVITIES)
def test_no_plate_gives_energy(
    mass: float, depth: float, loss: float, stiffness: float, share: float, resistivity: float
) -> None:
    fill = depth * share
    plate = Plate(mass, depth, loss, stiffness, fill, resistivity if fill else 0.0)
    assert_passive(plate.admittance(FREQUENCIES, AIR))
    if loss > 1e-3:  # without loss the admittance there is infinite
        at_resonance = complex(1.0 / plate.admittance(plate.resonance(AIR), AIR))
        assert abs(at_resonance.imag) < 1e-6 * (abs(at_resonance) + AIR.impedance)


@given(
    st.sampled_from([PerforatedPanel, SlottedPanel]),
    st.floats(2e-4, 0.05),
    st.floats(0.01, 0.99),
    DEPTHS,
    SHARES,
    RESISTIVITIES,
    st.floats(0.0, 5000.0),
)
def test_no_panel_gives_energy(
    kind: type[PerforatedPanel] | type[SlottedPanel],
    size: float,
    ratio: float,
    depth: float,
    share: float,
    resistivity: float,
    cloth: float,
) -> None:
    fill = depth * share
    panel = kind(size, size / ratio, 0.5 * size + 1e-3, depth, cloth, fill, resistivity if fill else 0.0)
    assert_passive(panel.admittance(FREQUENCIES, AIR))
    assert panel.resonance(AIR) > 0.0


@given(st.floats(1e-5, 0.2), st.floats(0.0, 0.5), st.floats(1e-3, 2.0), st.floats(0.0, 1000.0))
def test_no_resonator_gives_energy(area: float, length: float, volume: float, resistance: float) -> None:
    resonator = HelmholtzResonator(area, length, volume, resistance)
    assert_passive(resonator.admittance(FREQUENCIES, AIR))
    assert resonator.resonance(AIR) > 0.0


def test_no_resonance_is_said() -> None:
    with pytest.raises(ValueError, match="no resonance between"):
        first_resonance(lambda f: -1.0 / f)


@pytest.mark.parametrize(
    ("kind", "numbers", "message"),
    [
        (Plate, (0.0, 0.1), "plate absorber: mass must be more than 0 kg/m², found 0.0"),
        (Plate, (5.0, 0.1, -0.1), "plate absorber: loss factor must be 0 or more, found -0.1"),
        (Plate, (5.0, 0.1, 0.1, 0.0, 0.2, 5000.0), "the fill, 0.2 m deep, must fit the cavity, which is 0.1 m deep"),
        (Plate, (5.0, 0.1, 0.1, 0.0, 0.05), "a fill needs both a depth and a flow resistivity above 0"),
        (PerforatedPanel, (0.02, 0.02, 0.003, 0.1), "holes 0.02 m wide run into each other at a spacing of 0.02 m"),
        (PerforatedPanel, (0.02, 0.05, 0.0, 0.1), "perforated panel: thickness must be more than 0 m, found 0.0"),
        (SlottedPanel, (-0.02, 0.05, 0.01, 0.1), "width of the slots must be more than 0 m, found -0.02"),
        (SlottedPanel, (0.02, 0.05, 0.01, 0.1, -1.0), "resistance of the cloth must be 0 Pa·s/m or more, found -1.0"),
        (HelmholtzResonator, (0.01, 0.1, 0.0), "Helmholtz resonator: volume must be more than 0 m³, found 0.0"),
    ],
)
def test_bad_numbers_are_named(kind: type, numbers: tuple[float, ...], message: str) -> None:
    with pytest.raises(ValueError) as caught:
        kind(*numbers)
    assert message in str(caught.value)
