"""Errors that a person at the keyboard can act on.

The library raises these; the command line prints the message alone and exits with code 2.
Anything else that escapes is a bug and keeps its traceback.
"""

from __future__ import annotations

from collections.abc import Sequence


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
    """A march whose field grew or stopped being finite."""


class ResultFileError(FdtdError):
    """A result file that is missing, unreadable or of another format."""
