"""Values on the command line: what is taken, and how the rest is refused."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from fdtd.cli.options import parse_frequencies, parse_tones, results_folder
from fdtd.errors import OptionError
from fdtd.settings import checked_duration, checked_grid, checked_precision, checked_theme, checked_width


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (None, None),
        ("34.5,52", (34.5, 52.0)),
        (" 34.5 , 52 ", (34.5, 52.0)),
        ("52 34.5;34.5", (52.0, 34.5)),
        ("10", (10.0,)),
        ("200", (200.0,)),
    ],
)
def test_frequencies(text: str | None, expected: tuple[float, ...] | None) -> None:
    assert parse_frequencies(text, 200.0) == expected


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "found nothing"),
        (",", "found nothing"),
        ("34.5,fifty", "'fifty'"),
        ("34.5Hz", "'34.5Hz'"),
        ("nan", "'nan'"),
        ("inf", "inf Hz, expected 10 to 200 Hz"),
        ("9.9", "9.9 Hz, expected 10 to 200 Hz"),
        ("-40", "-40 Hz, expected 10 to 200 Hz"),
        ("40,200.5", "200.5 Hz, expected 10 to 200 Hz"),
        (" ".join(f"{20 + k}" for k in range(51)), "found 51 frequencies, expected at most 50"),
    ],
)
def test_frequencies_refused(text: str, said: str) -> None:
    with pytest.raises(OptionError, match="^--frequencies: ") as caught:
        parse_frequencies(text, 200.0)
    assert said in str(caught.value)


def test_tones() -> None:
    assert parse_tones(None, 200.0) == ()
    assert parse_tones("34.5, 15;160", 200.0) == (34.5, 15.0, 160.0)
    assert parse_tones("80", 100.0) == (80.0,)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (",", "found nothing"),
        ("fifty", "'fifty'"),
        ("14.9", "14.9 Hz, expected 15 to 80 Hz"),
        ("81", "81 Hz, expected 15 to 80 Hz (the upper end is 160, or 0.8 of max_frequency"),
    ],
)
def test_tones_refused(text: str, said: str) -> None:
    with pytest.raises(OptionError, match="^--tones: ") as caught:
        parse_tones(text, 100.0)
    assert said in str(caught.value)


@pytest.mark.parametrize("grid", [None, 0.01, 0.1, 1.0])
def test_grid(grid: float | None) -> None:
    assert checked_grid(grid) == grid


@pytest.mark.parametrize("grid", [0.0, -0.1, 10.0, math.nan, math.inf])
def test_grid_refused(grid: float) -> None:
    with pytest.raises(OptionError, match="^--grid: found .*, expected the longest cell edge in metres, 0.01 to 1"):
        checked_grid(grid)


@pytest.mark.parametrize("duration", [0.0, 1e-9, 0.049, -1.0, 61.0, math.nan, math.inf])
def test_duration_refused(duration: float) -> None:
    with pytest.raises(OptionError, match="^--duration: found .*, expected 0.05 to 60 s; "):
        checked_duration(duration)


def test_duration_and_precision() -> None:
    assert [checked_duration(s) for s in (None, 0.05, 60.0)] == [None, 0.05, 60.0]
    assert (checked_precision("single"), checked_precision("double")) == ("single", "double")
    with pytest.raises(OptionError, match="^--precision: found 'half', expected single or double.$"):
        checked_precision("half")


def test_the_folder_is_named_after_the_scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert results_folder(Path("rooms/my.room.toml"), None) == Path("my.room-results")
    assert results_folder(Path("room.toml"), Path("a/b")) == Path("a/b")
    assert Path("a/b").is_dir()
    assert list(Path("a/b").iterdir()) == []


def test_themes_and_widths() -> None:
    assert [checked_theme(theme) for theme in ("light", "dark")] == ["light", "dark"]
    assert [checked_width(width) for width in (None, "column", "full")] == [None, "column", "full"]
    with pytest.raises(OptionError, match="found 'pink', expected light or dark"):
        checked_theme("pink")
    with pytest.raises(OptionError, match=r"found '9', expected column \(8.5 cm\) or full \(17.5 cm\)"):
        checked_width("9")


@pytest.mark.parametrize("sign", ["", "-"])
@pytest.mark.parametrize(
    ("command", "option"),
    [
        ("place", "--count="),
        ("place", "--perturbed-rooms="),
        ("modes", "--count="),
        ("modes", "--mode-shapes="),
        ("partitions --sheet=loft", "--open="),
        ("partitions --sheet=loft", "--move="),
        ("run", "--frequencies=x"),
    ],
)
def test_a_number_of_400_digits_is_cut_short(
    command: str, option: str, sign: str, fdtd: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    assert fdtd(*command.split(), "scenes/l-shaped-living-room.toml", option + sign + "9" * 400) == 2
    told = capsys.readouterr().err
    assert "found" in told and len(told.splitlines()) == 1 and len(told) < 300, told
