"""What a failure looks like: lines that start with 'Error:', an exit code, no traceback; bugs keep theirs."""

from __future__ import annotations

import errno
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from fdtd.cli.app import main
from fdtd.errors import SceneError, StabilityError

Calls = list[tuple[str, dict[str, object]]]


def raising(error: BaseException) -> Callable[..., object]:
    def call(*arguments: object, **options: object) -> object:
        raise error

    return call


def test_each_mistake_in_a_scene_has_its_line(
    calls: Calls, stand_in: Callable[..., None], fdtd: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    problems = ["room.toml:3: height = -1, expected more than 0", "room.toml:9: no material 'brik'; is it 'brick'?"]
    stand_in("fdtd.scene.read", read_scene=raising(SceneError(problems)))
    assert fdtd("run", "room.toml") == 2
    assert capsys.readouterr() == ("", "".join(f"Error: {p}\n" for p in problems))
    assert list(Path().iterdir()) == [], "a refused scene leaves no folder behind"


@pytest.mark.parametrize(
    ("error", "code", "said"),
    [
        (StabilityError("the field grew"), 2, "Error: the field grew\n"),
        (KeyboardInterrupt(), 130, "Stopped by Ctrl-C. Files that were not finished have not been written.\n"),
        (
            OSError(errno.ENOSPC, "No space left on device", "out/result.h5"),
            2,
            "Error: out/result.h5: the disk is full. Free some space, or choose another folder.\n",
        ),
        (
            PermissionError(errno.EACCES, "Permission denied", "out"),
            2,
            "Error: out: no permission. Choose a folder that you may write to.\n",
        ),
        (
            MemoryError(),
            2,
            "Error: not enough memory. Choose a coarser grid (--grid with a larger value); "
            "'fdtd check' tells how much is needed.\n",
        ),
        (
            RuntimeError("can't start new thread"),
            2,
            "Error: no further thread could be started: either memory is short (choose a coarser grid: --grid with a "
            "larger value), or the number of processes is limited (ulimit -u). Raise the limit, or set "
            "NUMBA_NUM_THREADS to fewer threads.\n",
        ),
    ],
)
def test_one_clear_line(
    calls: Calls,
    stand_in: Callable[..., None],
    fdtd: Callable[..., int],
    capsys: pytest.CaptureFixture[str],
    error: BaseException,
    code: int,
    said: str,
) -> None:
    stand_in("fdtd.workflow", run=raising(error))
    assert fdtd("run", "room.toml") == code
    assert capsys.readouterr().err == said


@pytest.mark.parametrize("error", [ZeroDivisionError("a bug"), OSError("no number at all"), KeyError("missing")])
def test_a_bug_keeps_its_traceback(
    calls: Calls, stand_in: Callable[..., None], monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    stand_in("fdtd.workflow", run=raising(error))
    monkeypatch.setattr(sys, "argv", ["fdtd", "run", "room.toml"])
    with pytest.raises(type(error)):
        main()


def test_a_result_that_cannot_be_read(
    calls: Calls, fdtd: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    assert fdtd("show", "missing.h5") == 2
    error = capsys.readouterr().err
    assert error.startswith("Error: missing.h5: ")
    assert "Traceback" not in error


@pytest.mark.parametrize("command", ["check", "run", "modes"])
def test_the_folder_must_not_be_a_file(
    calls: Calls, fdtd: Callable[..., int], capsys: pytest.CaptureFixture[str], command: str
) -> None:
    Path("taken").write_text("mine")
    assert fdtd(command, "room.toml", "--out", "taken") == 2
    assert capsys.readouterr().err == "Error: --out: taken is a file, expected a folder. Choose another name.\n"
    assert Path("taken").read_text() == "mine"
    assert not calls, "nothing is computed when it cannot be kept"


@pytest.mark.parametrize("command", ["check", "run", "modes"])
def test_a_folder_that_refuses_files_is_noticed_before_the_work(
    calls: Calls,
    fdtd: Callable[..., int],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    command: str,
) -> None:
    refusal = PermissionError(errno.EACCES, "Permission denied", "locked/xyz")
    monkeypatch.setattr("tempfile.TemporaryFile", raising(refusal))
    assert fdtd(command, "room.toml", "--out", "locked") == 2
    said = "Error: locked: no permission. Choose a folder that you may write to.\n"
    assert capsys.readouterr().err == said
    assert not calls


NO_FOLDER = "part of this path is a file or a broken link, not a folder. Choose another folder."
NOWHERE = (
    "--out: {} is a symbolic link that leads nowhere (to {}). "
    "Make the folder that it should lead to, or choose another name."
)
PLACES = {
    "gone": NOWHERE.format("gone", "never-made"),
    "loop": NOWHERE.format("loop", "loop"),
    "gone/below": f"gone: {NO_FOLDER}",
    "taken/below": f"taken/below: {NO_FOLDER}",
}


@pytest.mark.parametrize("command", ["check", "run", "modes"])
@pytest.mark.parametrize("out", PLACES)
def test_a_folder_that_cannot_be_is_said_before_the_work(
    calls: Calls, fdtd: Callable[..., int], capsys: pytest.CaptureFixture[str], command: str, out: str
) -> None:
    Path("taken").write_text("mine")
    Path("gone").symlink_to("never-made")
    Path("loop").symlink_to("loop")
    before = sorted(Path().iterdir())
    assert fdtd(command, "room.toml", "--out", out) == 2
    assert capsys.readouterr().err == f"Error: {PLACES[out]}\n"
    assert sorted(Path().iterdir()) == before and not calls
