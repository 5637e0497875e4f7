"""Group delay, and how much of it is more than minimum phase explains."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

EXTENSION = 16.0
"""The magnitude is continued to this many times the highest frequency."""
END_OCTAVES = 1.0 / 6.0
"""The continued magnitude is the mean over this part of an octave at each end."""
EDGE_OCTAVES = 0.5
"""So much at each end of the range is left out of what can be trusted."""


@dataclass(frozen=True)
class GroupDelay:
    """Group delays of a transfer function, all (..., frequency) in s.

    delay : -d(phase)/d(omega)
    minimum : that of the minimum-phase system with the same magnitude
    excess : delay - minimum: travel time, and late reflections that no minimum-phase equaliser can undo
    low, high : Hz, where `minimum` and `excess` can be trusted: away from the ends of the range
    """

    frequency: NDArray[np.float64]
    delay: NDArray[np.float64]
    minimum: NDArray[np.float64]
    excess: NDArray[np.float64]
    low: float
    high: float


def group_delay(transfer: ArrayLike, frequency: ArrayLike) -> NDArray[np.float64]:
    """Group delay -d(phase)/d(omega) of `transfer` (..., frequency): (..., frequency) s.

    From the phase turned between neighbouring frequencies, which needs no unwrapping as long as it is less than half a
    turn (spacing times delay below 1/2); the mean of both sides at each frequency, one side at the ends.
    """
    data, axis = np.asarray(transfer, dtype=complex), np.asarray(frequency, dtype=float)
    turned = np.angle(data[..., 1:] * np.conj(data[..., :-1]))
    between = -turned / (2.0 * np.pi * np.diff(axis))
    result = np.empty(data.shape)
    result[..., 0], result[..., -1] = between[..., 0], between[..., -1]
    result[..., 1:-1] = 0.5 * (between[..., 1:] + between[..., :-1])
    return result


def minimum_phase(magnitude: ArrayLike, frequency: ArrayLike) -> NDArray[np.float64]:
    """Phase (..., frequency), rad, of the minimum-phase system with this `magnitude` (..., frequency).

    Hilbert transform of log magnitude, as the folded cepstrum of an even spectrum (Oppenheim and Schafer, Discrete-Time
    Signal Processing, ch. on cepstrum and homomorphic processing). Outside the range the magnitude is not known; it is
    taken as constant: down to 0 Hz and up to 16 times the highest frequency, at the mean (in dB) over the outermost
    sixth of an octave. A wrong guess bends the phase near the ends of the range, smoothly, and little in its middle.

    Parameters
    ----------
    frequency : (frequency,) Hz, equally spaced, whole multiples of the spacing, above 0

    Raises
    ------
    ValueError
        If the frequencies are not whole multiples of one spacing, or a magnitude is 0.
    """
    axis, size = np.asarray(frequency, dtype=float), np.asarray(magnitude, dtype=float)
    spacing = (axis[-1] - axis[0]) / (len(axis) - 1)
    index = np.rint(axis / spacing).astype(int)
    if index[0] < 1 or not np.allclose(axis, index * spacing, rtol=0.0, atol=1e-3 * spacing):
        raise ValueError(
            f"frequencies must be whole multiples of one spacing, found {axis[0]:g}, {axis[1]:g} ... {axis[-1]:g} Hz"
        )
    if not np.all(size > 0.0):
        raise ValueError("minimum phase needs magnitudes above 0, found 0 or less")
    known = np.log(size)
    half = 1 << int(np.ceil(np.log2(EXTENSION * index[-1])))
    spectrum = np.empty((*known.shape[:-1], half + 1))
    spectrum[..., : index[0]] = known[..., axis <= axis[0] * 2.0**END_OCTAVES].mean(axis=-1)[..., None]
    spectrum[..., index[-1] + 1 :] = known[..., axis >= axis[-1] * 2.0**-END_OCTAVES].mean(axis=-1)[..., None]
    spectrum[..., index] = known
    cepstrum = np.fft.irfft(spectrum, axis=-1)
    cepstrum[..., 1:half] *= 2.0
    cepstrum[..., half + 1 :] = 0.0
    phase: NDArray[np.float64] = np.fft.rfft(cepstrum, axis=-1).imag[..., index]
    return phase


def excess_group_delay(transfer: ArrayLike, frequency: ArrayLike) -> GroupDelay:
    """Group delay of `transfer` (..., frequency) split into minimum phase and excess.

    Parameters and errors as in minimum_phase. Relative levels (transfer over that of free field) suit it best: their
    magnitude is about constant outside the range.
    """
    data, axis = np.asarray(transfer, dtype=complex), np.asarray(frequency, dtype=float)
    total = group_delay(data, axis)
    least = group_delay(np.exp(1j * minimum_phase(np.abs(data), axis)), axis)
    margin = 2.0**EDGE_OCTAVES
    return GroupDelay(axis, total, least, total - least, float(axis[0] * margin), float(axis[-1] / margin))
