"""Which moments of the sound an animation shows, and how fast it then runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

PULSE_SLOW = 40.0
"""Times slower that a pulse is shown by itself."""
SWEEP = 1.0 / 16.0
"""Periods by which a tone seen as under a stroboscope moves on from one picture to the next."""
TURN_TIME = 1.2
"""s that a period of a steady tone takes on the screen."""
REAL = 0.005
"""Share by which an animation may differ from the time of the room and still go with its sound."""
FEWEST_PICTURES = 8
"""Pictures a period of a steady tone, so that its motion can be followed."""


@dataclass(frozen=True, eq=False)
class Timing:
    """times : (picture,) s in the room; rate : pictures a second
    periods : whole periods of a tone from one picture to the next, seen as under a stroboscope; 0: all is shown
    loops : the first picture follows on the last one."""

    times: NDArray[np.float64]
    rate: float
    periods: int = 0
    loops: bool = False

    @property
    def step(self) -> float:
        """s in the room from one picture to the next."""
        return float(self.times[1] - self.times[0]) if len(self.times) > 1 else 1.0 / self.rate

    @property
    def slow(self) -> float:
        """Times slower than in the room that it is shown."""
        return 1.0 / (self.rate * self.step)

    @property
    def real(self) -> bool:
        """Whether it is shown as fast as it happens."""
        return abs(self.slow - 1.0) < REAL

    @property
    def length(self) -> float:
        """s of the room that are shown."""
        return len(self.times) * self.step


def even_times(seconds: float, rate: float, slow: float) -> Timing:
    """Pictures of `seconds` s of animation, `slow` times slower than in the room."""
    count = max(2, round(seconds * rate))
    return Timing(np.arange(count, dtype=float) / (rate * slow), rate)


def stroboscope_times(seconds: float, rate: float, tone: float) -> Timing:
    """Pictures a little more than a whole number of periods of `tone` (Hz) apart: about as fast as it happens, and yet
    the wave is seen to move slowly."""
    whole = max(1, int(tone / rate))
    step = (whole + SWEEP) / tone
    count = max(2, round(seconds * rate))
    return Timing(np.arange(count, dtype=float) * step, rate, whole)


def loop_times(seconds: float, rate: float, tone: float, slow: float | None) -> Timing:
    """A whole number of periods of `tone` (Hz) in about `seconds` s, so that the animation loops without a jump.

    slow : times slower; it is met as closely as whole numbers of pictures allow.
    """
    on_screen = TURN_TIME if slow is None else slow / tone
    periods = max(1, round(seconds / on_screen))
    count = max(FEWEST_PICTURES * periods, round(periods * on_screen * rate))
    step = periods / (tone * count)
    return Timing(np.arange(count, dtype=float) * step, rate, loops=True)
