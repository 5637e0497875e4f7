"""What a moving picture plays: a pulse, a tone switched on and off, a recording. All as spectra.

A signal is the pressure that a source of level 0 with flat volume acceleration makes at 1 m in free field, scaled so
that its amplitude there is 1.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.io import wavfile
from scipy.signal import lfilter

from fdtd.errors import FdtdError

PULSE_SHARE = 0.3
"""The pulse's spectrum peaks at this share of the highest frequency, where it is then 67 dB below its peak."""
RAMP_PERIODS = 3.0
"""Periods over which a tone is switched on, and off."""
LOWEST, LOW_FADE, HIGH_FADE = 10.0, 5.0, 0.1
"""Hz, Hz and share: a recording is faded in from 10 to 15 Hz and out over the top tenth of the band."""
LONGEST_SOUND = 120.0
"""s of a recording that are read at most."""
SILENT = 1e-6
"""Largest share of full scale below the highest frequency that counts as nothing."""
FAST = 0.125
"""s, time constant of the weighting F of sound level meters (IEC 61672-1)."""
FLOOR = 1e-20
"""Mean square that stands for silence: -200 dB."""


@dataclass(frozen=True)
class Played:
    """kind : "pulse", "tone" (switched off after `off` s), "sound" (a recording called `name`) or "steady" (a tone)
    frequency : Hz of a tone, or at which a pulse is strongest."""

    kind: str
    frequency: float = 0.0
    off: float = 0.0
    name: str = ""


@dataclass(frozen=True)
class Signal:
    """spectrum : function of (frequency Hz), 1/Hz; length : s after which the source is silent."""

    played: Played
    length: float
    spectrum: Callable[[NDArray[np.float64]], NDArray[np.complex128]]

    @property
    def kind(self) -> str:
        """Of what is played."""
        return self.played.kind

    @property
    def tone(self) -> float:
        """Hz, 0 of what is no tone."""
        return self.played.frequency if self.kind == "tone" else 0.0


def pulse_signal(max_frequency: float) -> Signal:
    """A short symmetric pulse, the second derivative of a Gaussian, without content above `max_frequency` (Hz).

    Its amplitude is 1 at its middle, one and a half periods of its main frequency after the start.
    """
    peak = PULSE_SHARE * max_frequency
    middle = 1.5 / peak

    def spectrum(frequency: NDArray[np.float64]) -> NDArray[np.complex128]:
        ratio = frequency / peak
        size = 2.0 / (np.sqrt(np.pi) * peak) * ratio**2 * np.exp(-(ratio**2))
        return np.asarray(size * np.exp(-2j * np.pi * frequency * middle))

    return Signal(Played("pulse", peak), 2.0 * middle, spectrum)


def tone_signal(tone: float, on: float) -> Signal:
    """A sine of `tone` Hz and amplitude 1, switched on at 0 s and off after `on` s (made a whole number of periods).

    What is switched, in smooth ramps of three periods (integrals of a raised cosine), is the displaced volume; the
    sound follows its second time derivative, so the source leaves no air behind. The second ramp begins at `on`.
    """
    ramp = RAMP_PERIODS / tone
    on = max(round(on * tone), RAMP_PERIODS) / tone

    def window(frequency: NDArray[np.float64]) -> NDArray[np.complex128]:
        # A rectangle convolved with a raised cosine of unit area: the ramp is its integral.
        rectangle = on * np.sinc(frequency * on) * np.exp(-1j * np.pi * frequency * on)
        x = frequency * ramp
        lobe = np.sinc(x) + 0.5 * np.sinc(x - 1.0) + 0.5 * np.sinc(x + 1.0)
        return np.asarray(rectangle * lobe * np.exp(-1j * np.pi * x))

    def spectrum(frequency: NDArray[np.float64]) -> NDArray[np.complex128]:
        return np.asarray((frequency / tone) ** 2 * (window(frequency - tone) - window(frequency + tone)) / 2j)

    return Signal(Played("tone", tone, on), on + ramp, spectrum)


