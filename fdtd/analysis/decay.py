"""Decay times of a response by backward integration: EDT, T20, T30, as a whole and per band.

Responses are sampled impulse responses (time,) in any unit, `rate` samples a second. All decay times are times for
60 dB, s.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.analysis.bands import Band, filtered, octave_bands
from fdtd.analysis.noise_floor import noise_floor

RANGES = {"EDT": (0.0, -10.0), "T20": (-5.0, -25.0), "T30": (-5.0, -35.0)}
"""Evaluation ranges, dB: ISO 3382-2:2008, 3.5 and 5.3; EDT of ISO 3382-1:2009 annex A."""
HEADROOM = 10.0
"""dB by which the lower end of a range must lie above the noise (ISO 3382-2:2008, 5.3: 35 dB for T20, 45 for T30)."""
LEAST_BANDWIDTH_TIME = {False: 16.0, True: 4.0}
"""Least bandwidth times decay time, by `reverse`: 16 filtered forward (Jacobsen, 'A note on acoustic decay
measurements', J. Sound Vib. 115, 1987), 4 filtered in reversed time (Jacobsen and Rindel, J. Sound Vib. 117, 1987)."""
MOST_NONLINEARITY, MOST_CURVATURE = 10.0, 10.0
"""Per mille and per cent: above these a decay is not a straight line (ISO 3382-2:2008 annex B, from memory)."""


@dataclass(frozen=True)
class EnergyDecay:
    """Backward-integrated squared response.

    time : (time,) s after the first sample; level : (time,) dB relative to its start, up to the crossing
    dynamic_range : dB from the start down to the level where noise or the end of the response takes over
    noise_reached : True if a noise floor was found and cut off
    """

    time: NDArray[np.float64]
    level: NDArray[np.float64]
    dynamic_range: float
    noise_reached: bool


@dataclass(frozen=True)
class DecayTime:
    """One decay time with what ISO 3382-2 annex B asks to be known about it.

    seconds : time for 60 dB, nan if it cannot be told; reason : why it cannot, else ""
    nonlinearity : xi = 1000 (1 - r^2), per mille, r the correlation of level and time; above 10 the decay is bent
    """

    seconds: float
    nonlinearity: float
    reason: str


@dataclass(frozen=True)
class DecayTimes:
    """EDT, T20 and T30 of one decay; curvature C = 100 (T30/T20 - 1) per cent, above 10 the decay is bent.

    dynamic_range : dB, see EnergyDecay
    """

    early: DecayTime
    t20: DecayTime
    t30: DecayTime
    curvature: float
    dynamic_range: float

    @property
    def straight(self) -> bool:
        """True if T20 or T30 is known and neither measure of annex B says that the decay is bent."""
        known = [one.nonlinearity for one in (self.t20, self.t30) if not one.reason]
        bent = np.isfinite(self.curvature) and abs(self.curvature) > MOST_CURVATURE
        return bool(known) and max(known) <= MOST_NONLINEARITY and not bent


@dataclass(frozen=True)
class BandDecay:
    """Decay times in one band.

    bandwidth_time : band width (Hz) times the shortest of the known decay times
    ringing : True if that is below the limit, so that the band filter's own ringing shapes the decay: quote the decay
        of the single resonances instead. True as well where no decay time is known: nothing can be relied on.
    """

    band: Band
    times: DecayTimes
    bandwidth_time: float
    ringing: bool


def onset(response: ArrayLike, rate: float, below_peak: float = 20.0) -> float:
    """Start of a response (time,): s of the first sample less than `below_peak` dB under the peak.

    Source: ISO 3382-1:2009 annex A (more than 20 dB below the maximum does not count). 0 for silence.
    """
    size = np.abs(np.asarray(response, dtype=float))
    return float(np.argmax(size >= 10.0 ** (-below_peak / 20.0) * size.max(initial=0.0))) / rate


def energy_decay(response: ArrayLike, rate: float, shortest: float = 0.03) -> EnergyDecay:
    """Decay curve of a response (time,) from its first sample.

    Backward integration (Schroeder, J. Acoust. Soc. Am. 37, 1965) of the squared response with the noise power taken
    off, up to where the late decay meets the noise, plus the energy that an exponential decay of the late slope has
    beyond: the method found least in error by Guski and Vorlaender, 'Comparison of noise compensation methods for
    room acoustic impulse response evaluations', Acta Acustica united with Acustica 100, 2014.

    Parameters
    ----------
    shortest : s, see noise_floor.noise_floor

    Raises
    ------
    ValueError
        If the response has fewer than 20 samples.
    """
    data = np.asarray(response, dtype=float)
    if data.ndim != 1 or len(data) < 20:
        raise ValueError(f"a decay needs one response of at least 20 samples, found shape {data.shape}")
    if not np.any(data**2):  # silence, or so little that its energy can't be told from none
        return EnergyDecay(np.zeros(1), np.zeros(1), 0.0, False)
    floor = noise_floor(data, rate, shortest)
    count = min(max(int(round(floor.crossing * rate)), 2), len(data))
    square = data[:count] ** 2 - floor.power
    beyond = 0.0
    if np.isfinite(floor.late_slope):
        beyond = floor.late_power * rate * 10.0 / (np.log(10.0) * -floor.late_slope)
    integral = np.cumsum(square[::-1])[::-1] + beyond
    # Taking off noise can leave nothing near the crossing; the curve counts only above that.
    useful = int(np.argmax(integral <= 0.0)) or count
    level = 10.0 * np.log10(integral[:useful] / integral[0])
    # Without a decay there is only the noise: it starts where the curve starts.
    span = -10.0 * np.log10(beyond / integral[0]) if beyond > 0.0 else 0.0
    return EnergyDecay(np.arange(useful) / rate, level, max(float(span), 0.0), floor.reached)


def decay_times(curve: EnergyDecay) -> DecayTimes:
    """EDT, T20 and T30 of a decay curve by least-squares lines (ISO 3382-2:2008, 3.5, 5.3 and annex B)."""
    early, t20, t30 = (_decay_time(curve, *RANGES[name]) for name in ("EDT", "T20", "T30"))
    return DecayTimes(early, t20, t30, 100.0 * (t30.seconds / t20.seconds - 1.0), curve.dynamic_range)


def _decay_time(curve: EnergyDecay, top: float, bottom: float) -> DecayTime:
    def unknown(reason: str) -> DecayTime:
        return DecayTime(float("nan"), float("nan"), reason)

    if len(curve.time) < 2:
        return unknown("no signal")
    needed = HEADROOM - bottom
    if curve.dynamic_range < needed:
        return unknown(f"dynamic range is {curve.dynamic_range:.0f} dB, {needed:.0f} dB are needed")
    first = int(np.argmax(curve.level <= top))
    last = int(np.argmax(curve.level <= bottom))
    if last == 0:
        return unknown(f"the curve ends before {bottom:g} dB")
    if last - first < 4:
        return unknown(f"only {last - first + 1} samples between {top:g} and {bottom:g} dB, 5 are needed")
    time, level = curve.time[first : last + 1], curve.level[first : last + 1]
    slope = float(np.polyfit(time - time[0], level, 1)[0])
    correlation = float(np.corrcoef(time, level)[0, 1])
    return DecayTime(-60.0 / slope, 1000.0 * max(1.0 - correlation**2, 0.0), "")


def band_decays(
    response: ArrayLike, rate: float, bands: tuple[Band, ...] | None = None, reverse: bool = True
) -> tuple[BandDecay, ...]:
    """Decay times of a response (time,) in each band.

    The response starts at its `onset`; the band filter runs in reversed time unless `reverse` is False.

    Parameters
    ----------
    bands : third octaves from 20 to 200 Hz if not given

    Raises
    ------
    ValueError
        If a band does not end below half the rate, or the response is shorter than 20 samples.
    """
    data = np.asarray(response, dtype=float)
    start = int(round(onset(data, rate) * rate))
    chosen = octave_bands(3, 20.0, 200.0) if bands is None else bands
    return tuple(_band_decay(filtered(data, rate, band, reverse)[start:], rate, band, reverse) for band in chosen)


def unknown_decay(bands: tuple[Band, ...], reason: str) -> tuple[BandDecay, ...]:
    """What `band_decays` gives where `reason` forbids any decay time."""
    nothing = DecayTime(float("nan"), float("nan"), reason)
    times = DecayTimes(nothing, nothing, nothing, float("nan"), float("nan"))
    return tuple(BandDecay(band, times, float("nan"), True) for band in bands)


def _band_decay(part: NDArray[np.float64], rate: float, band: Band, reverse: bool) -> BandDecay:
    times = decay_times(energy_decay(part, rate, max(0.03, 1.0 / band.middle)))
    known = [one.seconds for one in (times.early, times.t20, times.t30) if not one.reason]
    product = band.width * min(known) if known else float("nan")
    return BandDecay(band, times, product, not product >= LEAST_BANDWIDTH_TIME[reverse])
