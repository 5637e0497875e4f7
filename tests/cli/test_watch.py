"""`fdtd check --watch`: the drawing follows the file, through editors that replace it and scenes with mistakes."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from fdtd.cli.watch import GONE, watch
from fdtd.new_scene.answers import rectangle_plan
from fdtd.new_scene.writing import Answers, first_scene

ROOM = first_scene(Answers("Den", rectangle_plan((3.0, 2.5)), 2.2, "rigid", "rigid", "rigid"))


class _Over(Exception):
    pass


def _story(path: Path, steps: Sequence[Callable[[], object] | None]) -> list[str]:
    """What `watch` calls while `steps` happen, one in every pause."""
    told: list[str] = []
    left = iter(steps)

    def sleep(seconds: float) -> None:
        assert 0.1 <= seconds <= 1.0  # no busy loop
        try:
            step = next(left)
        except StopIteration:
            raise _Over from None
        if step is not None:
            step()

    def changed() -> None:
        told.append(path.read_text())

    with pytest.raises(_Over):
        watch(path, lambda: told.append("first"), changed, lambda: told.append("gone"), sleep)
    return told


def test_only_another_content_counts_and_only_when_it_is_whole(tmp_path: Path) -> None:
    path, other = tmp_path / "a.toml", tmp_path / "b.toml"
    path.write_text("one")

    def put(text: str) -> Callable[[], object]:
        return lambda: path.write_text(text)

    def replace() -> None:
        other.write_text("three")
        other.replace(path)

    half = [put("tw"), put("two"), None, None]
    again = [put("two"), None, None]
    moved = [path.unlink, replace, None, None]
    away = [path.unlink, *[None] * GONE, put("three"), None, None]
    assert _story(path, [*half, *again, *moved, *away]) == ["first", "two", "three", "gone", "three"]


def test_a_change_during_the_first_look_is_seen(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("one")
    told: list[str] = []
    pauses = iter([None, None])

    def sleep(seconds: float) -> None:
        if next(pauses, _Over) is _Over:
            raise _Over

    with pytest.raises(_Over):
        watch(path, lambda: path.write_text("two"), lambda: told.append("changed"), lambda: None, sleep)
    assert told == ["changed"]


def _wait_for(path: Path, pattern: str, count: int) -> str:
    end = time.monotonic() + 60.0
    while time.monotonic() < end:
        text = path.read_text()
        if len(re.findall(pattern, text)) >= count:
            return text
        time.sleep(0.1)
    raise AssertionError(f"{count} times {pattern!r} not seen in:\n{path.read_text()}")


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C is sent as a signal")
def test_the_command_goes_on_through_mistakes_and_ends_with_ctrl_c(tmp_path: Path) -> None:
    scene, log = tmp_path / "den.toml", tmp_path / "log.txt"
    scene.write_text(ROOM)
    command = [
        sys.executable,
        "-m",
        "fdtd",
        "check",
        str(scene),
        "--watch",
        "--grid",
        "0.5",
        "--out",
        str(tmp_path / "o"),
    ]
    # A shell's background job would be deaf to Ctrl-C; this one is not.
    with (
        log.open("w") as file,
        subprocess.Popen(
            command,
            stdout=file,
            stderr=subprocess.STDOUT,
            env={**__import__("os").environ, "PYTHONUNBUFFERED": "1"},
            cwd=Path(__file__).parents[2],
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
        ) as running,
    ):
        try:
            assert "plan.png" in _wait_for(log, "Watching", 1)
            scene.write_text(ROOM + "\nx = = 1\n")
            assert "Error: den.toml, line " in _wait_for(log, "Watching", 2)
            scene.write_text(ROOM.replace("Den", "Study"))
            assert "\nStudy\n" in _wait_for(log, "Watching", 3)
            running.send_signal(signal.SIGINT)
            assert running.wait(20) == 0
        finally:
            running.kill()
    assert log.read_text().endswith("No longer watching.\n") and "Traceback" not in log.read_text()
