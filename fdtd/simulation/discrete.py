"""An admittance as the simulation has it: what the trapezoidal rule makes of it, and how that is put right.

Along a simulation with step dt everything behaves as in the room at the wanted omega if the rule's j omega / C stands
for j omega and the flux into the cell for C times itself, C = cos(omega_march dt/2) (see `time_step_frequency`). So an
admittance Y(s) is simulated as Y(C s)/C, with C taken at one frequency: at the resonance of a branch that is in the
band, else at the usual one. What is left is of order (omega dt)²/8 away from there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fdtd.physics.admittance import Branches
from fdtd.physics.control import StateSpace

LOW_SHARE = 0.05
"""Share of the highest frequency below which a branch's resonance is out of the band that is corrected."""
USUAL_SHARE = 0.6
"""Share of the highest frequency at which everything without a resonance in the band is right."""


@dataclass(frozen=True, eq=False)
class DiscreteDevice:
    """branches : (branch, 3) mass, resistance, stiffness as simulated; control : likewise, or None
    air_mass : kg/m² in series with them all (0 if the one branch has taken it into itself)."""

    branches: NDArray[np.float64]
    control: StateSpace | None
    air_mass: float

    def admittance(self, frequency: NDArray[np.float64], dt: float) -> NDArray[np.complex128]:
        """What the simulation makes of the face without the air mass, m/(Pa·s), at `frequency` in Hz (the wanted
        one)."""
        cosine = flux_factor(frequency, dt)
        s = 2j * np.pi * frequency / cosine
        total: NDArray[np.complex128] = np.zeros(len(s), dtype=complex)
        for mass, resistance, stiffness in self.branches:
            total += s / (mass * s * s + resistance * s + stiffness)
        return total if self.control is None else total + _controlled(self.control, s.tobytes())


@lru_cache(maxsize=16)
def _controlled(control: StateSpace, s: bytes) -> NDArray[np.complex128]:
    """Admittance of electronics at complex frequencies: the same on every face of a study."""
    return control.at(np.frombuffer(s, dtype=complex))


def flux_factor(frequency: NDArray[np.float64], dt: float) -> NDArray[np.float64]:
    """C = cos(omega_march dt/2) at `frequency` in Hz (theory.md, eq. 7)."""
    return np.asarray(np.sqrt(np.maximum(1.0 - (np.pi * frequency * dt) ** 2, 0.25)))


def simulated(
    branches: Branches, control: StateSpace | None, air_mass: float, dt: float, max_frequency: float
) -> DiscreteDevice:
    """Branches and control behind an air column of `air_mass` kg/m², as a simulation with step `dt` (s) has them
    (theory.md, eq. 16).

    A single branch without control takes the air mass into itself; several share it.
    """
    alone = len(branches) == 1 and control is None
    own, usual = (air_mass if alone else 0.0), _cosine(USUAL_SHARE * max_frequency, dt)
    rows = np.zeros((len(branches), 3))
    for k, branch in enumerate(branches):
        inertia = branch.mass + own
        resonance = np.sqrt(branch.stiffness / inertia) / (2 * np.pi) if inertia > 0.0 else 0.0
        cosine = _cosine(resonance, dt) if LOW_SHARE < resonance / max_frequency < 1.0 else usual
        rows[k] = inertia * cosine**2, branch.resistance * cosine, branch.stiffness
    if control is not None:
        control = StateSpace(control.matrix / usual, control.drive / usual, control.read / usual)
    return DiscreteDevice(rows, control, 0.0 if alone else air_mass * usual**2)


def _cosine(frequency: float, dt: float) -> float:
    return float(flux_factor(np.array(frequency), dt))
