"""A threshold is cited only where it was published.

Stephenson's points (PhD thesis, University of Salford, 2012, abstract): 0.85 s at 32 Hz, 0.2 s from 100 Hz up; the
program holds the ends for a sixth of an octave (ours), and knows nothing beyond.
"""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.analysis.audibility import ANY_STIMULUS, HELD
from fdtd.results.placement_record import Tone
from fdtd.wording.loudest import tone_text
from fdtd.wording.thresholds import NONE_PUBLISHED, against_threshold


@pytest.mark.parametrize(
    ("frequency", "decay_time", "expected"),
    [
        (27.0, 1.2, "no published threshold below 32 Hz"),
        (30.0, 1.7, "2.0 times the 0.85 s published for 32 Hz"),
        (32.0, 1.7, "2.0 times the published threshold of 0.85 s"),
        (120.0, 0.1, "below the published threshold of 0.20 s"),
        (300.0, 0.5, "no published threshold above 250 Hz"),
    ],
)
def test_words_at_and_beyond_the_published_range(frequency: float, decay_time: float, expected: str) -> None:
    assert against_threshold(frequency, decay_time) == expected


@pytest.mark.parametrize("frequency", np.geomspace(15.0, 200.0, 40))
def test_the_loudest_tone_cites_no_threshold_where_none_is_published(frequency: float) -> None:
    """It said "1.1 times the published threshold" of a resonance at 27 Hz."""
    words = tone_text(Tone(frequency, 2.0))
    unknown = frequency < ANY_STIMULUS.frequency[0] / HELD
    assert (NONE_PUBLISHED in words) == unknown
    assert ("times the" in words) == (not unknown)
