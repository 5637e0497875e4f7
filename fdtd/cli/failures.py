"""Operating system errors in one clear line."""

from __future__ import annotations

import errno
import re

REFUSED = 2
"""Exit code when something about the input or the outputs was wrong."""
INTERRUPTED = 130
"""Exit code after Ctrl-C, as shells expect it (common practice)."""

_REMEDIES = {
    errno.ENOSPC: "the disk is full. Free some space, or choose another folder with --out.",
    errno.EDQUOT: "your disk quota is used up. Free some space, or choose another folder with --out.",
    errno.EACCES: "no permission. Choose a folder that you may write to with --out.",
    errno.EPERM: "not permitted. Choose a folder that you may write to with --out.",
    errno.EROFS: "the disk is read-only. Choose another folder with --out.",
    errno.ENOENT: "no such file or folder. Check the spelling.",
    errno.ENOTDIR: "part of this path is a file, not a folder. Choose another folder with --out.",
    errno.EISDIR: "this is a folder, not a file. Check the spelling.",
    errno.EIO: "the disk reported a fault. Choose another folder with --out.",
    errno.ENAMETOOLONG: "the name is too long. Choose a shorter one with --out.",
}


def os_error_message(error: OSError) -> str | None:
    """One line with the file and the remedy, or None if the error has no known cause (a bug: keep its traceback)."""
    number = error.errno
    text = str(error)
    # HDF5 reports the system's error number, and the file's name, only inside its text.
    if number is None and (found := re.search(r"errno = (\d+)", text)):
        number = int(found.group(1))
    if number not in _REMEDIES:
        return None
    name = error.filename
    if name is None and (found := re.search(r"name = '([^']+)'", text)):
        name = found.group(1)
    return f"{name}: {_REMEDIES[number]}" if name else _REMEDIES[number]
