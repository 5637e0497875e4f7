"""Pairing of two lists of resonances (invented numbers; the rule is ours)."""

from __future__ import annotations

import numpy as np

from fdtd.analysis.agreement import agreement


def test_like_resonances_are_paired_and_judged() -> None:
    found = agreement([30.0, 50.0, 50.6, 80.0], [1.0, 0.5, 1.5, 0.4], [80.1, 50.55, 30.0, 49.9], [0.4, 1.45, 1.3, 0.52])
    assert found.pairs.tolist() == [[0, 2], [1, 3], [2, 1], [3, 0]]
    assert found.agrees.tolist() == [False, True, True, True]
    assert len(found.only_first) == 0


def test_what_has_no_partner_is_left_over() -> None:
    found = agreement([30.0, 60.0], [1.0, 1.0], [30.1], [1.0])
    assert found.pairs.tolist() == [[0, 0]] and found.only_first.tolist() == [1]
    empty = agreement([30.0], [1.0], np.zeros(0), np.zeros(0))
    assert len(empty.pairs) == 0 and empty.only_first.tolist() == [0]
