"""Repeat an action whenever a file is saved."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable
from pathlib import Path

INTERVAL = 0.4
"""Seconds between checks of the file."""
GONE = 5
"""Consecutive checks without the file before this is reported: editors remove it briefly when they save."""


def watch(
    path: Path,
    first: Callable[[], None],
    changed: Callable[[], None],
    gone: Callable[[], None],
    sleep: Callable[[float], None] = time.sleep,
) -> None:
    """Call `first`, then `changed` whenever the content of `path` is another one, and `gone` when the file is missing.

    The content counts, not the time of the file: saving without a change does nothing, and a file that is put in the
    place of another is seen. A new content must be there at two looks in a row, so that half of a file is not taken
    for it. Goes on until something raises (KeyboardInterrupt from `sleep`, as a rule).
    """
    known = before = _content(path)  # before the first look, so that a change during it is not missed
    first()
    missing = 0
    while True:
        sleep(INTERVAL)
        now = _content(path)
        missing = missing + 1 if now is None else 0
        if missing == GONE:
            gone()
            known = None
        if now is not None and now == before and now != known:
            known = now
            changed()
        before = now


def _content(path: Path) -> str | None:
    """A value that changes with the content; None for a file that is missing or unreadable."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None
