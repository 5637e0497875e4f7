"""Will active units oscillate in this room, and at which gain would they?

With the faces' admittance Y_p + g Y_c (passive part, electronics at loop gain 1 times g), the room and the faces are
1 + g L(omega), L = (1 + Y_p W)⁻¹ Y_c W (see predict.py). At g = 0 all is passive, hence stable. By Nyquist's
criterion the system is stable as long as det(1 + g L) does not wind round the origin on the way up the frequency axis
(H. Nyquist, Bell System Technical Journal 11 (1932) 126-147; for several loops the determinant, MacFarlane and
Postlethwaite, Int. J. Control 25 (1977) 81-127).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.model.excitations import Diaphragm
from fdtd.ports.predict import loading
from fdtd.ports.response import PortResponse
from fdtd.simulation.discrete import DiscreteDevice
from fdtd.simulation.stepper import ENOUGH

LOWEST = 1.0
"""Hz; below it band filters and the stiffness of the box leave nothing of the loop."""
STEP_SHARE = 0.25
"""Step of the frequency axis times the length of the record: a spectrum of T seconds has no detail finer than 1/T."""
MOST_GAIN = 100.0
"""Times the gain asked for; what is stable up to there is called stable at any gain."""


@dataclass(frozen=True)
class Stability:
    """critical : factor on the asked gains at which the units start to oscillate, or up to which that is ruled out
    (inf: not at 100 times those)
    frequency : Hz, of that oscillation; NaN if it is only not ruled out, above the frequencies looked at
    distance : least size of det(1 + L) over frequency at the asked gains (1 or more is harmless, near 0 is close to
    oscillation); settled : False if the room still rang when its simulation ended, so that the verdict is not sure
    """

    critical: float
    frequency: float
    distance: float
    settled: bool = True

    @property
    def stable(self) -> bool:
        """Whether the units are stable at the gains asked for."""
        return self.critical > 1.0

    @property
    def margin_db(self) -> float:
        """How much the gains may rise, dB (negative: must fall)."""
        return float(20.0 * np.log10(self.critical))


def stability(response: PortResponse, diaphragms: tuple[Diaphragm, ...], top: float) -> Stability:
    """Stability of the units `diaphragms` on the ports of `response`; top : Hz, highest frequency looked at.

    Raises FloatingPointError if the loops are not finite numbers.
    """
    step = STEP_SHARE / response.record.duration
    frequency = np.arange(LOWEST, top, step)
    loops = open_loops(response, diaphragms, frequency)
    if not np.isfinite(loops).all():
        raise FloatingPointError("the loops of the active units are not finite")
    distance, settled = float(np.abs(_determinant(loops, 1.0)).min()), response.record.fallen >= ENOUGH
    # Above the top, where the loop only falls off, nothing can wind as long as the loop stays below 1.
    ruled_out = 1.0 / max(float(np.linalg.norm(loops[-1], 2)), 1.0 / MOST_GAIN**2)
    gains = np.geomspace(0.01, MOST_GAIN, 161)
    unstable = next((k for k, g in enumerate(gains) if _winds(loops, g)), None)
    if unstable is None:
        return Stability(ruled_out if ruled_out < MOST_GAIN else np.inf, np.nan, distance, settled)
    low, high = (gains[unstable - 1] if unstable else 0.0), gains[unstable]
    while high - low > 1e-3 * high:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if _winds(loops, middle) else (middle, high)
    critical = 0.5 * (low + high)
    if ruled_out < critical:
        return Stability(ruled_out, np.nan, distance, settled)
    where = int(np.argmin(np.abs(_determinant(loops, critical))))
    return Stability(float(critical), float(frequency[where]), distance, settled)


def open_loops(
    response: PortResponse, diaphragms: tuple[Diaphragm, ...], frequency: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """L, (frequency, port, port), of the electronics in `diaphragms` around room and passive faces."""
    matrices, dt = response.at(frequency), response.time_step
    devices = response.simulated(diaphragms)
    load = loading(response, matrices, devices)
    every = np.stack([d.admittance(frequency, dt) for d in devices], axis=-1)
    passive = np.stack([_passive(d, frequency, dt) for d in devices], axis=-1)
    system = np.eye(len(devices)) + passive[:, :, None] * load
    return np.asarray(np.linalg.solve(system, (every - passive)[:, :, None] * load))


def _passive(device: DiscreteDevice, frequency: NDArray[np.float64], dt: float) -> NDArray[np.complex128]:
    return DiscreteDevice(device.branches, None, device.air_mass).admittance(frequency, dt)


def _determinant(loops: NDArray[np.complex128], gain: float) -> NDArray[np.complex128]:
    return np.asarray(np.linalg.det(np.eye(loops.shape[1]) + gain * loops))


def _turns(loops: NDArray[np.complex128], gain: float) -> NDArray[np.float64]:
    """Phase steps of det(1 + g L) along the frequency axis, rad, each in (-pi, pi]."""
    value = _determinant(loops, gain)
    return np.angle(value[1:] / value[:-1])


def _winds(loops: NDArray[np.complex128], gain: float) -> bool:
    """Whether det(1 + g L) turns round the origin between the ends of the axis."""
    return bool(abs(_turns(loops, gain).sum()) > np.pi)
