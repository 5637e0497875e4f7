"""Time-frequency pictures of a response, with the window stated.

Two pictures: short-time spectra (what sounds around a time) and the decay picture (what is still to come after a time;
often drawn as a 'waterfall'), which is the tail after every tone of a long steady state.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.signal.windows import hann

from fdtd.analysis.tail import Tail, tail_of_impulse

FLOOR_DB = -200.0


@dataclass(frozen=True)
class ShortTimeSpectra:
    """Spectra of pieces of a response.

    frequency : (frequency,) Hz; time : (time,) s, centre of each piece
    magnitude : (..., frequency, time) of the transform of the windowed piece, in the unit of the transfer function
    window : what was used, in words; window_length : s
    resolution : Hz, half-power width of a steady tone (1.44 / window_length for a Hann window)
    """

    frequency: NDArray[np.float64]
    time: NDArray[np.float64]
    magnitude: NDArray[np.float64]
    window: str
    window_length: float
    resolution: float

    def level_db(self, reference: float | None = None) -> NDArray[np.float64]:
        """(..., frequency, time) dB relative to `reference`, or to the greatest magnitude if not given."""
        zero = float(self.magnitude.max()) if reference is None else reference
        return 20.0 * np.log10(np.maximum(self.magnitude / max(zero, 1e-300), 10.0 ** (FLOOR_DB / 20.0)))


def short_time_spectra(
    response: ArrayLike, rate: float, frequency: ArrayLike, time: ArrayLike, window_length: float = 0.2
) -> ShortTimeSpectra:
    """Spectra of `response` (..., sample) around the times `time` (s after the first sample) at `frequency` (Hz).

    Each piece is weighted by a Hann window of `window_length` s (1 at its centre) and transformed, integral of
    w(u - t) h(u) e^{-j omega u} du; outside the response there is silence. Its half-power width (1.44 bins, bins of
    1/window_length: Harris, 'On the use of windows for harmonic analysis', Proc. IEEE 66, 1978) is the resolution.

    Raises
    ------
    ValueError
        If the window is shorter than two samples.
    """
    data = np.asarray(response, dtype=float)
    tones, when = np.atleast_1d(np.asarray(frequency, dtype=float)), np.atleast_1d(np.asarray(time, dtype=float))
    half = int(round(0.5 * window_length * rate))
    if half < 1:
        raise ValueError(f"a window needs two samples or more, found {window_length:g} s at {rate:g} samples a second")
    window = hann(2 * half + 1)
    padded = np.pad(data, [(0, 0)] * (data.ndim - 1) + [(half, half)])
    centre = np.clip(np.rint(when * rate).astype(int), 0, data.shape[-1] - 1)
    pieces = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1, axis=-1)[..., centre, :] * window
    kernel = np.exp(-2j * np.pi * np.outer(np.arange(-half, half + 1) / rate, tones)) / rate
    magnitude = np.abs(np.swapaxes(pieces @ kernel, -1, -2))
    return ShortTimeSpectra(
        tones, centre / rate, magnitude, "Hann, centred", 2.0 * half / rate, 1.44 * rate / (2.0 * half)
    )


def decay_picture(response: ArrayLike, rate: float, frequency: ArrayLike, time: ArrayLike, rise: float = 0.0) -> Tail:
    """What of `response` (..., sample) is still to come at each time, per frequency: cumulative spectral decay.

    The response is cut before each time t and transformed: exactly the envelope of a tone that stops t ago (see tail).
    With `rise` (s) the response is faded in from t to t + rise by a raised cosine: exactly the tail of a tone that
    fades out over so long (see tail), without the ripples of the sharp cut.

    Parameters
    ----------
    frequency : (frequency,) Hz; time : (time,) s; others and errors as in tail.tail_of_impulse
    """
    return tail_of_impulse(response, rate, frequency, time, fade=max(rise, 0.0))
