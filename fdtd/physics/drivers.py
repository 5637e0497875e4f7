"""Loudspeaker drivers as absorbers: a moving-coil driver in a closed box, its terminals open or on a resistor.

A diaphragm of area Sd with the mechanical impedance Zm (N·s/m) moves with v = Sd p / Zm, so that per unit of its area
Y = Sd / Zm. The box adds its air spring to that of the suspension:

    Zm = j w Mms + Rms + 1/(j w Cmc) + Bl² / (Re + Rshunt + j w Le),        1/Cmc = 1/Cms + rho c² Sd² / Vb

Sources: Small, Closed-box loudspeaker systems, J. Audio Eng. Soc. 20 (1972) 798-808, for the driver and its box (values
from memory); Lissek, Boulandet and Fleury, Electroacoustic absorbers: bridging the gap between shunt loudspeakers and
active sound absorption, J. Acoust. Soc. Am. 129 (2011) 2968-2978, for the driver as an absorber.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.physics.admittance import Branch, Branches
from fdtd.physics.driver_limits import check_count, check_sizes
from fdtd.physics.medium import Medium


@dataclass(frozen=True)
class ClosedBoxDriver:
    """A driver in a closed box without filling, facing the room with its diaphragm.

    diaphragm_area : m²; moving_mass : kg, without the air in front (the room carries it); suspension_compliance : m/N;
    mechanical_resistance : N·s/m; force_factor : T·m; coil_resistance, shunt_resistance : ohm (None: open circuit);
    coil_inductance : H; box_volume : m³ per driver; count : like drivers, each in a box of its own.
    Raises ValueError for values that no driver has, most often a slip of the unit.
    """

    kind: ClassVar[str] = "driver"

    diaphragm_area: float
    moving_mass: float
    suspension_compliance: float
    mechanical_resistance: float
    force_factor: float
    coil_resistance: float
    box_volume: float
    coil_inductance: float = 0.0
    shunt_resistance: float | None = None
    count: int = 1

    def __post_init__(self) -> None:
        check_sizes("driver", asdict(self))
        check_count("driver", self.count)

    @property
    def face_area(self) -> float:
        """Moving area of all the drivers, m²."""
        return self.count * self.diaphragm_area

    def stiffness(self, medium: Medium) -> float:
        """Stiffness of suspension and box together, 1/Cmc, N/m."""
        box = medium.bulk_modulus * self.diaphragm_area**2 / self.box_volume
        return 1.0 / self.suspension_compliance + box

    def damping(self) -> float:
        """Mechanical resistance with what the shunt adds far below the corner of the coil's inductance, N·s/m."""
        return self.mechanical_resistance + self._electrical_damping()

    def _electrical_damping(self) -> float:
        if self.shunt_resistance is None:
            return 0.0
        return self.force_factor**2 / (self.coil_resistance + self.shunt_resistance)

    def mechanical_impedance(self, frequency: ArrayLike, medium: Medium) -> NDArray[np.complex128]:
        """Zm in N·s/m at `frequency` in Hz (> 0); the shape of `frequency`."""
        s = 2j * np.pi * np.asarray(frequency, dtype=float)
        motion = s * self.moving_mass + self.mechanical_resistance + self.stiffness(medium) / s
        if self.shunt_resistance is None:
            return motion
        return motion + self.force_factor**2 / (self.coil_resistance + self.shunt_resistance + s * self.coil_inductance)

    def admittance(self, frequency: ArrayLike, medium: Medium) -> NDArray[np.complex128]:
        """Specific admittance at the diaphragm, m/(Pa·s), at `frequency` in Hz (> 0); the shape of `frequency`."""
        return self.diaphragm_area / self.mechanical_impedance(frequency, medium)

    def branches(self, medium: Medium) -> Branches | None:
        """The one branch that this driver is; None with a shunted inductive coil, which no parallel branches equal.

        Such a coil gives Y three poles; their partial fractions with Y(0) = 0 leave a term without the zero at s = 0
        that every branch with a stiffness has, hence the fit.
        """
        if self.shunt_resistance is not None and self.coil_inductance > 0.0:
            return None
        area = self.diaphragm_area
        return (Branch(self.moving_mass / area, self.damping() / area, self.stiffness(medium) / area),)

    def resonance(self, medium: Medium) -> float:
        """Resonance of the driver in its box, Hz (coil open or resistive)."""
        return math.sqrt(self.stiffness(medium) / self.moving_mass) / (2.0 * math.pi)

    def optimal_shunt(self, medium: Medium) -> float | None:
        """Shunt in ohm that absorbs most of a plane wave at resonance; None if that is the open circuit.

        Rs = Bl² / (rho c Sd - Rms) - Re absorbs all of it (Lissek, Boulandet and Fleury 2011). Where that would be
        negative, the best resistor is a short circuit, 0 ohm. It is the optimum for a wave that meets nothing but
        the diaphragm, as in a duct; a small unit in a large room wants less resistance.
        """
        missing = medium.impedance * self.diaphragm_area - self.mechanical_resistance
        if missing <= 0.0:
            return None
        return max(0.0, self.force_factor**2 / missing - self.coil_resistance)


def displacement(admittance: ArrayLike, frequency: ArrayLike) -> NDArray[np.complex128]:
    """Displacement of a face per pressure at it, m/Pa, from its specific admittance, m/(Pa·s): x = Y p / (j w)."""
    s = 2j * np.pi * np.asarray(frequency, dtype=float)
    return np.asarray(admittance, dtype=complex) / s


def pressure_at_limit(per_pressure: ArrayLike, largest: float | None) -> NDArray[np.float64]:
    """Pressure (Pa rms, a sine) at which something of `per_pressure` (unit per Pa) peaks at `largest` (that unit).

    Infinite where nothing moves or no limit is given (None); the shape of `per_pressure`.
    """
    amount = np.sqrt(2.0) * np.abs(np.asarray(per_pressure))
    limit = np.full(amount.shape, np.inf)
    if largest is None:
        return limit
    return np.divide(largest, amount, out=limit, where=amount > 0.0)
