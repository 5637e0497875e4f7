"""Will active units oscillate in this room, and at which gain would they?

With the faces' admittance Y_p + g Y_c (passive part, electronics at loop gain 1 times g), the room and the faces are
1 + g L(omega), L = (1 + Y_p W)⁻¹ Y_c W (see predict.py). At g = 0 all is passive, hence stable. As g rises, the
system stays stable until det(1 + g L) is 0 at some frequency, that is until an eigenvalue of L is -1/g (H. Nyquist,
Bell System Technical Journal 11 (1932) 126-147; for several loops the eigenvalue loci, MacFarlane and Postlethwaite,
Int. J. Control 25 (1977) 81-127). So the critical gain is 1/|lambda| where a locus crosses the negative real axis
farthest from the origin.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from fdtd.model.excitations import Diaphragm
from fdtd.ports.predict import loading
from fdtd.ports.response import PortResponse
from fdtd.simulation.discrete import DiscreteDevice
from fdtd.simulation.stepper import ENOUGH

LOWEST = 1.0
"""Hz; below it band filters and the stiffness of the box leave nothing of the loop."""
STEP_SHARE = 0.25
"""Step of the frequency axis times the length of the record: a spectrum of T seconds has no detail finer than 1/T."""
FEW_LOOPS = 4
"""Up to so many, all orders of the eigenvalues are compared at once, which is faster."""
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
    # Above the top, where the loop only falls off, nothing can cross as long as the loop stays below 1.
    ruled_out = 1.0 / max(float(np.linalg.norm(loops[-1], 2)), 1.0 / MOST_GAIN)
    critical, where = critical_gain(np.asarray(np.linalg.eigvals(loops), dtype=complex), frequency)
    if ruled_out < min(critical, MOST_GAIN):
        return Stability(ruled_out, np.nan, distance, settled)
    if critical > MOST_GAIN:
        return Stability(np.inf, np.nan, distance, settled)
    return Stability(critical, where, distance, settled)


def critical_gain(eigenvalue: NDArray[np.complex128], frequency: NDArray[np.float64]) -> tuple[float, float]:
    """The gain at which the first eigenvalue locus reaches -1, and the frequency there, Hz; (inf, NaN) if none does.

    eigenvalue : (frequency, loop), in any order at each frequency; frequency : Hz, rising
    """
    before, after = eigenvalue[:-1], _continued(eigenvalue[:-1], eigenvalue[1:])
    with np.errstate(divide="ignore", invalid="ignore"):
        turn, start = np.angle(after / before), np.angle(-before)
        crosses = (start * (start + turn) <= 0.0) & (turn != 0.0)
        # Along a resonance a locus is an arc: phase and logarithm of the size are followed, not a chord.
        share = np.where(crosses, -start / turn, 0.0)
        size = np.where(crosses, np.abs(before) ** (1.0 - share) * np.abs(after) ** share, 0.0)
    if not size.size or size.max() == 0.0:
        return np.inf, np.nan
    k, loop = np.unravel_index(np.argmax(size), size.shape)
    where = frequency[k] + share[k, loop] * (frequency[k + 1] - frequency[k])
    return float(1.0 / size[k, loop]), float(where)


def _continued(before: NDArray[np.complex128], after: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """`after` with the eigenvalues at each frequency in the order in which they continue those of `before`."""
    loops = before.shape[1]
    if loops == 1:
        return after
    if loops > FEW_LOOPS:
        apart = np.abs(before[:, :, None] - after[:, None, :])
        return np.stack([row[linear_sum_assignment(cost)[1]] for row, cost in zip(after, apart, strict=True)])
    orders = np.array(list(permutations(range(loops))))
    total = np.sum([np.abs(before[:, None, k] - after[:, orders[:, k]]) for k in range(loops)], axis=0)
    return np.asarray(np.take_along_axis(after, orders[np.argmin(total, axis=1)], axis=1))


def open_loops(
    response: PortResponse, diaphragms: tuple[Diaphragm, ...], frequency: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """L, (frequency, port, port), of the electronics in `diaphragms` around room and passive faces."""
    matrices, dt = response.at(frequency), response.time_step
    devices = response.simulated(diaphragms)
    load = loading(response, matrices, devices)
    every = np.stack([d.admittance(frequency, dt) for d in devices], axis=-1)
    off = [DiscreteDevice(d.branches, None, d.air_mass) for d in devices]
    passive = np.stack([d.admittance(frequency, dt) for d in off], axis=-1)
    system = np.eye(len(devices)) + passive[:, :, None] * load
    return np.asarray(np.linalg.solve(system, (every - passive)[:, :, None] * load))


def _determinant(loops: NDArray[np.complex128], gain: float) -> NDArray[np.complex128]:
    return np.asarray(np.linalg.det(np.eye(loops.shape[1]) + gain * loops))