def sound_signal(samples: NDArray[np.float64], rate: float, max_frequency: float, name: str) -> Signal:
    """A recording (sample,) at `rate` Hz, of which what lies between 10 Hz and `max_frequency` is played.

    Scaled so that the fast level (125 ms) of its loudest moment is that of a tone of amplitude 1.
    Raises FdtdError if there is nothing in that band.
    """
    length = len(samples) / rate
    grid = int(np.ceil(length + 0.5)) * rate
    count = int(round(grid))
    axis = np.arange(count // 2 + 1) * rate / count
    low = np.clip((axis - LOWEST) / LOW_FADE, 0.0, 1.0)
    high = np.clip((max_frequency - axis) / (HIGH_FADE * max_frequency), 0.0, 1.0)
    band = np.fft.rfft(samples, count) * np.sin(0.5 * np.pi * low) ** 2 * np.sin(0.5 * np.pi * high) ** 2
    few = 2 * int(np.ceil(2.0 * max_frequency * count / rate))  # 4 samples a period are enough for its level
    bins = np.zeros(few // 2 + 1, dtype=complex)
    bins[: min(len(bins), len(band))] = band[: len(bins)]
    played = np.fft.irfft(bins, few) * few / count
    if np.abs(played).max() < SILENT:
        raise FdtdError(f"{name}: nothing between {LOWEST:g} and {max_frequency:g} Hz, so there is nothing to show")
    loudest = np.sqrt(2.0) * 10.0 ** (fast_level(played, few * rate / count).max() / 20.0)
    inside = axis <= max_frequency

    def spectrum(frequency: NDArray[np.float64]) -> NDArray[np.complex128]:
        # A finer grid than that of the recording: the same samples, longer silence.
        step = frequency[1] - frequency[0] if len(frequency) > 1 else frequency[0]
        longer = int(round(rate / step))
        whole = np.fft.rfft(samples, longer)
        row = np.rint(frequency / step).astype(int)
        known = row < len(whole)  # a recording of few samples a second holds nothing higher
        whole = np.where(known, whole[np.where(known, row, 0)], 0.0)
        fade = np.interp(frequency, axis[inside], (np.sin(0.5 * np.pi * low) * np.sin(0.5 * np.pi * high))[inside] ** 2)
        return np.asarray(whole * fade / (rate * loudest))

    return Signal(Played("sound", name=name), length, spectrum)


def read_sound(path: Path, seconds: float) -> tuple[NDArray[np.float64], float]:
    """At most `seconds` s of a WAV file as one channel (sample,) of full scale 1, and its sample rate, Hz.

    Channels are averaged. Raises FdtdError if it cannot be read, is empty, or holds something that is not a number.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", wavfile.WavFileWarning)  # a recording cut short is played as far as it goes
            rate, data = wavfile.read(path)
    except FileNotFoundError:
        raise FdtdError(f"--sound: there is no file {path}.") from None
    except IsADirectoryError:
        raise FdtdError(f"--sound: {path} is a folder, expected a WAV file.") from None
    except (ValueError, EOFError, KeyError, IndexError, ArithmeticError, TypeError, MemoryError) as error:
        raise FdtdError(
            f"--sound: {path} can't be read as WAV ({str(error).strip() or type(error).__name__}); "
            "expected PCM of 8, 16, 24 or 32 bit, or floating point. Convert it with any audio editor."
        ) from error
    except Exception as error:  # the reader's own complaint about a header, struct.error
        if type(error).__module__ not in ("struct", "scipy.io.wavfile"):
            raise
        raise FdtdError(f"--sound: {path} is cut short or damaged ({error}).") from error
    if rate <= 0 or data.size == 0:
        raise FdtdError(f"--sound: {path} holds no sound.")
    data = data[: int(min(seconds, LONGEST_SOUND) * rate)]
    if data.dtype == np.uint8:
        sound = (data.astype(float) - 128.0) / 128.0
    elif np.issubdtype(data.dtype, np.integer):
        sound = data.astype(float) / -float(np.iinfo(data.dtype).min)
    else:
        sound = data.astype(float)
    sound = sound.mean(axis=1) if sound.ndim > 1 else sound
    if len(sound) == 0 or not np.isfinite(sound).all():
        raise FdtdError(f"--sound: {path} holds {'no sound' if len(sound) == 0 else 'values that are not numbers'}.")
    return sound, float(rate)


def fast_level(pressure: NDArray[np.floating], rate: float, constant: float = FAST) -> NDArray[np.float64]:
    """(..., sample) level in dB re 1 of the mean square with exponential weighting; `rate` samples a second.

    Source: IEC 61672-1, time weighting F: a first-order low-pass on the squared pressure.
    """
    keep = float(np.exp(-1.0 / (constant * rate)))
    mean = lfilter([1.0 - keep], [1.0, -keep], np.asarray(pressure, dtype=float) ** 2, axis=-1)
    return np.asarray(10.0 * np.log10(np.maximum(mean, FLOOR)))
