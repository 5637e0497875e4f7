"""What a loudspeaker does to its signal: the roll-off of its box at low frequencies, and crossover filters.

Responses are complex, e^{+j omega t}, relative to the flat pass band, in which the volume acceleration is the same at
all frequencies. Below, s is j f / f0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

BUTTERWORTH_CLOSED = float(np.sqrt(0.5))
"""Total Q of a driver in a closed box whose response is second-order Butterworth."""
BUTTERWORTH_VENTED = float(np.sin(np.pi / 8.0))
"""Total Q, 0.3827, of a driver for a fourth-order Butterworth vented box: 1/Q is its s and s³ coefficient, 2.6131."""
CLOSED_RANGE = (0.2, 5.0)
VENTED_RANGE = (0.15, 0.6)
"""Total Q of the driver that a vented box is aligned for; the published tables run from 0.18 to 0.56."""
ORDERS = {"butterworth": tuple(range(1, 9)), "linkwitz-riley": (2, 4, 8)}
"""Kind of a crossover -> its possible orders."""


@dataclass(frozen=True)
class Rolloff:
    """Low-frequency roll-off of a loudspeaker in its box.

    kind : "closed", second order, or "vented", fourth order
    frequency : Hz; closed: resonance of the driver in its box; vented: where the response is 3 dB down
    q : closed: total Q of the driver in its box; vented: total Q of the driver by itself, from which the alignment
        follows; None: Butterworth, maximally flat (0.707 and 0.383)

    Sources: R. H. Small, 'Closed-box loudspeaker systems', JAES 20 (1972) 798; A. N. Thiele, 'Loudspeakers in vented
    boxes', JAES 19 (1971) 382; R. H. Small, 'Vented-box loudspeaker systems', JAES 21 (1973) 363.
    Raises ValueError for values that make no such loudspeaker.
    """

    kind: str
    frequency: float
    q: float | None = None

    def __post_init__(self) -> None:
        ranges = {"closed": CLOSED_RANGE, "vented": VENTED_RANGE}
        if self.kind not in ranges:
            raise ValueError(f"the kind of a roll-off is closed or vented, found {self.kind!r}")
        low, high = ranges[self.kind]
        if not self.frequency > 0.0 or self.q is not None and not low <= self.q <= high:
            raise ValueError(f"a {self.kind} box has frequency > 0 and q from {low} to {high}, found {self}")

    def response(self, frequency: ArrayLike) -> NDArray[np.complex128]:
        """Complex response at `frequency`, Hz, any shape.

        closed : s² / (s² + s/Q + 1)
        vented : s⁴ / (s⁴ + a1 s³ + a2 s² + a3 s + 1), with the coefficients of `vented_coefficients`
        """
        ratio = np.asarray(frequency, dtype=float) / self.frequency
        if self.kind == "closed":
            s = 1j * ratio
            return np.asarray(s**2 / (s**2 + s / (self.q or BUTTERWORTH_CLOSED) + 1.0), dtype=complex)
        a1, a2, a3 = vented_coefficients(self.q or BUTTERWORTH_VENTED)
        s = 1j * ratio * half_power_frequency(a1, a2, a3)
        return np.asarray(s**4 / (s**4 + a1 * s**3 + a2 * s**2 + a3 * s + 1.0), dtype=complex)


def vented_coefficients(q: float) -> tuple[float, float, float]:
    """(a1, a2, a3) of the vented box that is aligned for a driver of total Q `q`, box losses left out.

    At 0.383 fourth-order Butterworth (B4), below it quasi-Butterworth third order (QB3: |1/G|² has no term but the
    lowest besides 1), above it fourth-order Chebyshev (C4). The product a1 a3 is 1/q² and a3/a1 is the frequency of the
    box over that of the driver. Source: Small (1973), part I and part IV; Thiele (1971), alignments 1 to 9.
    """
    if q <= BUTTERWORTH_VENTED:
        a1 = (8.0 / q**2 - 8.0) ** 0.25
        return a1, a1**2 / 2.0, 1.0 / (q**2 * a1)
    from scipy.optimize import brentq  # slow to load, and most scenes do without it

    k = float(brentq(lambda k: np.prod(_chebyshev(k)[::2]) - 1.0 / q**2, 1e-3, 1.0))
    return _chebyshev(k)


def _chebyshev(k: float) -> tuple[float, float, float]:
    """(a1, a2, a3) of C4: Butterworth poles (low-pass) with their real parts times k; smaller k, more ripple."""
    depth = (k**4 + 6.0 * k**2 + 1.0) / 8.0
    a3 = k * np.sqrt(4.0 + 2.0 * np.sqrt(2.0)) / depth**0.25
    a2 = (1.0 + k**2 * (1.0 + np.sqrt(2.0))) / np.sqrt(depth)
    a1 = a3 / np.sqrt(depth) * (1.0 - (1.0 - k**2) / (2.0 * np.sqrt(2.0)))
    return float(a1), float(a2), float(a3)


def half_power_frequency(a1: float, a2: float, a3: float) -> float:
    """Where s⁴ / (s⁴ + a1 s³ + a2 s² + a3 s + 1) has half its pass-band power, as a multiple of f0."""
    terms = (a1**2 - 2.0 * a2, a2**2 + 2.0 - 2.0 * a1 * a3, a3**2 - 2.0 * a2)
    roots = np.roots([1.0, *(-t for t in terms), -1.0])
    return float(np.sqrt(roots.real[np.abs(roots.imag) < 1e-9].max()))


@dataclass(frozen=True)
class Crossover:
    """A crossover filter that lets pass what is below (`passes` "low") or above ("high") its frequency, Hz.

    kind : "butterworth" (3 dB down at the frequency; orders 1 to 8) or "linkwitz-riley" (two Butterworth filters of
    half the order in a row: 6 dB down, and low and high add up to an all-pass; orders 2, 4 and 8, with the polarity
    of one side turned for order 2).

    Sources: S. Butterworth, Experimental Wireless 7 (1930) 536; S. H. Linkwitz, 'Active crossover networks for
    noncoincident drivers', JAES 24 (1976) 2.
    Raises ValueError for a filter that does not exist.
    """

    kind: str
    order: int
    frequency: float
    passes: str

    def __post_init__(self) -> None:
        if self.order not in ORDERS.get(self.kind, ()) or self.passes not in ("low", "high"):
            raise ValueError(f"a crossover is one of {ORDERS} and passes low or high, found {self}")
        if not self.frequency > 0.0:
            raise ValueError(f"the frequency of a crossover must be above 0 Hz, found {self.frequency}")

    def response(self, frequency: ArrayLike) -> NDArray[np.complex128]:
        """Complex response at `frequency`, Hz, any shape."""
        from scipy.signal import butter, freqs_zpk  # slow to load, and most scenes do without it

        axis = np.asarray(frequency, dtype=float)
        times = 2 if self.kind == "linkwitz-riley" else 1
        # Hz throughout: an analogue filter does not care about the unit of its frequency axis.
        filter_ = butter(self.order // times, self.frequency, self.passes, analog=True, output="zpk")
        _, once = freqs_zpk(*filter_, worN=axis.ravel())
        return np.asarray(once, dtype=complex).reshape(axis.shape) ** times
