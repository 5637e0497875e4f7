"""How far a long run has come: a bar on a terminal, a line every ten seconds elsewhere."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from types import TracebackType
from typing import TextIO

from fdtd.cli.tables import format_seconds

BAR_WIDTH = 24
REDRAW = 0.1
"""s between two states of the bar."""
LINE_EVERY = 10.0
"""s between two lines where there is no terminal."""


class Progress:
    """A callable `progress(fraction, message)` for long work; use it as a context manager so that the line is closed.

    fraction : 0 to 1 of the whole work; message : what is being done, a few words.
    """

    def __init__(self, stream: TextIO | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._clock = clock
        self._terminal = self._stream.isatty()
        self._start = clock()
        self._last = self._start if not self._terminal else -1.0
        self._length = 0

    def __call__(self, fraction: float, message: str) -> None:
        now = self._clock()
        wait = REDRAW if self._terminal else LINE_EVERY
        if now - self._last < wait and fraction < 1.0:
            return
        if not self._terminal and now - self._start < LINE_EVERY:
            return  # short work needs no lines in a log
        self._last = now
        self._write(self._text(min(max(fraction, 0.0), 1.0), message, now - self._start))

    def _text(self, fraction: float, message: str, elapsed: float) -> str:
        percent = f"{100 * fraction:3.0f} %"
        # The first moments go into compiling, so a forecast from them would only frighten.
        known = fraction > 0.02 and elapsed > 1.0 and fraction < 1.0
        left = f", {format_seconds(max(elapsed * (1.0 / fraction - 1.0), 1.0))} left" if known else ""
        if not self._terminal:
            return f"{percent} {message}{left}"
        full = round(BAR_WIDTH * fraction)
        return f"[{'#' * full}{'.' * (BAR_WIDTH - full)}] {percent} {message}{left}"

    def _write(self, text: str) -> None:
        if self._terminal:
            self._stream.write("\r" + text.ljust(self._length))
            self._length = len(text)
        else:
            self._stream.write(text + "\n")
        self._stream.flush()

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._terminal and self._length:
            self._stream.write("\n")
            self._stream.flush()
