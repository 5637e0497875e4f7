"""The poles of a band: found in sub-bands, refined together, doubted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.damped import (
    DECAY_60,
    Band,
    Complex,
    degrees_of_freedom,
    fit_amplitudes,
    noise_power,
    refine_poles,
    weakest_modes,
)
from fdtd.analysis.subspace import sub_band_poles, sub_bands

REACH = 20.0
"""How far above the band a pole may drift and still serve the fit, Hz."""
MOVE = 0.25
"""By how much of its half bandwidth a pole may move under a later window, and by what share its decay may change."""
ROUNDS = 3
"""How often the remainder is searched again."""


def search(band: Band, floor: float) -> Complex:
    """(mode,) poles, 1/s: those of the sub-bands refined together, then the same again on what they leave over.

    A further round counts only if it earns its poles by the Bayesian information criterion.
    """
    pole = np.empty(0, dtype=complex)
    best = score(band, pole, floor)
    for _ in range(ROUNDS):
        fit = fit_amplitudes(band, pole)
        if noise_power(fit, len(pole)) <= floor:
            break
        found = candidates(band.less(fit.modes), floor)
        if len(pole):
            nearest = np.abs(found[:, None] - pole[None, :]) / -pole.real[None, :]
            found = found[nearest.min(axis=1) > 0.5]
        if len(found) == 0:
            break
        tried = settle(band, np.concatenate([pole, found]), floor)
        reached = score(band, tried, floor)
        if reached >= best:
            break
        pole, best = tried, reached
    return refine_poles(band, pole, 0.0, steps=30, accuracy=1e-5)


def score(band: Band, pole: Complex, floor: float) -> float:
    """Bayesian information criterion of these poles (Schwarz, Annals of Statistics 6 (1978) 461)."""
    values = band.values.size
    error = fit_amplitudes(band, pole).error / values
    return float(values * np.log(max(error, floor)) + len(pole) * (2 + 2 * len(band.spectrum)) * np.log(values))


def candidates(band: Band, floor: float) -> Complex:
    """(mode,) poles, 1/s, found in overlapping sub-bands: each gives those in its core."""
    spacing = 1.0 / (band.samples * band.sample_step)
    width = max(15.0, 40.0 * spacing)
    edges = sub_bands(band.frequency[0], band.frequency[-1], width)
    found = []
    for lower, upper in zip(edges[:-1], edges[1:], strict=True):
        overlap = 0.4 * (upper - lower)
        pole = sub_band_poles(band.part(lower - overlap, upper + overlap, 1), floor)
        frequency = pole.imag / (2.0 * np.pi)
        found.append(pole[(frequency >= lower) & (frequency < upper)])
    return np.concatenate(found)


def settle(band: Band, pole: Complex, floor: float) -> Complex:
    """Refine all poles together and drop those that explain no more than chance, until nothing changes."""
    enough = 0.01 * floor * band.values.size
    for _ in range(6):
        count = len(pole)
        pole = significant(band, plausible(band, pole), floor)
        pole = plausible(band, refine_poles(band, pole, enough))
        if len(pole) == count:
            break
    return pole


def plausible(band: Band, pole: Complex) -> Complex:
    """Poles that ring at all, and near the band: what rings too briefly to report may still be needed in the fit."""
    frequency, decay = pole.imag / (2.0 * np.pi), DECAY_60 / np.maximum(-pole.real, 1e-12)
    longest = 50.0 * band.samples * band.sample_step
    near = (frequency >= 0.5 * band.frequency[0]) & (frequency <= band.frequency[-1] + REACH)
    return pole[near & (decay >= 0.02) & (decay <= longest) & (pole.real < 0.0)]


def significant(band: Band, pole: Complex, floor: float) -> Complex:
    """Poles without those that explain less than chance could.

    The bound is that of the Bayesian information criterion for the numbers a mode brings in: two and two per response.
    """
    fit, count = fit_amplitudes(band, pole), len(pole)
    price = (2 + 2 * len(band.spectrum)) * np.log(band.values.size)
    return np.delete(pole, weakest_modes(fit, count, price, floor, degrees_of_freedom(fit, count)))


def stays(later: Band, pole: Complex, floor: float) -> NDArray[np.bool_]:
    """(mode,) True for poles that stay when refined again over a window that starts later.

    One that stands for several true ones moves, because their mixture changes as the quicker ones die.
    """
    moved = refine_poles(later, pole, 0.01 * floor * later.values.size, steps=8, accuracy=1e-3)
    change = np.abs(moved.imag - pole.imag) <= -MOVE * pole.real
    same: NDArray[np.bool_] = change & (np.abs(np.log(moved.real / pole.real)) <= MOVE)
    return same
