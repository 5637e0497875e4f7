"""What becomes clearly worse at a seat: a note that stands out far more, or dies away far later, than before.

The mean level and its standard deviation can improve while one note gets much worse, so these are looked at note by
note. Filling a hole is no harm: only what rises above the seat's mean level counts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

CLEAR_LEVEL = 6.0
"""dB by which a note must stand out more (ours: twice the pressure)."""
CLEAR_DECAY = 1.5
"""Factor by which a note must take longer to die away (ours: ten times the 5 % of ISO 3382-1:2009, table A.1)."""


def stands_out_more(level: NDArray[np.float64], mean: NDArray[np.float64]) -> NDArray[np.float64]:
    """(note,) dB by which each note stands out more from the seat's mean level than before, -inf where not known.

    level : (note, 2) dB before and after; mean : (2,) dB, mean level of the seat before and after. A note that was
    below the mean is counted from the mean, and no note by more than its own level has risen.
    """
    above = level - mean
    more = np.minimum(level[:, 1] - level[:, 0], above[:, 1] - np.maximum(above[:, 0], 0.0))
    return np.where(np.isfinite(more), more, -np.inf)
