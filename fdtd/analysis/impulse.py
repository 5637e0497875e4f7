"""Impulse responses from transfer functions that cover a band."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def impulse_of_transfer(
    transfer: ArrayLike, frequency: ArrayLike, edge: float = 0.3, oversampling: float = 8.0
) -> tuple[NDArray[np.float64], float, float]:
    """Band-limited impulse responses from transfer functions: (impulse (..., sample), rate, start).

    The transfer function is faded in and out by raised cosines over `edge` of an octave at both ends of its range, so
    the response is that of the band between; tones within an edge are too quiet. It rings before and after its cause
    for about one over the width of a fade (some 40 dB below the steady state in a tail): the last eighth of the period
    1/spacing is put before t = 0 (`start` is its time, below 0). Decays longer than that period overlap themselves.
    For decay times drop what is before 0: impulse[..., round(-start * rate):].

    Parameters
    ----------
    transfer : (..., frequency) complex, Pa/(m³/s)
    frequency : (frequency,) Hz, equally spaced, whole multiples of the spacing
    edge : octaves; a range that starts at 0 Hz or one step above is not faded in
    oversampling : samples a period of the highest frequency, 6 or more

    Raises
    ------
    ValueError
        If the frequencies are not whole multiples of one spacing.
    """
    axis, data = np.asarray(frequency, dtype=float), np.asarray(transfer, dtype=complex)
    spacing = (axis[-1] - axis[0]) / (len(axis) - 1)
    index = np.rint(axis / spacing).astype(int)
    if not np.allclose(axis, index * spacing, rtol=0.0, atol=1e-3 * spacing):
        raise ValueError(
            f"frequencies must be whole multiples of one spacing, found {axis[0]:g}, {axis[1]:g} ... {axis[-1]:g} Hz"
        )
    fade = _rise(np.log2(axis[-1] / np.maximum(axis, spacing)) / edge)
    if index[0] > 1:
        fade = fade * _rise(np.log2(axis / axis[0]) / edge)
    count = int(np.ceil(oversampling * axis[-1] / spacing / 8.0)) * 8
    spectrum = np.zeros((*data.shape[:-1], count // 2 + 1), dtype=complex)
    spectrum[..., index] = data * fade
    rate = count * spacing
    impulse = np.fft.irfft(spectrum, count, axis=-1) * rate
    return np.roll(impulse, count // 8, axis=-1), rate, -(count // 8) / rate


def _rise(place: NDArray[np.float64]) -> NDArray[np.float64]:
    return 0.5 - 0.5 * np.cos(np.pi * np.clip(place, 0.0, 1.0))
