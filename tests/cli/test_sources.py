"""`fdtd sources` on a small room of our own: what it says, its tables, what it refuses."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

Command = Callable[..., int]
Capture = pytest.CaptureFixture[str]

ROOM = """scene = 1
title = "Box room"
[room]
plan = [[0, 0], [3.1, 0], [3.1, 2.4], [0, 2.4]]
height = 2.2
[surfaces]
floor = "rug"
ceiling = "rug"
walls = "rug"
[materials.rug]
admittance_ratio = 0.05
[[sources]]
name = "cabinet"
at = [0.4, 0.4, 0.3]
[[seats]]
name = "stool"
at = [2.2, 1.2, 1.1]
[[seats]]
name = "bench"
at = [1.0, 1.9, 1.1]
[run]
duration = 0.6
max_frequency = 170
"""
COARSE = ("--grid", "0.3", "--spacing", "0.7")


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "box.toml"
    path.write_text(ROOM, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return path


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_it_says_where_and_writes_all_places(room: Path, fdtd: Command, capsys: Capture) -> None:
    assert fdtd("sources", str(room), *COARSE) == 0
    printed = capsys.readouterr().out
    assert max(len(line) for line in printed.splitlines()[:8]) <= 110 and "playing along" not in printed
    assert "'cabinet'" in printed.splitlines()[2] and "from wall" in printed.splitlines()[2]
    assert "Between seats" in printed and "now  0.40, 0.40" in printed
    rows = table(room.parent / "box-results" / "sources.csv")
    assert [int(r["rank"]) for r in rows] == list(range(len(rows)))
    assert float(rows[0]["benefit_db"]) == 0.0 and rows[0]["x_m"] == "0.4"
    best = [float(r["benefit_db"]) for r in rows[1:]]
    assert best == sorted(best, reverse=True)
    for stem in ("sources-plan", "sources-responses"):
        assert (room.parent / "box-results" / f"{stem}.png").stat().st_size > 10_000


def test_the_loudspeaker_that_stays_is_named_first_and_how_to_ask_for_both(
    room: Path, fdtd: Command, capsys: Capture
) -> None:
    text = ROOM.replace("[[seats]]", '[[sources]]\nname = "radio"\nat = [2.7, 2.0, 0.3]\n[[seats]]', 1)
    room.write_text(text, encoding="utf-8")
    hint = "with 'radio' where it is and playing along (for a pair try --pairs, for that one try --source 'radio')"
    assert fdtd("sources", str(room), *COARSE) == 0
    printed = capsys.readouterr().out
    assert hint in " ".join(printed.split()).split(" dB ")[0]
    assert fdtd("sources", str(room), *COARSE, "--source", "radio", "--out", "two") == 0
    assert "with 'cabinet' where it is" in " ".join(capsys.readouterr().out.split())
    assert fdtd("sources", str(room), *COARSE, "--pairs", "--any-pair", "--out", "three") == 0
    assert "playing along" not in capsys.readouterr().out


def test_pairs_and_seats_have_files_of_their_own(room: Path, fdtd: Command, capsys: Capture) -> None:
    assert fdtd("sources", str(room), *COARSE, "--pairs", "--any-pair", "--out", "two") == 0
    rows = table(room.parent / "two" / "source-pairs.csv")
    assert rows[0]["x2_m"] == "" and rows[1]["x2_m"]
    assert "a second one like it" in capsys.readouterr().out
    assert fdtd("sources", str(room), *COARSE, "--seats", "--seat", "bench", "--out", "two") == 0
    printed = capsys.readouterr().out
    assert "'bench'" in printed and "stool" in printed and "Between seats" not in printed
    assert {r["z_m"] for r in table(room.parent / "two" / "seats.csv")} == {"1.1"}


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--spacing", "0"), "--spacing: found 0, expected metres between places, 0.1 to 2"),
        (("--from-wall", "7"), "--from-wall: found 7, expected metres, 0.05 to 3"),
        (("--seats", "--pairs"), "--seats moves a seat, --pairs and --source move loudspeakers"),
        (("--any-pair",), "--any-pair: says which pairs are tried, so it needs --pairs"),
        (("--pairs", "--tolerance", "3"), "--tolerance: found 3, expected metres between the distances of a pair"),
        (("--seat", "bench"), "--seat: names the seat to move, so it needs --seats"),
        (("--variant", "empty"), "--variant: found 'empty', expected one of: as described"),
        (("--source", "tuba"), "there is no source 'tuba' in variant 'as described'; it has: cabinet"),
    ],
)
def test_what_makes_no_sense_is_refused(
    room: Path, fdtd: Command, capsys: Capture, options: tuple[str, ...], message: str
) -> None:
    assert fdtd("sources", str(room), *options) == 2
    assert message in capsys.readouterr().err
