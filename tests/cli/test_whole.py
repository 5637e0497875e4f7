"""The four commands on a small room with the real solver, reader and drawings: from a scene file to files on disk."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from fdtd.results.store import read_result

SCENE = """\
scene = 1
title = "Small room"

[air]
speed_of_sound = 343.0
density = 1.2

[room]
plan = [[0, 0], [2.0, 0], [2.0, 1.7], [0, 1.7]]
height = 1.5

[materials.plaster]
admittance_ratio = 0.02

[surfaces]
floor = "plaster"
ceiling = "plaster"
walls = "plaster"

[devices.unit]
kind = "branches"
branches = [{ mass = 0.6, resistance = 60.0, stiffness = 160000.0 }]

[[absorbers]]
name = "corner unit"
device = "unit"
on = "floor"
from = [0.0, 0.0]
to = [0.4, 0.4]

[[sources]]
name = "subwoofer"
at = [1.8, 1.5, 0.2]

[[seats]]
name = "stool"
at = [0.4, 0.5, 1.0]

[[variants]]
name = "bare"
without = ["corner unit"]

[[variants]]
name = "fitted"
"""
BOX = (2.0, 1.7, 1.5)
SPEED = 343.0


def box_modes(count: int) -> list[float]:
    """f = c/2 sqrt((i/Lx)² + (j/Ly)² + (k/Lz)²) without the uniform pressure (Kuttruff, Room Acoustics, ch. 3)."""
    orders = np.array(list(np.ndindex(6, 6, 6)))[1:]
    return sorted(SPEED / 2 * np.sqrt(np.sum((orders / np.array(BOX)) ** 2, axis=1)))[:count]


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    Path("room.toml").write_text(SCENE, encoding="utf-8")
    return "room.toml"


def test_check(room: str, fdtd: Callable[..., int], capsys: pytest.CaptureFixture[str]) -> None:
    assert fdtd("check", room) == 0
    facts = dict(
        re.split(r"  +", line, maxsplit=1) for line in capsys.readouterr().out.splitlines() if "  " in line[1:]
    )
    assert facts["Volume"] == "5.10 m³"
    assert facts["Floor area"] == "3.40 m²"
    assert facts["Total surface area"] == "17.90 m²"
    told = [float(word) for word in facts["First modes of the bounding box"].removesuffix(" Hz").split(", ")]
    assert told == pytest.approx(box_modes(len(told)), abs=0.06)
    assert {path.name for path in Path("room-results").iterdir()} == {"plan.png", "plan.svg", "captions.txt"}


def test_run_and_show(
    room: str, fdtd: Callable[..., int], capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest
) -> None:
    options = ("--grid", "0.25", "--duration", "0.3", "--frequencies", "86,101")
    assert fdtd("run", room, "--out", "here", *options) == 0
    printed = capsys.readouterr().out
    assert "At 'stool'" in printed
    assert "simulation too short" in printed and "decays by" not in printed, "0.3 s are not enough"
    assert "fitted against bare" in printed
    listed = [line.strip() for line in printed.split("Files:\n")[1].split("\n\n")[0].splitlines()]
    assert listed and all(Path(name).stat().st_size > 0 for name in listed)
    assert {Path(name) for name in listed} == set(Path("here").iterdir()), "no file is left over or left out"

    result = read_result(Path("here/result.h5"))
    assert tuple(v.name for v in result.variants) == ("bare", "fitted")
    assert result.map_frequency == pytest.approx([86.0, 101.0])
    assert all(np.isfinite(v.transfer).all() for v in result.variants)
    assert not np.allclose(result.variants[0].transfer, result.variants[1].transfer), "the absorber does nothing"
    with Path("here/responses.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 2 * len(result.frequency)

    request.getfixturevalue("undrawn")  # the same drawings again
    assert fdtd("show", "here/result.h5", "--out", "again") == 0
    drawn = {path.name for path in Path("here").iterdir() if path.suffix in (".png", ".svg")}
    assert {path.name for path in Path("again").iterdir()} == drawn | {"captions.txt"}


def test_modes(room: str, fdtd: Callable[..., int]) -> None:
    assert fdtd("modes", room, "--count", "8", "--grid", "0.2") == 0
    with Path("room-results/modes.csv").open(newline="", encoding="utf-8") as file:
        found = [float(row["frequency_hz"]) for row in csv.DictReader(file)]
    assert len(found) == 8
    # A 0.2 m grid is fourth order: 0.5 % is loose for eight modes below 230 Hz.
    assert found == pytest.approx(box_modes(8), rel=5e-3)


def test_damped_modes_stand_beside_those_of_a_run(
    room: str, fdtd: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    assert fdtd("modes", room, "--damped", "--grid", "0.25", "--top", "130") == 0
    alone = capsys.readouterr().out
    with Path("room-results/damped-modes-2-fitted.csv").open(newline="", encoding="utf-8") as file:
        found = [(float(row["frequency_hz"]), float(row["decay_time_s"])) for row in csv.DictReader(file)]
    assert found and all(decay > 0.0 for _, decay in found)
    assert "In the run" not in alone and "No run to compare with: there is no room-results/result.h5" in alone
    assert fdtd("run", room, "--grid", "0.25", "--no-figures") == 0
    assert fdtd("modes", room, "--damped", "--grid", "0.25", "--top", "130") == 0
    assert "In the run, Hz" in capsys.readouterr().out
    with Path("room-results/damped-modes-2-fitted.csv").open(newline="", encoding="utf-8") as file:
        assert any(row["agrees"] == "yes" and row["run_frequency_hz"] for row in csv.DictReader(file))
    Path("room.toml").write_text(SCENE.replace("Small room", "Other room"), encoding="utf-8")
    assert fdtd("modes", room, "--damped", "--grid", "0.25", "--top", "130") == 0
    assert "or the scene has changed since" in capsys.readouterr().out
    assert fdtd("modes", room, "--damped", "--top", "700") == 2


def test_mode_shapes_of_modes_tell_what_couples(
    room: str, fdtd: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    assert fdtd("modes", room, "--count", "3", "--grid", "0.25", "--mode-shapes", "1", "--theme", "dark") == 0
    told = capsys.readouterr().out
    assert "subwoofer  stool  corner unit" in told and "'stool' hears it" in told
    folder = Path("room-results/mode-shapes-2-fitted")
    with (folder / "coupling.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    # The lowest mode lies along the length: cos(pi x/2) at x = 1.8 m, 0.4 m, and the mean over 0 to 0.4 m of the unit.
    wanted = [abs(math.cos(0.9 * math.pi)), math.cos(0.2 * math.pi), math.sin(0.2 * math.pi) / (0.2 * math.pi)]
    assert [float(row["share_percent"]) / 100.0 for row in rows[:3]] == pytest.approx(wanted, abs=0.01)
    with (folder / "source-seat.csv").open(newline="", encoding="utf-8") as file:
        pairs = list(csv.DictReader(file))
    assert float(pairs[0]["product_percent"]) / 100.0 == pytest.approx(wanted[0] * wanted[1], abs=0.01)
    assert pairs[0]["tone_db"] == "" and pairs[0]["decay_time_s"] == ""
    assert (folder / "mode-shape-overview.png").is_file() and "stool" in (folder / "captions.txt").read_text("utf-8")
    options = ("--damped", "--grid", "0.25", "--top", "110", "--mode-shapes", "1", "--width", "column")
    assert fdtd("modes", room, *options) == 0
    with Path("room-results/damped-mode-shapes-2-fitted/source-seat.csv").open(newline="", encoding="utf-8") as file:
        assert -20.0 < float(next(csv.DictReader(file))["tone_db"]) < 20.0
    assert fdtd("modes", room, "--mode-shapes", "101") == 2
    assert "expected 0 to 100 modes" in capsys.readouterr().err
