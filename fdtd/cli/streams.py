"""Standard input, output and error when they are closed or full, or their reader has gone."""

from __future__ import annotations

import io
import os
import sys
from typing import TextIO

NOBODY_READS = 141
"""Exit code when the reader of the output has gone, as shells tell it (128 + SIGPIPE)."""


class _Stream(io.TextIOWrapper):
    """A text stream that remembers that it could not write; lost : the error, if any.

    heedless : whether it goes on as if nothing were. What can't be encoded becomes '?'.
    """

    def __init__(self, under: io.TextIOWrapper, heedless: bool) -> None:
        super().__init__(
            under.buffer,
            under.encoding,
            "replace",
            line_buffering=under.line_buffering,
            write_through=under.write_through,
        )
        self.lost: OSError | None = None
        self._heedless = heedless

    def write(self, text: str) -> int:
        try:
            return super().write(text)
        except OSError as error:
            self._lose(error)
        return len(text)

    def flush(self) -> None:
        try:
            super().flush()
        except OSError as error:
            self._lose(error)

    def _lose(self, error: OSError) -> None:
        self.lost = error
        if not self._heedless:
            raise error


def open_streams() -> None:
    """Make the standard streams usable, however the program was started.

    Closed ones lead to the null device: otherwise the next file that is opened would take their number, and with it
    what libraries print. Standard error never fails, as there would be no way to tell.
    """
    while (null := os.open(os.devnull, os.O_RDWR)) <= 2:
        pass
    os.close(null)
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))
        elif mode == "w" and stream is getattr(sys, f"__{name}__"):
            setattr(sys, name, _Stream(stream, heedless=name == "stderr"))


def last_words(stream: TextIO) -> OSError | None:
    """Write what `stream` still holds; why something could not be written, if so."""
    try:
        stream.flush()
    except OSError:
        # Or else the interpreter would try again at its end, and say so.
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, stream.fileno())
        os.close(null)
    return getattr(stream, "lost", None)
