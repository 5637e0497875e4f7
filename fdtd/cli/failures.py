"""Exit codes, and operating system errors in one clear line."""

from __future__ import annotations

from fdtd.errors import os_error_cause

REFUSED = 2
"""Exit code for invalid input or unwritable output."""
INTERRUPTED = 130
"""Exit code after Ctrl-C, as shells expect it (common practice)."""


def os_error_message(error: OSError) -> str | None:
    """One line with the file and the remedy, or None if the error has no known cause (a bug: keep its traceback)."""
    cause = os_error_cause(error)
    if cause is None or error.filename is None:
        return cause
    return f"{error.filename}: {cause}"
