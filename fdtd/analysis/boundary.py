"""What hard walls near a loudspeaker add to the power it gives off, and so to the level in the room on average."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def boundary_gain(distances: tuple[float, ...], frequency: ArrayLike, speed_of_sound: float) -> NDArray[np.float64]:
    """Power of a small source near up to three hard walls at right angles, dB relative to free field.

    10 lg of 1 + sum over the images of sin(2 k d)/(2 k d), d the root of the summed squares of the distances to the
    walls that the image is mirrored in: 3, 6, 9 dB for one, two, three walls at long wavelengths.
    Source: R. V. Waterhouse, 'Output of a sound source in a reverberation chamber and other reflecting environments',
    J. Acoust. Soc. Am. 30 (1958) 4-13.

    Parameters
    ----------
    distances : m, from the source to each wall, at most three; frequency : Hz, any shape; speed_of_sound : m/s

    Raises
    ------
    ValueError
        For more than three walls, or a distance below 0.
    """
    if len(distances) > 3 or any(d < 0.0 for d in distances):
        raise ValueError(f"up to three distances of 0 or more are needed, found {distances}")
    wavenumber = 2.0 * np.pi * np.asarray(frequency, dtype=float) / speed_of_sound
    total = np.ones_like(wavenumber)
    for count in range(1, len(distances) + 1):
        for walls in combinations(distances, count):
            path = 2.0 * float(np.hypot.reduce(walls))
            total = total + np.sinc(wavenumber * path / np.pi)
    return np.asarray(10.0 * np.log10(total))
