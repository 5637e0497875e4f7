"""Air in holes and slots: viscous boundary layers inside, and the air that moves along at both ends."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ive, jve

from fdtd.physics.layers import ComplexArray
from fdtd.physics.medium import Medium

FLANGED_END = 8.0 / (3.0 * np.pi)
"""End correction of a round piston in a wide flange, in radii: 0.849 (Rayleigh, Theory of Sound II, appendix A)."""


def hole_impedance(frequency: ArrayLike, medium: Medium, radius: float, length: float) -> ComplexArray:
    """Specific impedance of the air in a round hole, per area of the hole, without its ends, Pa·s/m.

    j omega rho t / (1 - 2 J1(z)/(z J0(z))), z = radius sqrt(-j omega rho/eta); the bracket is -J2(z)/J0(z).
    Sources: I. B. Crandall, Theory of Vibrating Systems and Sound (1926), appendix A; D.-Y. Maa, J. Acoust. Soc. Am.
    104 (1998) 2861-2866. frequency : Hz; radius, length : m.
    """
    omega = 2.0 * np.pi * np.asarray(frequency, dtype=float)
    z = radius * np.sqrt(-1j * omega * medium.density / medium.viscosity)
    ratio = -jve(0, z) / jve(2, z)  # scaled alike, so that wide holes do not overflow
    return np.asarray(1j * omega * medium.density * length * ratio, dtype=complex)


def slot_impedance(frequency: ArrayLike, medium: Medium, width: float, length: float) -> ComplexArray:
    """Specific impedance of the air in a long slot, per area of the slot, without its ends, Pa·s/m.

    j omega rho t / (1 - tanh(q)/q), q = (width/2) sqrt(j omega rho/eta); the bracket is I_3/2(q)/I_-1/2(q), which does
    not cancel at small q. Source: Allard and Atalla (2009), ch. 4 (slits). frequency : Hz; width, length : m.
    """
    omega = 2.0 * np.pi * np.asarray(frequency, dtype=float)
    q = 0.5 * width * np.sqrt(1j * omega * medium.density / medium.viscosity)
    return np.asarray(1j * omega * medium.density * length * ive(-0.5, q) / ive(1.5, q), dtype=complex)


def hole_end(radius: float, open_share: float) -> float:
    """End correction of one side of a hole among others in a square pattern, m of air in the hole.

    8/(3 pi) radii for a hole alone, times Fok's polynomial in sqrt(open share), because neighbours share the flow.
    Sources: V. A. Fok, Dokl. Akad. Nauk SSSR 31 (1941), as given by T. H. Melling, J. Sound Vib. 29 (1973) 1-65. A thin
    plate's air is up to 8 % less (Rayleigh's 2 radius conductivity): the flow then crowds to the rim.
    """
    x = float(np.sqrt(open_share))
    fok = 1.0 - 1.4092 * x + 0.33818 * x**3 + 0.06793 * x**5 - 0.02287 * x**6 + 0.03015 * x**7 - 0.01641 * x**8
    return FLANGED_END * radius * fok


def slot_end(width: float, open_share: float) -> float:
    """End correction of one side of a slot among parallel ones, m of air in the slot: (w/pi) ln(1/sin(pi share/2)).

    Exact for the potential flow through a thin screen of parallel slots (conformal mapping; Lamb, Hydrodynamics; for
    absorbers J. M. A. Smits, C. W. Kosten, Acustica 1 (1951) 114-122).
    """
    return float(width / np.pi * np.log(1.0 / np.sin(0.5 * np.pi * open_share)))


def edge_resistance(frequency: ArrayLike, medium: Medium) -> NDArray[np.float64]:
    """Viscous loss on the panel around one end of an opening, per area of the opening, Pa·s/m: sqrt(2 omega rho eta).

    Twice the surface resistance, as if a hole were one radius longer at each end. Source: U. Ingard, J. Acoust. Soc.
    Am. 25 (1953) 1037-1061, for round holes; taken for slots too. Later sources go from a quarter to double of this
    (Maa 1998 has a quarter; values from memory). At bass it is small beside any cloth.
    """
    omega = 2.0 * np.pi * np.asarray(frequency, dtype=float)
    return np.asarray(np.sqrt(2.0 * omega * medium.density * medium.viscosity), dtype=float)
