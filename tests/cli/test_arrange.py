"""`fdtd arrange` on a small room of our own: what it says and writes, and what it refuses."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest
from placement_scene import SCENE

Command = Callable[..., int]
Capture = pytest.CaptureFixture[str]
QUICK = ("--spacing", "0.9", "--from-wall", "0.4", "--count", "1", "--device", "cpu")


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(SCENE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return path


def test_it_says_what_is_worthwhile_and_writes_every_arrangement(room: Path, fdtd: Command, capsys: Capture) -> None:
    assert fdtd("arrange", str(room), *QUICK, "--perturbed-rooms", "2") == 0
    printed = capsys.readouterr().out
    lines = printed.splitlines()
    assert max(len(line) for line in lines if "/" not in line) <= 110
    assert lines[2].startswith("In short: ") and "'subwoofer'" in lines[2]
    for said in ("The loudspeaker alone: ", "Units alone: ", "Both: ", "2 were simulated", "No unit", "electrician"):
        assert said in printed
    folder = room.parent / "small-results"
    with (folder / "arrangements.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [int(row["rank"]) for row in rows] == list(range(len(rows))) and len(rows) >= 4
    assert rows[0]["x_m"] == "2.7" and float(rows[0]["benefit_0_units_db"]) == 0.0
    best = [max(float(row["benefit_0_units_db"]), float(row["benefit_1_units_db"])) for row in rows[1:]]
    assert best == sorted(best, reverse=True)
    for stem in ("arrangements-plan", "arrangements-responses"):
        assert (folder / f"{stem}.png").stat().st_size > 10_000


def test_a_study_that_was_stopped_goes_on(room: Path, fdtd: Command, capsys: Capture) -> None:
    """Simulations of the room are kept, and the second run tells the same from them."""
    quick = (*QUICK, "--no-robust", "--no-confirm")
    assert fdtd("arrange", str(room), *quick) == 0
    first = capsys.readouterr().out
    assert list((room.parent / "small-results" / "work").glob("room-*/batch-*.h5"))
    assert fdtd("arrange", str(room), *quick) == 0
    again = capsys.readouterr()
    assert again.out == first and "batch 1 of" not in again.err
    assert "In brackets" not in first and "Simulated as installed" not in first


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--any-pair",), "--any-pair: says which pairs are tried, so it needs --pairs"),
        (("--spacing", "0"), "--spacing: found 0, expected metres between places, 0.1 to 2"),
        (("--source", "tuba"), "there is no source 'tuba' in variant"),
        (("--count", "9"), "--count: found 9, expected the most units at once, 1 to 6"),
        (("--pairs", "--from-wall", "0.9"), "none of"),
    ],
)
def test_what_makes_no_sense_is_refused(
    room: Path, fdtd: Command, capsys: Capture, options: tuple[str, ...], message: str
) -> None:
    assert fdtd("arrange", str(room), *options) == 2
    assert message in capsys.readouterr().err
    assert not list((room.parent / "small-results").glob("arrangements*"))


def test_a_scene_without_spots_is_told_what_it_needs(room: Path, fdtd: Command, capsys: Capture) -> None:
    text = SCENE[: SCENE.index("[spots]")] + SCENE[SCENE.index("[run]") :]
    room.write_text(text, encoding="utf-8")
    assert fdtd("arrange", str(room)) == 2
    assert "no [spots]" in capsys.readouterr().err
