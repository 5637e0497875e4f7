"""Porous layers against their published formulas, written a second time here, and against their limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fdtd.physics import layers
from fdtd.physics.admittance import normal_absorption
from fdtd.physics.medium import Medium
from fdtd.physics.porous import PorousLayer, characteristic_lengths, johnson_champoux_allard

from .empirical_fluids import delany_bazley, miki

AIR = Medium(density=1.204, speed_of_sound=343.2)
BASS = np.geomspace(20.0, 200.0, 30)


def in_range(flow_resistivity: float) -> np.ndarray:
    """Frequencies, Hz, with 0.01 < rho f/sigma < 1."""
    return np.geomspace(0.01, 1.0, 41) * flow_resistivity / AIR.density


@pytest.mark.parametrize(
    ("x", "resistance", "reactance", "phase", "damping"),
    [
        # By hand from logarithms: 10^0.754 = 5.67545, 10^0.732 = 5.39511, 10^0.700 = 5.01187, 10^0.595 = 3.93550.
        (0.1, 1.0 + 0.0571 * 5.67545, -0.0870 * 5.39511, 1.0 + 0.0978 * 5.01187, -0.1890 * 3.93550),
        (1.0, 1.0571, -0.0870, 1.0978, -0.1890),
    ],
)
def test_delany_bazley_at_tabulated_points(
    x: float, resistance: float, reactance: float, phase: float, damping: float
) -> None:
    """Delany and Bazley, Applied Acoustics 3 (1970) 105-116."""
    sigma = 10_000.0
    fluid = delany_bazley(x * sigma / AIR.density, AIR, sigma)
    ratio = complex(fluid.impedance / AIR.impedance)
    slowness = complex(fluid.wavenumber * AIR.speed_of_sound / (2.0 * np.pi * x * sigma / AIR.density))
    assert ratio == pytest.approx(complex(resistance, reactance), rel=1e-5)
    assert slowness == pytest.approx(complex(phase, damping), rel=1e-5)


def test_delany_bazley_in_its_first_printing() -> None:
    """The paper gives f/sigma in SI with 9.08, 0.75 / 11.9, 0.73 / 10.8, 0.70 / 10.3, 0.59 on (1000 f/sigma)."""
    sigma = 20_000.0
    f = np.geomspace(0.01, 1.0, 30) * sigma
    x = 1000.0 * f / sigma
    impedance = 1.0 + 9.08 * x**-0.75 - 11.9j * x**-0.73
    wavenumber = 1.0 + 10.3 * x**-0.59 * -1j + 10.8 * x**-0.70
    fluid = delany_bazley(f, AIR, sigma)
    # Rounded exponents, and air as they had it: the two printings differ by up to 3 %.
    assert np.abs(fluid.impedance / AIR.impedance / impedance - 1.0).max() < 0.03
    in_air = 2.0 * np.pi * f / AIR.speed_of_sound
    assert np.abs(fluid.wavenumber / in_air / wavenumber - 1.0).max() < 0.03


@pytest.mark.parametrize(
    ("ratio", "impedance", "wavenumber"),
    [
        # Miki's own print, J. Acoust. Soc. Jpn. (E) 11 (1990) 19-24: 0.070, 0.107, 0.109, 0.160 on f/sigma, exponents
        # 0.632 and 0.618 (value from memory); 0.1^-0.632 = 4.28549 and 0.1^-0.618 = 4.14954.
        (0.1, 1.0 + 0.070 * 4.28549 - 0.107j * 4.28549, 1.0 + 0.109 * 4.14954 - 0.160j * 4.14954),
        (1.0, 1.070 - 0.107j, 1.109 - 0.160j),
        (0.01, 1.0 + 0.070 * 18.3654 - 0.107j * 18.3654, 1.0 + 0.109 * 17.2187 - 0.160j * 17.2187),
    ],
)
def test_miki_at_tabulated_points(ratio: float, impedance: complex, wavenumber: complex) -> None:
    sigma = 8000.0
    fluid = miki(ratio * sigma, AIR, sigma)
    assert complex(fluid.impedance / AIR.impedance) == pytest.approx(impedance, rel=2e-3)
    in_air = 2.0 * np.pi * ratio * sigma / AIR.speed_of_sound
    assert complex(fluid.wavenumber / in_air) == pytest.approx(wavenumber, rel=2e-3)


def test_johnson_champoux_allard_in_the_form_of_pride() -> None:
    """Dimensionless form with shape factors M = 8 eta tortuosity/(sigma porosity length²) and M' = 1 (Allard and
    Atalla, 2009, ch. 5; Pride's p = 1 gives the same model)."""
    sigma, porosity, tortuosity = 12_000.0, 0.93, 1.4
    f = np.geomspace(1.0, 20_000.0, 50)
    viscous, thermal = characteristic_lengths(AIR, sigma, porosity, tortuosity)
    viscous_ratio = 2.0 * np.pi * f * AIR.density * tortuosity / (sigma * porosity)
    shape = 8.0 * AIR.viscosity * tortuosity / (sigma * porosity * viscous**2)
    bent = tortuosity * (1.0 + np.sqrt(1.0 + 0.5j * shape * viscous_ratio) / (1j * viscous_ratio))
    thermal_ratio = 2.0 * np.pi * f * AIR.density * AIR.prandtl * (thermal**2 / 8.0) / AIR.viscosity
    heat = 1.0 + np.sqrt(1.0 + 0.5j * thermal_ratio) / (1j * thermal_ratio)
    compliance = AIR.heat_ratio - (AIR.heat_ratio - 1.0) / heat
    fluid = johnson_champoux_allard(f, AIR, sigma, porosity, tortuosity)
    wanted_impedance = AIR.impedance / porosity * np.sqrt(bent / compliance)
    wanted_wavenumber = 2.0 * np.pi * f / AIR.speed_of_sound * np.sqrt(bent * compliance)
    np.testing.assert_allclose(fluid.impedance, wanted_impedance, rtol=1e-10)
    np.testing.assert_allclose(fluid.wavenumber, wanted_wavenumber, rtol=1e-10)


