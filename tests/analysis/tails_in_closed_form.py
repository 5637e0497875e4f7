"""Tails of damped sinusoids in closed form: the independent route for those of sampled responses."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.analysis.tail import Tail


def tail_of_resonances(
    own_frequency: ArrayLike,
    decay_rate: ArrayLike,
    amplitude: ArrayLike,
    frequency: ArrayLike,
    time: ArrayLike,
    length: float | None = None,
    fade: float = 0.0,
) -> Tail:
    """Tails of a sum of damped sinusoids h(t) = Re sum_m a_m exp((-delta_m + j omega_m) t), t >= 0, in closed form.

    Each of the poles s_m = -delta_m + j omega_m and its conjugate gives (a_m/2) exp((s_m - j omega) t)/(j omega - s_m),
    times K - exp((s_m - j omega) L) for a tone of length L, K that of the fade (1 for an abrupt stop, see fade_factor).

    Parameters
    ----------
    own_frequency : (resonance,) Hz, omega_m/(2 pi) of the damped oscillation
    decay_rate : (resonance,) 1/s, delta = 3 ln(10)/T for a decay time T; above 0
    amplitude : (..., resonance) complex, at the response's t = 0, Pa/(m³/s)/s
    frequency, time, length, fade : as in tail_of_impulse

    Raises
    ------
    ValueError
        If a decay rate is not above 0.
    """
    tones, when = np.atleast_1d(np.asarray(frequency, dtype=float)), np.asarray(time, dtype=float)
    rates = np.atleast_1d(np.asarray(decay_rate, dtype=float))
    if not np.all(rates > 0.0):
        raise ValueError(f"resonances must decay: rates above 0 are needed, found {rates.min():g} 1/s")
    pole = -rates + 2j * np.pi * np.atleast_1d(np.asarray(own_frequency, dtype=float))
    half = 0.5 * np.atleast_1d(np.asarray(amplitude, dtype=complex))
    poles, halves = np.concatenate([pole, pole.conj()]), np.concatenate([half, half.conj()], axis=-1)
    away = poles[:, None] - 2j * np.pi * tones  # (pole, frequency)
    weight = halves[..., :, None] / -away
    steady = np.abs(weight.sum(axis=-2))
    factor = fade_factor(away, fade)
    if length is not None:
        factor = factor - np.exp(away * length)
    weight = weight * factor
    fall = np.exp(away[:, :, None] * when)
    return Tail(tones, when, np.abs(np.einsum("...pf,pft->...ft", weight, fall)), steady)


def fade_factor(exponent: ArrayLike, fade: float) -> NDArray[np.complex128]:
    """What a fade of `fade` s makes of A(t) = e^{z t}: mean of e^{z s} over it with the weight pi/(2 F) sin(pi s/F).

    exponent : z, 1/s, with a real part below 0, any shape
    """
    z = np.asarray(exponent, dtype=complex)
    if fade == 0.0:
        return np.ones_like(z)
    turn = np.pi / fade
    return np.asarray(0.5 * turn**2 * (1.0 + np.exp(z * fade)) / (z**2 + turn**2))
