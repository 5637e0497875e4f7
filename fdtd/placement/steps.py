"""Diminishing returns: what the best design of n units adds to the best of one unit less, and whether it is heard."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdtd.placement.objectives import Objectives
from fdtd.placement.search import Scored, SearchResult

AUDIBLE_EVENNESS = 0.5
"""dB of standard deviation over frequency or between seats that are taken as just heard. Ours: half the level
difference that is just noticed, about 1 dB (common practice)."""
AUDIBLE_DECAY = 0.05
"""Share of the decay time that is just noticed: 5 % (ISO 3382-1, table A.1, for reverberation time; single resonances
in the bass need more, so what is called not heard is not heard)."""
MOST_OCTAVES_LONGER = 10.0
"""Octaves by which a decay is said to be longer, at most: where hardly anything rang before, the mean means little."""


@dataclass(frozen=True)
class Gained:
    """Difference of two designs, positive for the better.

    uneven, spread, benefit : dB
    ringing_at : (seat,) share by which decays that rang have become shorter, mean over the part of the log-frequency
    axis where they rang; uneven_at : (seat,) dB; level_at : (seat,) dB louder
    audible_at : (seat,) whether the ringing or the unevenness there changes enough to be heard, for better or worse
    """

    uneven: float
    spread: float
    benefit: float
    ringing_at: NDArray[np.float64]
    uneven_at: NDArray[np.float64]
    level_at: NDArray[np.float64]
    audible_at: NDArray[np.bool_]

    @property
    def audible(self) -> bool:
        """Whether the change is large enough to be heard anywhere, or between the seats."""
        return bool(self.audible_at.any()) or abs(self.spread) >= AUDIBLE_EVENNESS


@dataclass(frozen=True)
class Step:
    """scored : the best design of `count` units; gained : over the best of one less"""

    count: int
    scored: Scored
    gained: Gained


def gained(before: Objectives, after: Objectives) -> Gained:
    """What `after` has over `before`."""
    share = np.maximum(before.ringing_share_at, 1e-12)
    # With nothing ringing before, the share is 0 and the mean over it is that of what rings now, for the worse.
    share = np.where(before.ringing_share_at > 0.0, share, np.maximum(after.ringing_share_at, 1e-12))
    longer = np.minimum((after.ringing_at - before.ringing_at) / share, MOST_OCTAVES_LONGER)
    shorter = 1.0 - 2.0**longer
    uneven = before.uneven_at - after.uneven_at
    audible = (np.abs(shorter) >= AUDIBLE_DECAY) | (np.abs(uneven) >= AUDIBLE_EVENNESS)
    return Gained(
        before.uneven - after.uneven,
        before.spread - after.spread,
        after.benefit - before.benefit,
        shorter,
        uneven,
        after.level_at - before.level_at,
        audible,
    )


def steps(result: SearchResult) -> tuple[Step, ...]:
    """One step per count from 1 to the most for which there is a design."""
    found = []
    for count in range(1, len(result.best_of_count)):
        before, after = result.best_of_count[count - 1], result.best_of_count[count]
        if before is None or after is None:
            break
        found.append(Step(count, after, gained(before.objectives, after.objectives)))
    return tuple(found)
