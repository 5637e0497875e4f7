"""Specific admittance of a surface: parallel branches, each a mass, a resistance and a stiffness in series.

    L dv/dt + R v + K integral(v) dt = p        Y(s) = sum_m  s / (L_m s^2 + R_m s + K_m)

Sign convention e^{+j omega t}; v points into the surface; all values are per unit area.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True)
class Branch:
    """One series branch of a surface.

    mass : kg/m²; resistance : Pa·s/m; stiffness : Pa/m; none negative, not all zero.
    """

    mass: float = 0.0
    resistance: float = 0.0
    stiffness: float = 0.0

    def __post_init__(self) -> None:
        values = (self.mass, self.resistance, self.stiffness)
        if not all(np.isfinite(v) and v >= 0.0 for v in values):
            raise ValueError(f"a branch needs finite values that are not negative, found {values}")
        if not any(values):
            raise ValueError("a branch with mass, resistance and stiffness all zero would be a hole, not a surface")

    def scaled(self, gain: float) -> Branch:
        """The branch whose admittance is `gain` (> 0) times this one's."""
        return Branch(self.mass / gain, self.resistance / gain, self.stiffness / gain)


Branches: TypeAlias = tuple[Branch, ...]
"""Parallel branches of a surface; the empty tuple is a rigid surface."""

RIGID: Branches = ()


def resistive(admittance_ratio: float, density: float, speed_of_sound: float) -> Branches:
    """Branches of a real, constant admittance; `admittance_ratio` is rho c Y (0 gives a rigid surface)."""
    if admittance_ratio == 0.0:
        return RIGID
    return (Branch(resistance=density * speed_of_sound / admittance_ratio),)


def admittance(branches: Branches, frequency: ArrayLike) -> NDArray[np.complex128]:
    """Specific admittance v/p in m/(Pa·s) at `frequency` in Hz (> 0); the shape of `frequency`."""
    s = 2j * np.pi * np.asarray(frequency, dtype=float)
    total = np.zeros(s.shape, dtype=complex)
    for b in branches:
        total += s / (b.mass * s * s + b.resistance * s + b.stiffness)
    return total


def normal_absorption(admittance_ratio: ArrayLike) -> NDArray[np.float64]:
    """Absorption at normal incidence, 4 Re(beta)/|1 + beta|², for beta = rho c Y (Kuttruff, Room Acoustics, ch. 2)."""
    beta = np.asarray(admittance_ratio, dtype=complex)
    return 4.0 * beta.real / np.abs(1.0 + beta) ** 2


def diffuse_absorption(admittance_ratio: ArrayLike, angles: int = 64) -> NDArray[np.float64]:
    """Absorption at random incidence of a locally reacting surface (Paris' integral over all angles).

    Source: Vigran, Building Acoustics, eq. (3.80) gives the closed form of the same integral,
    int_0^{pi/2} alpha(theta) sin(2 theta) dtheta; it is evaluated here by Gauss-Legendre quadrature in cos(theta).
    """
    beta = np.asarray(admittance_ratio, dtype=complex)[..., None]
    node, weight = np.polynomial.legendre.leggauss(angles)
    cosine, weight = 0.5 * (node + 1.0), 0.5 * weight
    alpha = 4.0 * beta.real * cosine / np.abs(cosine + beta) ** 2
    return np.sum(alpha * 2.0 * cosine * weight, axis=-1)
