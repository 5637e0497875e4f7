"""An open door or window: what the air outside it, a large space, is to the room."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import j1, struve

from fdtd.physics.medium import Medium


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
