"""A writer that finds the disk full: how it ends when no file may be longer than a limit."""

from __future__ import annotations

import os
import resource
import sys
import traceback
from collections.abc import Callable
from pathlib import Path

import pytest

from fdtd.errors import UnwritableError

CRASHED = "the process ended with {}, and said: {}"


def refused_at(limit: int, write: Callable[[], object], notes: Path) -> bool:
    """Run `write` in a process of its own in which files end at `limit` bytes; whether it raised UnwritableError.

    Fails if the process crashed, raised anything else, or if a library wrote anything to standard error.
    """
    child = os.fork()
    if child == 0:
        try:
            os.dup2(os.open(notes, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
            sys.stderr = os.fdopen(2, "w")
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
            write()
            os._exit(0)
        except UnwritableError:
            os._exit(2)
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(1)
    ended = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    said = notes.read_text()
    assert ended in (0, 2) and said == "", CRASHED.format(ended, said)
    return ended == 2


def check_full_disk(write: Callable[[Path], object], folder: Path, points: int = 12) -> None:
    """Whatever the room on the disk, `write` (into the folder that it is given) is refused cleanly or complete.

    What stood there before stays to the byte, and nothing unfinished is left.
    """
    if not hasattr(os, "fork"):
        pytest.skip("limits on the size of files need a Unix-like system")
    write(folder)
    before = contents(folder)
    longest = max(len(data) for data in before.values())
    refused = []
    for k in range(points):
        limit = longest * k // (points - 2)  # the last one lets everything through
        refused.append(refused_at(limit, lambda: write(folder), folder.with_name("notes")))
        after = contents(folder)
        assert sorted(after) == sorted(before), "nothing is left over and nothing is missing"
        if refused[-1]:
            assert after == before
    assert refused[0] and not refused[-1]


def contents(folder: Path) -> dict[str, bytes]:
    """Bytes of all files in and below `folder`, by their paths."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
