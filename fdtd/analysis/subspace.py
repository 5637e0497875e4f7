"""Poles from the spectrum of a sub-band by shift invariance: ESPRIT, carried out on the bins.

The bins of a sub-band are samples of a rational function of exp(j omega dt). A Moebius map of the unit circle onto
itself stretches the sub-band over most of the circle and keeps the function rational with as many poles. On that circle
the subspace method of McKelvey, Akçay and Ljung, IEEE Trans. Automatic Control 41 (1996) 960, algorithm 2, finds the
signal subspace of all responses at once; its shift invariance gives the poles, as in ESPRIT (Roy and Kailath, IEEE
Trans. ASSP 37 (1989) 984).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import svd

from fdtd.analysis.damped import Band, Complex, fit_amplitudes

SPREAD = 0.8 * np.pi
"""Half of the arc that the sub-band takes on the circle; the rest is left to what lies outside."""


class Circle:
    """The map between a sub-band and the circle that its poles are found on."""

    def __init__(self, band: Band) -> None:
        omega = 2.0 * np.pi * band.frequency * band.sample_step
        centre, half = 0.5 * (omega[0] + omega[-1]), 0.5 * (omega[-1] - omega[0])
        stretch = np.tan(0.5 * SPREAD) / np.tan(0.5 * half)
        self.offset = (stretch - 1.0) / (stretch + 1.0)
        self.centre = np.exp(1j * centre)
        self.sample_step = band.sample_step
        turned = np.exp(1j * omega) / self.centre
        self.point = (turned - self.offset) / (1.0 - self.offset * turned)
        # Bins crowd at the ends of the arc; weighted by the spacing there, noise is even over the circle.
        self.weight = 1.0 / np.abs(1.0 - self.offset * turned)

    def poles(self, place: Complex) -> Complex:
        """Poles s, 1/s, of places inside the circle."""
        turned = (place + self.offset) / (1.0 + self.offset * place)
        return np.log(turned * self.centre) / self.sample_step


def signal_subspace(band: Band, circle: Circle, rows: int) -> Complex:
    """(rows x response, direction) directions of the data on the circle, strongest first."""
    powers = circle.point[None, :] ** np.arange(rows)[:, None] * circle.weight
    data = (powers[:, None, :] * band.spectrum[None, :, :]).reshape(-1, len(band.frequency))
    frame = np.linalg.qr(powers.conj().T)[0]
    free = data - (data @ frame) @ frame.conj().T
    # The slower driver, because the faster one sometimes fails to converge on what is left of small remainders.
    left: Complex = svd(free, full_matrices=False, lapack_driver="gesvd")[0]
    return left


def poles_of_order(directions: Complex, order: int, responses: int, circle: Circle) -> Complex:
    """(mode,) decaying poles, 1/s, with positive frequency, of the first `order` directions."""
    kept = directions[:, :order]
    shift = np.linalg.lstsq(kept[:-responses], kept[responses:], rcond=None)[0]
    place = np.linalg.eigvals(shift)
    place = place[np.abs(place) < 1.0]
    pole = circle.poles(place)
    return pole[(pole.imag > 0.0) & (pole.real < 0.0)]


def sub_band_poles(band: Band, floor: float) -> Complex:
    """(mode,) poles, 1/s, of a sub-band; their number is the one with the least Bayesian information criterion.

    floor : mean squared residual per value below which a better fit counts for nothing. Source of the criterion:
    Schwarz, Annals of Statistics 6 (1978) 461.
    """
    bins, responses = len(band.frequency), len(band.spectrum)
    circle = Circle(band)
    rows = max(4, int(bins / 2.2))
    directions = signal_subspace(band, circle, rows)
    values = 2 * bins * responses
    most = min(directions.shape[1], int(0.6 * rows), (bins - band.degree - 3) * responses // (responses + 1))
    best, chosen = np.inf, np.empty(0, dtype=complex)
    worse = 0
    for order in range(most + 1):
        pole = poles_of_order(directions, order, responses, circle) if order else chosen
        error = fit_amplitudes(band, pole).error / values
        price = len(pole) * (2 + 2 * responses) * np.log(values)
        score = values * np.log(max(error, floor)) + price
        if score < best:
            best, chosen, worse = score, pole, 0
        else:
            worse += 1
        if error < floor or worse > 8:
            break
    return chosen


def sub_bands(low: float, high: float, width: float) -> NDArray[np.float64]:
    """Edges of even cores of about `width` from `low` to `high`, Hz."""
    return np.linspace(low, high, max(1, round((high - low) / width)) + 1)
