"""Tables and numbers in words."""

from __future__ import annotations

import pytest

from fdtd.cli.tables import cut, format_bytes, format_facts, format_seconds, format_table


def test_table() -> None:
    rows = [("sofa", "12.5", "-3"), ("window seat", "7.0")]
    assert format_table(("Seat", "40 Hz", "Dip"), rows) == (
        "Seat         40 Hz  Dip\n-----------  -----  ---\nsofa          12.5   -3\nwindow seat    7.0"
    )


def test_a_table_stays_aligned_with_wide_and_combining_characters() -> None:
    """Widths after Unicode Standard Annex 11: an ideograph or an emoji takes two columns, a combining accent none."""
    lines = format_table(
        ("Seat", "dB"), [("沙发", "1"), ("🙂", "2"), ("e\u0301te\u0301", "3"), ("sofa", "4")]
    ).splitlines()
    assert lines[2:] == ["沙发   1", "🙂     2", "e\u0301te\u0301    3", "sofa   4"]
    assert (cut("沙发沙发", 8), cut("沙发沙发", 7), cut("sofa", 3)) == ("沙发沙发", "沙发沙…", "so…")


def test_facts() -> None:
    assert format_facts([("Volume", "40 m³"), ("Cells", "9")]) == "Volume  40 m³\nCells   9"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.04, "less than a second"),
        (0.96, "less than a second"),
        (1.0, "1 s"),
        (59.4, "59 s"),
        (59.6, "1 min 00 s"),
        (185, "3 min 05 s"),
        (3599.6, "1 h 00 min"),
        (7800, "2 h 10 min"),
    ],
)
def test_seconds(seconds: float, words: str) -> None:
    assert format_seconds(seconds) == words


@pytest.mark.parametrize(("count", "words"), [(850e3, "850 kB"), (42e6, "42 MB"), (1.34e9, "1.3 GB")])
def test_bytes(count: float, words: str) -> None:
    assert format_bytes(count) == words
