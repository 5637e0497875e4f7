"""Fractional-octave bands of IEC 61260-1 (base 10) and a band filter for responses.

All frequencies in Hz. G = 10^0.3 is the octave ratio, 1000 Hz the reference frequency.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.signal import butter, sosfilt

OCTAVE_RATIO = 10.0**0.3
"""G of IEC 61260-1:2014, 5.2 (base 10)."""
REFERENCE_FREQUENCY = 1000.0
PREFERRED = (10.0, 12.5, 16.0, 20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0)
"""Nominal mid frequencies of one decade of third octaves (IEC 61260-1:2014 annex E, ISO 266)."""
PROTOTYPE_ORDER = 3
"""Order of the low-pass prototype; the band filter has twice as many poles."""


@dataclass(frozen=True)
class Band:
    """One band: `fraction` b of 1/b octave, exact mid frequency `middle` and edges `lower`, `upper` in Hz.

    name : nominal mid frequency as a person reads it, such as "31.5"
    """

    name: str
    fraction: int
    middle: float
    lower: float
    upper: float

    @property
    def width(self) -> float:
        """upper - lower, Hz."""
        return self.upper - self.lower


def exact_middle(index: ArrayLike, fraction: int) -> NDArray[np.float64]:
    """Exact mid frequency of band `index` (0 at or next above 1000 Hz) of 1/`fraction` octave, Hz.

    Source: IEC 61260-1:2014, 5.4: f_r G^(x/b) for odd b, f_r G^((2x+1)/(2b)) for even b.
    """
    step = np.asarray(index, dtype=float) + (0.0 if fraction % 2 else 0.5)
    return REFERENCE_FREQUENCY * OCTAVE_RATIO ** (step / fraction)


def band_at(frequency: float, fraction: int = 3) -> Band:
    """The 1/`fraction` octave band that holds `frequency` (Hz; its lower edge belongs to a band, its upper not).

    Raises
    ------
    ValueError
        If `frequency` is not above 0 or `fraction` not a whole number of 1 or more.
    """
    if not frequency > 0.0:
        raise ValueError(f"a band's frequency must be above 0 Hz, found {frequency:g}")
    if fraction < 1 or fraction != int(fraction):
        raise ValueError(f"bands are 1/1, 1/2, 1/3, ... octave: fraction must be 1, 2, 3, ..., found {fraction:g}")
    place = fraction * np.log10(frequency / REFERENCE_FREQUENCY) / 0.3
    # The 1e-9 keeps an edge computed by this module in the band above it, whatever the rounding.
    return _band(int(np.floor(place + (0.5 if fraction % 2 else 0.0) + 1e-9)), fraction)


def octave_bands(fraction: int = 3, low: float = 20.0, high: float = 200.0) -> tuple[Band, ...]:
    """The bands from the one that holds `low` to the one that holds `high` (Hz), both included.

    Raises
    ------
    ValueError
        As `band_at`, and if `high` is below `low`.
    """
    if high < low:
        raise ValueError(f"bands run from low to high frequency, found {low:g} to {high:g} Hz")
    first, last = band_at(low, fraction), band_at(high, fraction)
    count = round(fraction * np.log10(last.middle / first.middle) / 0.3)
    start = round(fraction * np.log10(first.middle / REFERENCE_FREQUENCY) / 0.3 - (0.0 if fraction % 2 else 0.5))
    return tuple(_band(start + k, fraction) for k in range(count + 1))


def _band(index: int, fraction: int) -> Band:
    middle = float(exact_middle(index, fraction))
    half = OCTAVE_RATIO ** (0.5 / fraction)
    return Band(nominal_name(middle, fraction), fraction, middle, middle / half, middle * half)


def nominal_name(middle: float, fraction: int) -> str:
    """Name of the band with exact mid frequency `middle` (Hz).

    Octaves and third octaves take the preferred number; other fractions three significant digits if the first is 1 to
    4, else two (IEC 61260-1:2014 annex E, rule from memory); bands narrower than 1/24 octave one digit more.
    """
    decade = 10.0 ** np.floor(np.log10(middle) + 1e-6)
    if fraction in (1, 3):
        nearest = min((*PREFERRED, 100.0), key=lambda value: abs(np.log(value / (10.0 * middle / decade))))
        return f"{nearest * decade / 10.0:.10g}"
    digits = (3 if middle / decade < 5.0 - 1e-6 else 2) + (1 if fraction > 24 else 0)
    return f"{float(f'{middle:.{digits}g}'):.10g}"


def band_filter(band: Band, rate: float) -> NDArray[np.float64]:
    """Second-order sections (section, 6) of the band's Butterworth filter for `rate` samples a second.

    Half-power points at the exact edges, six poles. A 1/1 or 1/3 octave filter of this kind lies inside the class 1
    limits of IEC 61260-1 (tests/analysis/test_bands.py compares).

    Raises
    ------
    ValueError
        If the band does not end below half the rate.
    """
    if band.upper >= rate / 2.0:
        raise ValueError(
            f"the {band.name} Hz band ends at {band.upper:g} Hz; it needs more than {2.0 * band.upper:g} samples a "
            f"second, found {rate:g}"
        )
    sections: NDArray[np.float64] = butter(
        PROTOTYPE_ORDER, (band.lower, band.upper), btype="bandpass", output="sos", fs=rate
    )
    return sections


def filtered(response: ArrayLike, rate: float, band: Band, reverse: bool = False) -> NDArray[np.float64]:
    """`response` (..., time) through the band filter: (..., time), same unit.

    With `reverse` the response is filtered from its end to its start, so that the filter rings towards earlier times
    and hides less of a short decay (Jacobsen and Rindel, 'Time reversed decay measurements', J. Sound Vib. 117, 1987).
    What would ring beyond the first or the last sample is dropped.
    """
    data = np.asarray(response, dtype=float)
    sections = band_filter(band, rate)
    if reverse:
        return sosfilt(sections, data[..., ::-1], axis=-1)[..., ::-1]
    return sosfilt(sections, data, axis=-1)
