"""Write a file so that a reader never sees half of it: temporary file beside it, moved into place when complete."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def replaced_file(path: str | Path) -> Iterator[Path]:
    """Yield the path of a temporary file; move it to `path` on success, delete it on any error.

    The folder is made if it is missing. The suffix stays the same, because some writers choose the format by it.
    """
    target = Path(path)
    target.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=".writing-", suffix=target.suffix)
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