def test_johnson_champoux_allard_is_the_fibre_formula_at_porosity_one() -> None:
    """J. F. Allard, Y. Champoux, J. Acoust. Soc. Am. 91 (1992) 3346-3353, formulas for fibres (values from memory):
    rho (1 - j/(2 pi) G1/X) and K (1.4 - 0.4/(1 - j G2/(8 pi Pr X)))⁻¹, X = rho f/sigma."""
    sigma = 10_000.0
    f = in_range(sigma)
    x = AIR.density * f / sigma
    first = np.sqrt(1.0 + 1j * np.pi * x)
    second = np.sqrt(1.0 + 4j * np.pi * AIR.prandtl * x)
    density = AIR.density * (1.0 - 0.5j / np.pi / x * first)
    modulus = AIR.bulk_modulus / (1.4 - 0.4 / (1.0 - 1j / (8.0 * np.pi * AIR.prandtl * x) * second))
    fluid = johnson_champoux_allard(f, AIR, sigma, 1.0, 1.0)
    np.testing.assert_allclose(fluid.impedance, np.sqrt(density * modulus), rtol=1e-10)


@pytest.mark.parametrize("tortuosity", [1.0, 1.7])
@pytest.mark.parametrize("sigma", [2000.0, 60_000.0])
def test_low_frequency_limit_is_flow_resistance_and_isothermal_air(sigma: float, tortuosity: float) -> None:
    porosity, f = 0.9, 1e-3
    fluid = johnson_champoux_allard(f, AIR, sigma, porosity, tortuosity)
    assert complex(fluid.mass_impedance()) == pytest.approx(sigma, rel=1e-4)
    modulus = complex(fluid.impedance * 2.0 * np.pi * f / fluid.wavenumber)
    assert modulus == pytest.approx(AIR.bulk_modulus / AIR.heat_ratio / porosity, rel=1e-4)


def test_high_frequency_limit_is_air_slowed_by_the_root_of_the_tortuosity() -> None:
    f, porosity, tortuosity = 1e10, 0.9, 1.69
    fluid = johnson_champoux_allard(f, AIR, 5000.0, porosity, tortuosity)
    assert complex(fluid.wavenumber * AIR.speed_of_sound / (2.0 * np.pi * f)) == pytest.approx(1.3, rel=1e-3)
    assert complex(fluid.impedance / AIR.impedance) == pytest.approx(1.3 / porosity, rel=1e-3)


def test_johnson_champoux_allard_agrees_with_miki_where_both_hold() -> None:
    """Largest differences at 0.01 < rho f/sigma < 1, porosity and tortuosity 1: 7.9 % of the characteristic impedance
    and 10.5 % of the wavenumber, whatever the resistivity (both scale with f/sigma). Of the absorption of layers on a
    rigid wall, 2 to 20 cm of 3,000 to 30,000 Pa·s/m²: 0.13 at most, on the steep side; 0.04 on average."""
    differences = []
    for sigma in (3000.0, 10_000.0, 30_000.0):
        f = in_range(sigma)
        ours, theirs = johnson_champoux_allard(f, AIR, sigma, 1.0, 1.0), miki(f, AIR, sigma)
        assert np.abs(ours.impedance / theirs.impedance - 1.0).max() < 0.08
        assert np.abs(ours.wavenumber / theirs.wavenumber - 1.0).max() < 0.11
        for thickness in (0.02, 0.05, 0.1, 0.2):
            front = [AIR.impedance * layers.admittance_in_front(fluid, thickness) for fluid in (ours, theirs)]
            differences.append(np.abs(normal_absorption(front[0]) - normal_absorption(front[1])))
    assert np.max(differences) < 0.13
    assert np.mean(differences) < 0.04


