"""Errors that a person at the keyboard can act on.

The library raises these; the command line prints the message alone and exits with code 2.
Anything else that escapes is a bug and keeps its traceback.
"""

from __future__ import annotations

import errno
import re
from collections.abc import Sequence
from pathlib import Path


def visible(text: str, longest: int = 500) -> str:
    """`text` as messages quote what came from a file: on one line, at most `longest` characters.

    What a terminal would obey, or not show, is written as an escape: \\x1b, \\n, \\u202e.
    """
    shown = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text[: longest + 1])
    return shown if len(shown) <= longest else f"{shown[: longest - 3]}..."


class FdtdError(Exception):
    """Base of every error whose message is meant for the user."""


class SceneError(FdtdError):
    """One or more mistakes in a scene file, each a finished sentence with its place."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


class GeometryError(FdtdError):
    """A room that cannot be cut into cells (for instance: no air left)."""


class StabilityError(FdtdError):
    """A simulation whose field grew or stopped being finite."""


class ResultFileError(FdtdError):
    """A result file that is missing, unreadable or of another format."""


class UnwritableError(FdtdError):
    """A file that could not be written; what stood at `path` before is unchanged."""

    def __init__(self, path: str | Path, error: OSError) -> None:
        cause = os_error_cause(error)
        if cause is None:
            said = " ".join(str(error.strerror or error).split())
            cause = f"{said}. Check that the folder may be written to and that the disk has room."
        super().__init__(f"{path}: cannot be written: {cause}")


_NO_FOLDER = "part of this path is a file or a broken link, not a folder. Choose another folder."
_CAUSES = {
    errno.ENOSPC: "the disk is full. Free some space, or choose another folder.",
    errno.EDQUOT: "your disk quota is used up. Free some space, or choose another folder.",
    errno.EFBIG: "the file is larger than is allowed here. Raise the limit (ulimit -f), or choose another folder.",
    errno.EACCES: "no permission. Choose a folder that you may write to.",
    errno.EPERM: "not permitted. Choose a folder that you may write to.",
    errno.EROFS: "the disk is read-only. Choose another folder.",
    errno.ENOENT: "no such file or folder. Check the spelling.",
    errno.ENOTDIR: _NO_FOLDER,
    errno.EEXIST: _NO_FOLDER,
    errno.EISDIR: "this is a folder, not a file. Check the spelling.",
    errno.ELOOP: "symbolic links that lead round in a loop. Choose another name.",
    errno.EIO: "the disk reported a fault. Choose another folder.",
    errno.ENAMETOOLONG: "the name is too long. Choose a shorter one.",
}


def os_error_cause(error: OSError) -> str | None:
    """What the operating system refused and the remedy, or None for a number that is none of the user's doing."""
    return None if error.errno is None else _CAUSES.get(error.errno)


class OptionError(FdtdError):
    """An option, on the command line or of a function, whose value makes no sense.

    A number of more digits than anybody reads is cut short in the message.
    """

    def __init__(self, message: str) -> None:
        super().__init__(_LONG_NUMBER.sub(lambda digits: visible(digits[0], _DIGITS), message))


_DIGITS = 30
_LONG_NUMBER = re.compile(rf"\d{{{_DIGITS + 1},}}")
