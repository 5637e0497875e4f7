"""`fdtd partitions` from the scene file to its files, and what it refuses."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest
from divided_scene import SCENE

from fdtd.results.store import read_result
from fdtd.scene.read import read_scene_text

Command = Callable[..., int]
Capture = pytest.CaptureFixture[str]


@pytest.fixture
def scene_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    (tmp_path / "halves.toml").write_text(SCENE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return "halves.toml"


def test_it_compares_and_its_result_can_be_shown(fdtd: Command, scene_file: str, capsys: Capture) -> None:
    assert fdtd("partitions", scene_file, "--sheet", "divider", "--out", "study") == 0
    printed, warned = capsys.readouterr()
    assert warned.startswith("Warning: 30, 60 % open is left out")
    lines = printed.splitlines()
    assert lines[0] == "Two halves: 'divider'" and lines[2].startswith("Leave it")
    assert any(line.startswith("Closing its opening with a door: ") for line in lines[3:])
    assert "B  opening closed" in lines and any(line.startswith("At 'sofa'") for line in lines)
    assert max(len(line) for line in lines) <= 120
    with open("study/partitions.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["variant"] for row in rows} == {"as it is", "opening closed", "without it"}
    for stem in ("partitions", "partitions-1-table", "partitions-2-sofa"):
        assert Path(f"study/{stem}.png").stat().st_size > 10_000
    result = read_result("study/result.h5")  # what `fdtd show` starts from
    scene = read_scene_text(result.scene_text)
    assert [v.name for v in result.variants] == [v.name for v in scene.variants]
    assert [len(v.thin_partitions) for v in scene.variants] == [1, 2, 0]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--sheet", "dividr"), 'did you mean "divider"?'),
        (("--sheet", "divider", "--open", "0,130"), "--open: found '130', expected numbers from 0 to 100 (% open)."),
        (("--sheet", "divider", "--open", "half"), "--open: found 'half'"),
        (("--sheet", "divider", "--open", ","), "--open: found nothing"),
        (("--sheet", "divider", "--door", "ajar"), "--door: found 'ajar', expected open or closed."),
        (("--sheet", "divider", "--depth", "-1"), "--depth: found -1, expected 0 to 10 m."),
        (("--sheet", "divider", "--mass", "0"), "--mass: found '0'"),
        (("--sheet", "divider", "--move=9"), "--move: +9 m puts"),
        (("--sheet", "divider", "--grid", "3"), "--grid: found 3"),
    ],
)
def test_bad_options(fdtd: Command, scene_file: str, capsys: Capture, options: tuple[str, ...], words: str) -> None:
    assert fdtd("partitions", scene_file, *options) == 2
    assert words in capsys.readouterr().err
    assert not Path("halves-results").exists()