def test_delany_bazley_turns_active_below_its_range_and_the_layer_does_not() -> None:
    """Why the layer does not use it: a known fault of the 1970 formula (Miki 1990)."""
    f = np.geomspace(5.0, 60.0, 50)
    thin, sigma = 0.02, 30_000.0
    theirs = layers.admittance_in_front(delany_bazley(f, AIR, sigma), thin)
    assert theirs.real.min() < 0.0
    assert PorousLayer(thin, sigma).admittance(f, AIR).real.min() > 0.0


def test_rigid_backed_layer_is_the_cotangent() -> None:
    layer = PorousLayer(0.1, 8000.0, porosity=0.97, tortuosity=1.1)
    fluid = johnson_champoux_allard(BASS, AIR, 8000.0, 0.97, 1.1)
    impedance = -1j * fluid.impedance / np.tan(fluid.wavenumber * 0.1)
    np.testing.assert_allclose(layer.admittance(BASS, AIR), 1.0 / impedance, rtol=1e-12)


def test_gap_is_the_textbook_transfer_matrix() -> None:
    """Z = (-j Zb Zc cot(kd) + Zc²)/(Zb - j Zc cot(kd)) with Zb = -j rho c cot(k0 gap): Cox and D'Antonio, Acoustic
    Absorbers and Diffusers, ch. 2 (formula from memory)."""
    thickness, gap, sigma = 0.05, 0.15, 9000.0
    fluid = johnson_champoux_allard(BASS, AIR, sigma)
    back = -1j * AIR.impedance / np.tan(2.0 * np.pi * BASS / AIR.speed_of_sound * gap)
    own = -1j * fluid.impedance / np.tan(fluid.wavenumber * thickness)
    impedance = (back * own + fluid.impedance**2) / (back + own)
    layer = PorousLayer(thickness, sigma, gap=gap)
    np.testing.assert_allclose(layer.admittance(BASS, AIR), 1.0 / impedance, rtol=1e-12)


def test_thin_cloth_a_quarter_wavelength_from_the_wall_absorbs_all() -> None:
    """A cloth of flow resistance rho c with air of a quarter wavelength behind (Kuttruff, Room Acoustics, sec. 2.4)."""
    f, thickness = 100.0, 1e-3
    gap = AIR.speed_of_sound / (4.0 * f)
    layer = PorousLayer(thickness, AIR.impedance / thickness, gap=gap)
    assert float(normal_absorption(AIR.impedance * layer.admittance(f, AIR))) == pytest.approx(1.0, abs=1e-3)


def test_layer_of_almost_nothing_is_air() -> None:
    layer = PorousLayer(0.1, 1e-3, gap=0.15, porosity=1.0)
    air = layers.admittance_in_front(layers.air(BASS, AIR), 0.25)
    np.testing.assert_allclose(layer.admittance(BASS, AIR), air, rtol=2e-3)


@given(
    thickness=st.floats(1e-3, 2.0),
    decades=st.floats(1.0, 6.5),
    gap=st.one_of(st.just(0.0), st.floats(1e-3, 2.0)),
    porosity=st.floats(0.05, 1.0),
    tortuosity=st.floats(1.0, 10.0),
)
def test_no_layer_gives_energy(
    thickness: float, decades: float, gap: float, porosity: float, tortuosity: float
) -> None:
    layer = PorousLayer(thickness, 10.0**decades, gap, porosity, tortuosity)
    found = layer.admittance(np.geomspace(0.1, 20_000.0, 200), AIR)
    assert np.isfinite(found).all()
    assert (found.real >= 0.0).all()


def test_shape_follows_the_frequency() -> None:
    layer = PorousLayer(0.1, 10_000.0, gap=0.1)
    assert layer.admittance(100.0, AIR).shape == ()
    assert layer.admittance(np.ones((2, 3)), AIR).shape == (2, 3)


@pytest.mark.parametrize(
    ("bad", "message"),
    [
        ({"thickness": 0.0}, "thickness must be more than 0 m, found 0.0"),
        ({"flow_resistivity": -1.0}, "flow resistivity must be more than 0 Pa·s/m², found -1.0"),
        ({"gap": float("nan")}, "gap to the wall must be 0 m or more, found nan"),
        ({"porosity": 95.0}, "porosity must be more than 0 and at most 1, found 95.0"),
        ({"tortuosity": 0.9}, "tortuosity must be 1 or more, found 0.9"),
    ],
)
def test_bad_numbers_are_named(bad: dict[str, float], message: str) -> None:
    with pytest.raises(ValueError, match="porous layer") as caught:
        PorousLayer(**{"thickness": 0.1, "flow_resistivity": 10_000.0, **bad})
    assert message in str(caught.value)
