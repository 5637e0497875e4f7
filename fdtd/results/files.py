"""Write a file so that a reader never sees half of it: temporary file beside it, moved into place when complete.

Every writer goes through here, so that a full disk or a folder without permission always ends the same way.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fdtd.errors import UnwritableError

PREFIX = ".writing-"
"""How the names of unfinished files begin."""


@contextmanager
def replaced_file(path: str | Path) -> Iterator[Path]:
    """Yield the path of a temporary file; move it to `path` on success, delete it on any error.

    The folder is made if it is missing. The suffix stays the same, because some writers choose the format by it.
    Raises UnwritableError for whatever the operating system refuses, within the context too.
    """
    target = Path(path)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=PREFIX, suffix=target.suffix)
        os.close(handle)
        temporary = Path(name)
        try:
            yield temporary
            # mkstemp makes files that only their owner may read; a result is an ordinary file.
            mask = os.umask(0)
            os.umask(mask)
            temporary.chmod(0o666 & ~mask)
            os.replace(temporary, target)
        finally:
            temporary.unlink(missing_ok=True)
    except OSError as error:
        raise UnwritableError(target, error) from error


@contextmanager
def replaced_folder(path: str | Path) -> Iterator[Path]:
    """The same for a folder of files: yield an empty folder, put in the place of `path` when it is complete."""
    target = Path(path)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=PREFIX, dir=target.parent) as name:
            made, before = Path(name) / "made", Path(name) / "before"
            made.mkdir()
            yield made
            replaced = os.path.lexists(target)
            if replaced:
                target.rename(before)
            try:
                made.rename(target)
            except OSError:
                if replaced:
                    before.rename(target)
                raise
    except OSError as error:
        raise UnwritableError(target, error) from error
