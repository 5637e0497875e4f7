"""Standard streams that are closed, full, or that nobody reads: one clear message, or none, and never a traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a full device and a Unix shell")

FULL = "Error: the output cannot be written (No space left on device). Files that were written before are complete.\n"


def shell(line: str, **variables: str) -> subprocess.CompletedProcess[str]:
    """Run `line` in a shell, in which $fdtd is the program."""
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONUNBUFFERED"}
    return subprocess.run(
        ["sh", "-c", line],
        capture_output=True,
        text=True,
        timeout=60,
        env=environment | {"fdtd": f"{sys.executable} -m fdtd"} | variables,
    )


@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_full_output_is_one_message(unbuffered: str) -> None:
    done = shell("$fdtd --help >/dev/full", PYTHONUNBUFFERED=unbuffered)
    assert (done.returncode, done.stderr) == (2, FULL)


@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_nothing_is_said_when_nobody_reads(unbuffered: str) -> None:
    line = "{ sleep 1; $fdtd --version; echo $? >&2; } | true"  # the reader has gone before anything is written
    done = shell(line, PYTHONUNBUFFERED=unbuffered)
    assert done.stderr == "141\n"


def test_standard_error_that_fails_stops_nothing() -> None:
    for closed in ("2>&-", "2>/dev/full"):
        done = shell(f"$fdtd --version {closed}")
        assert done.returncode == 0 and done.stdout.startswith("fdtd ")
        assert shell(f"$fdtd check missing.toml {closed}").returncode == 2


@pytest.mark.slow
def test_closed_streams_are_not_taken_by_files(tmp_path: Path) -> None:
    """A file that had the number of standard error would get what libraries print."""
    scene = tmp_path / "room.toml"
    made = shell(f"$fdtd new {scene} --size 4x3 <&- >&- 2>&-")
    assert made.returncode == 0 and "[room]" in scene.read_text()
    assert shell(f"$fdtd check {scene} --grid 0.5 --out {tmp_path}/plan <&- >&- 2>&-").returncode == 0
    assert (tmp_path / "plan" / "plan.png").read_bytes().startswith(b"\x89PNG")


def test_questions_with_standard_input_closed(tmp_path: Path) -> None:
    done = shell(f"$fdtd new {tmp_path}/room.toml <&-")
    assert done.returncode == 2 and done.stderr.startswith("Error: fdtd new asks questions, and nobody can answer")
    assert done.stderr.count("\n") == 1 and list(tmp_path.iterdir()) == []
