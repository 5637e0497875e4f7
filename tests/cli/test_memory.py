"""Too little memory: one message before anything is loaded, and no thread that is left waiting or tells by itself."""

from __future__ import annotations

import os
import subprocess
import sys
import threading

import pytest

from fdtd.cli import memory
from fdtd.errors import FdtdError
from fdtd.simulation import compilation, thread_group

resource = pytest.importorskip("resource")
COMMANDS = ("new", "check", "run", "show", "animate", "place", "report", "sources", "modes", "partitions", "surface")


def limited(megabytes: int, *arguments: str) -> subprocess.CompletedProcess[str]:
    """The program, in a process that may have so much address space."""
    size = megabytes * 1_000_000
    return subprocess.run(
        [sys.executable, "-m", "fdtd", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (size, size)),
    )


@pytest.mark.parametrize("megabytes", [200, 550])
def test_what_the_program_alone_needs_is_said_first(megabytes: int) -> None:
    done = limited(megabytes, "run", "room.toml")
    assert done.returncode == 2 and done.stdout == ""
    assert done.stderr.startswith(f"Error: not enough memory: this process may use {megabytes} MB (ulimit -v), and ")
    assert done.stderr.count("\n") == 1
    assert limited(megabytes, "run", "--help").returncode == 0


def test_threads_are_those_that_the_program_will_use(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of 128 cores those that this process may use; it is refused for no others."""
    monkeypatch.delenv("NUMBA_NUM_THREADS", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: 128)
    monkeypatch.setattr(os, "sched_getaffinity", lambda process: {0, 5, 6}, raising=False)
    monkeypatch.setattr(memory, "allowed_megabytes", lambda: 1131.0)

    def command() -> str:
        return "done"

    assert memory.needing(1100)(command)() == "done"
    monkeypatch.setenv("NUMBA_NUM_THREADS", "4")
    with pytest.raises(FdtdError, match="needs 1140 MB .*NUMBA_NUM_THREADS"):
        memory.needing(1100)(command)()
    monkeypatch.delenv("NUMBA_NUM_THREADS")
    monkeypatch.delattr(os, "sched_getaffinity")
    assert memory.threads() == 128


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_tells(command: str) -> None:
    words = [command, *(["--sheet", "x"] if command == "partitions" else []), "room.toml"]
    done = limited(200, *words, *(["--size", "4x3"] if command == "new" else []))
    assert done.returncode == 2 and done.stderr.startswith("Error: not enough memory: ")
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("error", [MemoryError(), RuntimeError("can't start new thread")])
def test_what_goes_wrong_in_compiling_reaches_the_run(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], error: Exception
) -> None:
    def fail(precision: str) -> None:
        raise error

    monkeypatch.setattr(compilation, "_one_step", fail)
    with pytest.raises(type(error)):
        compilation.Compilation().wait(None)
    assert capfd.readouterr() == ("", ""), "nothing is told by the thread itself"


def test_a_team_that_is_not_complete_does_not_begin(monkeypatch: pytest.MonkeyPatch) -> None:
    """Members wait for each other awake: those that had begun would never end."""
    begun: list[int] = []
    start, started = threading.Thread.start, []

    def second_fails(thread: threading.Thread) -> None:
        if started:
            raise RuntimeError("can't start new thread")
        started.append(thread)
        start(thread)

    monkeypatch.setattr(thread_group, "_helpers", [])
    monkeypatch.setattr(threading.Thread, "start", second_fails)
    with pytest.raises(RuntimeError, match="new thread"):
        thread_group.together(lambda number, size, barrier: begun.append(number), 3)
    assert started and begun == []
    monkeypatch.undo()
    thread_group.together(lambda number, size, barrier: begun.append(number), 3)
    assert sorted(begun) == [0, 1, 2]
