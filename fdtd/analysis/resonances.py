"""Resonances of seat responses: frequency, decay time and amplitude of the damped sinusoids that they are made of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fdtd.analysis.damped import DECAY_60, Complex, Real, cut_band, fit_amplitudes, pole_errors
from fdtd.analysis.pole_search import search, stays

GUARD = (5.0, 10.0)
"""Below and above the band, Hz: what rings there is fitted too, and not reported."""
DEGREE = 6
"""Degree of the background over the whole band."""
BEFORE_ZERO = 0.4
"""How long a band-limited response may ring before time zero, s."""
CUT_RINGING = 0.05
"""s before the end of a simulation from which its responses, filtered by the band, are no longer whole."""
LATER = 0.04
"""How much later the window starts in the check that a pole stays where it is, s."""
SHORTEST_DECAY = 0.08
"""s, T60; what dies sooner is no resonance."""
LONGEST_RECORD = 6.0
"""s of a response that are fitted at most."""
FLOOR = 1e-8
"""Mean squared remainder, relative to the band's, below which nothing more is looked for."""


@dataclass(frozen=True)
class Resonances:
    """Damped sinusoids: a response is Re sum of amplitude exp(-ln(1000) t/decay_time + 2 pi j frequency t) over modes.

    frequency : (mode,) Hz, rising; decay_time : (mode,) s, T60
    amplitude : (response, mode) complex, in the unit of the response, at the source pulse, t = 0
    frequency_error, decay_error : (mode,) standard errors, Hz and s, if what is left over is noise
    residual : share of the energy in the band that resonances and smooth background leave over
    order : number of poles fitted, those outside the band and those too weak to report included
    low, high : Hz, the band
    """

    frequency: Real
    decay_time: Real
    amplitude: Complex
    frequency_error: Real
    decay_error: Real
    residual: float
    order: int
    low: float
    high: float

    @property
    def bandwidth(self) -> Real:
        """(mode,) half-power bandwidth, Hz: delta/pi = 2.20/T60 (Kuttruff, Room Acoustics, modal bandwidth)."""
        return DECAY_60 / (np.pi * self.decay_time)


def find_resonances(
    impulse: ArrayLike,
    sample_step: float,
    low: float = 20.0,
    high: float = 160.0,
    *,
    weakest: float = -40.0,
    recorded: float | None = None,
) -> Resonances:
    """Resonances between `low` and `high` that several responses of one room have in common.

    The window starts at time zero, the source pulse (the first sample), and ends where the responses have fallen by
    80 dB, at the latest after `LONGEST_RECORD`. Nothing is cut off at the beginning, so even quickly dying resonances
    count in full: the direct sound is short, hence smooth over frequency, and goes to the smooth background (see
    damped). Poles come from overlapping sub-bands (see subspace); then all of them are refined together by least
    squares over the whole band. A pole is reported if it decays, lies in the band, explains more than chance would, is
    determined (standard error of its decay below 15 %, of its frequency below a tenth of its bandwidth), stays where it
    is when the window starts 40 ms later, and is no weaker than `weakest`. So where resonances overlap so much that the
    data cannot tell them apart, some are left out rather than made up.

    Parameters
    ----------
    impulse : (response, time) real impulse responses, all from the same source pulse; (time,) for one
    sample_step : s; low, high : Hz
    weakest : dB relative to the strongest resonance, root of the summed squares of the amplitudes over the responses
    recorded : s after which the response was cut off and silence put behind it (a simulation that ended while it still
        rang); the fit then ends there, as if there were no more. None: it is whole

    Raises
    ------
    ValueError
        If the band is empty or not below half the sampling rate, the values are not finite, or the record is too short.
    """
    data = np.atleast_2d(np.asarray(impulse, dtype=float))
    check_input(data, sample_step, low, high)
    if recorded is not None:
        data = recorded_part(data, sample_step, recorded)
    data = useful_part(data, sample_step)
    top = min(high + GUARD[1], 0.49 / sample_step)
    bottom = max(low - GUARD[0], 1.0 / (data.shape[1] * sample_step), 0.25 * low)
    band = cut_band(data, sample_step, bottom, top, DEGREE)
    power = float(np.mean(band.values**2))
    if power == 0.0:
        return nothing(len(data), low, high)
    pole = search(band, FLOOR * power)
    later = cut_band(data[:, int(LATER / sample_step) :], sample_step, bottom, top, DEGREE)
    steady = stays(later, pole, FLOOR * power)
    order = np.argsort(pole.imag, kind="stable")
    pole, steady = pole[order], steady[order]
    fit = fit_amplitudes(band, pole)
    frequency, decay = pole.imag / (2.0 * np.pi), DECAY_60 / -pole.real
    if len(pole) == 0:
        return nothing(len(band.spectrum), low, high, float(np.mean(fit.residual**2)) / power)
    frequency_error, relative_error = pole_errors(band, pole, fit)
    determined = steady & (relative_error < 0.15) & (frequency_error < 0.1 * DECAY_60 / (np.pi * decay))
    kept = determined & (frequency >= low) & (frequency <= high) & (decay >= SHORTEST_DECAY)
    strength = np.linalg.norm(fit.amplitude, axis=0)
    if kept.any():
        kept &= strength >= 10.0 ** (weakest / 20.0) * strength[kept].max()
    return Resonances(
        frequency=frequency[kept],
        decay_time=decay[kept],
        amplitude=fit.amplitude[:, kept],
        frequency_error=frequency_error[kept],
        decay_error=(relative_error * decay)[kept],
        residual=float(np.mean(fit.residual**2)) / power,
        order=len(pole),
        low=low,
        high=high,
    )


