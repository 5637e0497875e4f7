"""Damped modes beside a run: what only one of them has, what does not decay, and why there is nothing to compare."""

from __future__ import annotations

import math

from fdtd.cli.damped_tables import compared, csv_rows, notes, screen_rows


def test_resonances_that_no_mode_matches_are_listed() -> None:
    both = compared([30.0, 50.0], [0.9, 0.5], ([30.05, 71.0, 50.6], [0.9, 0.4, 0.5]))
    assert screen_rows(both) == [
        ("1", "30.00", "0.90", "30.05", "0.90", ""),
        ("2", "50.00", "0.50", "50.60", "0.50", "differs"),
        ("", "", "", "71.00", "0.40", "in the run only"),
    ]
    rows = csv_rows(both)
    assert rows[1] == (2.0, 50.0, 0.5, 50.6, 0.5, "no") and rows[2] == ("", "", "", 71.0, 0.4, "")
    told = "".join(notes(both, (), "the run has a grid of 0.1 m"))
    assert "1 of 2 modes agree" in told and "1 resonances of the run match no mode" in told and "Mind: the run" in told


def test_what_does_not_decay_is_said_in_words() -> None:
    both = compared([30.0, 40.0, 50.0], [-2.0, 1e9, 0.5], ([30.0, 50.0], [3.0, 0.5]))
    assert [row[2] for row in screen_rows(both)] == ["grows", "does not decay", "0.50", ""]
    assert all(math.isnan(float(row[2])) for row in csv_rows(both)[:2])
    assert "oscillate" in "".join(notes(both, (), ""))


def test_without_a_run_the_reason_is_said() -> None:
    both = compared([30.0], [0.9], None)
    assert screen_rows(both) == [("1", "30.00", "0.90")]
    assert notes(both, (12.0,), "there is none")[0] == "No run to compare with: there is none.\n"
