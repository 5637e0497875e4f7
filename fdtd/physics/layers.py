"""Plane layers one behind the other: what the front sees of them, at normal incidence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.physics.medium import Medium

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class Fluid:
    """A fluid, or a porous material that behaves like one, at given frequencies; time factor e^{+j omega t}.

    impedance : characteristic impedance, Pa·s/m; wavenumber : 1/m, its imaginary part not positive. Both have the shape
    of the frequencies; velocity is volume velocity per whole cross-section (skeleton included).
    """

    impedance: ComplexArray
    wavenumber: ComplexArray

    def mass_impedance(self) -> ComplexArray:
        """j omega times the effective density = j (impedance) (wavenumber), Pa·s/m²."""
        return 1j * self.impedance * self.wavenumber


def air(frequency: ArrayLike, medium: Medium) -> Fluid:
    """Air without losses at `frequency`, Hz."""
    omega = 2.0 * np.pi * np.asarray(frequency, dtype=float)
    wavenumber = np.asarray(omega / medium.speed_of_sound, dtype=complex)
    return Fluid(np.full_like(wavenumber, medium.impedance), wavenumber)


def admittance_in_front(fluid: Fluid, depth: float, behind: ArrayLike = 0.0) -> ComplexArray:
    """Specific admittance at the front of a layer `depth` m deep, m/(Pa·s).

    behind : specific admittance at its back, 0 for a rigid wall (which gives 1/Z with Z = -j Zc cot(k depth)).
    Source: transfer matrix of a fluid layer, Allard and Atalla, Propagation of Sound in Porous Media (2009), ch. 2;
    in admittances and with the tangent, so that neither a rigid wall nor strong damping overflows.
    """
    own = 1.0 / fluid.impedance
    tangent = 1j * np.tan(fluid.wavenumber * depth)
    back = np.asarray(behind, dtype=complex)
    return np.asarray((back + own * tangent) / (1.0 + back * tangent / own), dtype=complex)
