"""What is heard at the seats, as WAV files of one loudness scale."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.io import wavfile

from fdtd.listening.animation import Field, sampled
from fdtd.listening.animation_signals import Signal
from fdtd.results.files import replaced_file

RATE = 44100.0
"""Hz, of the files: any player takes it."""
PEAK = 0.89
"""Of full scale, the highest peak of all files of a set (1 dB below)."""
FADE = 0.02
"""s, at the end."""


def audible(
    fields: Sequence[Field], signal: Signal, frequency: NDArray[np.float64], spacing: float, length: float
) -> list[NDArray[np.float64]]:
    """Of each variant (seat, sample) the pressure at its seats over `length` s, `RATE` samples a second."""
    samples = int(round(min(length, 1.0 / spacing) * RATE))
    return [sampled(field.transfer[field.cells :], signal, frequency, spacing, RATE)[:, :samples] for field in fields]


def write_audible(sounds: Sequence[NDArray[np.float64]], paths: Sequence[Sequence[Path]]) -> list[Path]:
    """Write all sounds (16 bit) scaled by one factor, so that their ratios stay; paths : of each variant and seat."""
    peak = max((float(np.abs(one).max()) for one in sounds if one.size), default=0.0)
    factor = PEAK * 32767.0 / peak if peak > 0.0 else 0.0
    written = []
    for table, names in zip(sounds, paths, strict=True):
        for row, path in zip(table, names, strict=True):
            fade = np.clip((len(row) - np.arange(len(row))) / (FADE * RATE), 0.0, 1.0)
            with replaced_file(path) as temporary:
                wavfile.write(temporary, int(RATE), np.rint(factor * row * fade).astype(np.int16))
            written.append(path)
    return written
