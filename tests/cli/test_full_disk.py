"""Whole commands on a disk that fills up, at ever more room: done, or refused in one line; no crash, no leftovers."""

from __future__ import annotations

import itertools
import shutil
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from limited import contents

resource = pytest.importorskip("resource")

GRID = ("--grid", "0.5")
ANIMATION = ("--seconds", "0.2", "--rate", "10", "--size", "320")
COMMANDS = {
    "run": ("run", "room.toml", *GRID, "--duration", "0.3", "--no-figures", "--out", "disk"),
    "figures": ("run", "room.toml", *GRID, "--duration", "0.3", "--out", "disk"),
    "plan": ("check", "room.toml", *GRID, "--out", "disk"),
    "new": ("new", "disk/new.toml", "--size", "4x3", "--force"),
    "modes": ("modes", "room.toml", *GRID, "--out", "disk"),
    "show": ("show", "before/result.h5", "--out", "disk"),
    "report": ("report", "before/result.h5", "--out", "disk/report.html"),
    "gif": ("animate", "room.toml", *GRID, *ANIMATION, "--formats", "gif", "--out", "disk"),
    "webp": ("animate", "room.toml", *GRID, *ANIMATION, "--formats", "webp", "--out", "disk"),
    "png": ("animate", "room.toml", *GRID, *ANIMATION, "--formats", "png", "--out", "disk"),
    "place": ("place", "room.toml", "--grid", "0.6", "--no-robust", "--no-confirm", "--no-figures", "--out", "disk"),
}
LIMITS = (0, 3_000, 30_000, 120_000)
"""Bytes: less than any file has, up to more than most have."""
SPOTS = '\n[spots]\ndevice = "{}"\non = ["walls"]\nspacing = 1.5\nsize = [0.6, 1.2]\n'


def program(folder: Path, *arguments: str, limit: int | None = None) -> subprocess.CompletedProcess[str]:
    """The program in `folder`; limit : bytes, of any file."""

    def restrict() -> None:
        if limit is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    return subprocess.run(
        [sys.executable, "-m", "fdtd", *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=300,
        preexec_fn=restrict,
    )


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a scene, and `before` with its results."""
    folder = tmp_path_factory.mktemp("room")
    assert program(folder, "new", "room.toml", "--size", "3x2.4").returncode == 0
    scene = folder / "room.toml"
    if "[spots]" not in scene.read_text():
        scene.write_text(scene.read_text() + SPOTS.format("panel"))
    done = program(folder, "run", "room.toml", *GRID, "--duration", "0.3", "--no-figures", "--out", "before")
    assert done.returncode == 0, done.stderr
    return folder


def check_ended_well(done: subprocess.CompletedProcess[str], before: dict[str, bytes], after: dict[str, bytes]) -> None:
    said = [line for line in done.stderr.splitlines() if line.startswith("Error: ")]
    assert "Traceback" not in done.stderr and done.returncode in (0, 2), done.stderr
    assert len(said) == (done.returncode == 2) and all("cannot be written" in line for line in said), said
    assert not [name for name in after if ".writing-" in name]
    if done.returncode == 2:
        (failed,) = [line.removeprefix("Error: disk/").partition(": ")[0] for line in said]
        assert after.get(failed) == before.get(failed)
    assert set(before) <= set(after)


def slow(commands: Iterable[str], numbers: Iterable[int]) -> list[Any]:
    return [pytest.param(*pair, marks=pytest.mark.slow) for pair in itertools.product(commands, numbers)]


@pytest.mark.parametrize(("command", "limit"), [("run", 20_000), ("new", 500), *slow(COMMANDS, LIMITS)])
def test_a_limit_on_the_size_of_files(room: Path, command: str, limit: int) -> None:
    disk = room / "disk"
    shutil.rmtree(disk, ignore_errors=True)
    shutil.copytree(room / "before", disk)
    before = contents(disk)
    done = program(room, *COMMANDS[command], limit=limit)
    check_ended_well(done, before, contents(disk))


@pytest.mark.slow
@pytest.mark.parametrize(("command", "kilobytes"), slow(("figures", "plan", "report", "webp", "place"), (4, 100)))
def test_a_small_disk(room: Path, command: str, kilobytes: int) -> None:
    """kilobytes : left on a disk of memory beside the earlier results."""
    disk = room / "disk"
    shutil.rmtree(disk, ignore_errors=True)
    disk.mkdir()
    size = kilobytes + sum(4 * (len(data) // 4096 + 1) for data in contents(room / "before").values())
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}k", "tmpfs", disk], capture_output=True)
    if made.returncode != 0:
        pytest.skip("no file system may be mounted here")
    try:
        shutil.copytree(room / "before", disk, dirs_exist_ok=True)
        before = contents(disk)
        done = program(room, *COMMANDS[command])
        check_ended_well(done, before, contents(disk))
    finally:
        subprocess.run(["umount", disk], check=True)
