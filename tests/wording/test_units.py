"""What is said of a change of decay."""

from __future__ import annotations

import pytest

from fdtd.placement.steps import MOST_OCTAVES_LONGER
from fdtd.wording.units import _decay


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.12, "what rings decays 12 % faster"),
        (0.0, "what rings decays as before"),
        (-0.5, "what rings decays 50 % slower"),
        # Where hardly anything rang before, the share is huge and means little: it said "102300 % slower".
        (1.0 - 2.0**MOST_OCTAVES_LONGER, "what rings takes more than 10 times as long to decay"),
    ],
)
def test_change_of_decay(share: float, said: str) -> None:
    assert _decay(share) == said
