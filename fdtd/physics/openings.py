"""Surfaces with nothing but air behind them: panes that move as a whole (window, door, thin wall), open doors and
windows."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import j1, struve

from fdtd.physics.admittance import Branch, Branches, admittance
from fdtd.physics.medium import Medium

BEHIND = ("outside", "still air")


@dataclass(frozen=True)
class Pane:
    """A mass with one resonance, without a closed cavity behind.

        1/Y = j omega m + eta omega0 m + m omega0²/(j omega) + rho c (if it radiates behind)

    The stiffness makes the first bending resonance; higher bending modes are left out. The term rho c is the plane wave
    that it sends out behind, as in the mass law (Kuttruff, Room Acoustics, ch. 2, a wall of limp mass before a room).

    mass : kg/m²; frequency : Hz, of the first bending resonance; loss : loss factor eta at that resonance
    behind : "outside" (free air or another large room, into which it radiates) or "still air" (it does not radiate)
    Raises ValueError for values that are not positive (frequency and loss may be 0) or an unknown `behind`.
    """

    kind: ClassVar[str] = "pane"
    mass: float
    frequency: float = 0.0
    loss: float = 0.1
    behind: str = "outside"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.mass) and self.mass > 0.0):
            raise ValueError(f"the mass of a pane must be more than 0 kg/m², found {self.mass}")
        for what, value in (("resonance", self.frequency), ("loss factor", self.loss)):
            if not (math.isfinite(value) and value >= 0.0):
                raise ValueError(f"the {what} of a pane must be at least 0, found {value}")
        if self.behind not in BEHIND:
            raise ValueError(f"behind a pane is {' or '.join(BEHIND)}, found {self.behind}")

    def branches(self, medium: Medium) -> Branches:
        """The pane as one branch (exact)."""
        omega = 2.0 * math.pi * self.frequency
        radiation = medium.impedance if self.behind == "outside" else 0.0
        return (Branch(self.mass, self.loss * omega * self.mass + radiation, self.mass * omega**2),)

    def admittance(self, frequency: ArrayLike, medium: Medium) -> NDArray[np.complex128]:
        """Specific admittance, m/(Pa·s), at `frequency` in Hz (> 0); the shape of `frequency`."""
        return admittance(self.branches(medium), frequency)


@dataclass(frozen=True)
class Opening:
    """A hole in a wall, with a large space behind that sends nothing back.

    Its face sees the radiation impedance of a piston in a baffle, here of a circle of the same area, radius a:

        1/Y = rho c [1 - J1(2ka)/(ka) + j H1(2ka)/(ka)]

    J1 Bessel, H1 Struve function (Kinsler, Frey, Coppens and Sanders, Fundamentals of Acoustics, 4th ed., sec. 7.5;
    equation from memory). The room's own air in front of the opening is not in it: the room carries that.

    width, height : m. Raises ValueError unless both are positive.
    """

    kind: ClassVar[str] = "opening"
    width: float
    height: float

    def __post_init__(self) -> None:
        for what, value in (("width", self.width), ("height", self.height)):
            if not (math.isfinite(value) and value > 0.0):
                raise ValueError(f"the {what} of an opening must be more than 0 m, found {value}")

    def impedance(self, frequency: ArrayLike, medium: Medium) -> NDArray[np.complex128]:
        """Specific radiation impedance, Pa·s/m, at `frequency` in Hz (> 0); the shape of `frequency`."""
        radius = math.sqrt(self.width * self.height / math.pi)
        ka = 2.0 * np.pi * np.asarray(frequency, dtype=float) * radius / medium.speed_of_sound
        ratio = 1.0 - j1(2.0 * ka) / ka + 1j * struve(1, 2.0 * ka) / ka
        return np.asarray(medium.impedance * ratio, dtype=complex)

    def admittance(self, frequency: ArrayLike, medium: Medium) -> NDArray[np.complex128]:
        """Specific admittance, m/(Pa·s), at `frequency` in Hz (> 0); the shape of `frequency`."""
        return 1.0 / self.impedance(frequency, medium)