def check_input(data: Real, sample_step: float, low: float, high: float) -> None:
    """Raise ValueError on what cannot be analysed."""
    if not (0.0 < low < high < 0.5 / sample_step):
        raise ValueError(
            f"the band must lie above 0 Hz and below half the sampling rate, {0.5 / sample_step:g} Hz; "
            f"found {low:g} to {high:g} Hz"
        )
    if data.ndim != 2 or not np.isfinite(data).all():
        raise ValueError(f"impulse must be finite numbers (response, time), found shape {data.shape} or NaN")
    if (high - low) * data.shape[1] * sample_step < 16.0:
        raise ValueError(
            f"a band of {high - low:g} Hz needs a record of at least {16.0 / (high - low):.2g} s, "
            f"found {data.shape[1] * sample_step:.2g} s"
        )


def recorded_part(data: Real, sample_step: float, recorded: float) -> Real:
    """`data` up to `recorded` s less the ringing of the cut; what rings before time zero moves to the new end."""
    samples = data.shape[1]
    end = int((recorded - CUT_RINGING) / sample_step)
    before = min(int(BEFORE_ZERO / sample_step), samples - end, end)
    if before <= 0 or end + int(BEFORE_ZERO / sample_step) >= samples:
        return data
    short = data[:, :end].copy()
    short[:, end - before :] += data[:, samples - before :]
    return short


def useful_part(data: Real, sample_step: float) -> Real:
    """`data` up to where what follows holds less than 1e-8 of the energy (80 dB down), at most `LONGEST_RECORD`.

    A band-limited response made from a spectrum rings a little before time zero too, which stands at the end of the
    record. That part moves to the end of the shorter record, where the transform expects it.
    """
    energy, samples = np.sum(data**2, axis=0), data.shape[1]
    before = int(BEFORE_ZERO / sample_step)
    left = np.cumsum(energy[: samples - before][::-1])[::-1]
    end = int(np.count_nonzero(left > 1e-8 * left[0])) + before if samples > before and left[0] > 0.0 else samples
    end = min(max(end, 2 * before), int(LONGEST_RECORD / sample_step))
    if end + before > samples:
        return data
    short = data[:, :end].copy()
    short[:, end - before :] += data[:, samples - before :]
    return short


def nothing(responses: int, low: float, high: float, residual: float = 0.0) -> Resonances:
    """No resonance at all."""
    none = np.empty(0)
    amplitude = np.empty((responses, 0), dtype=complex)
    return Resonances(none, none, amplitude, none, none, residual, 0, low, high)
