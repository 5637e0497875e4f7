"""Progress of a long run: a bar on a terminal, an occasional line elsewhere."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from threading import Event, Lock, Thread
from types import TracebackType
from typing import TextIO

from fdtd.cli.tables import format_seconds

BAR_WIDTH = 24
REDRAW = 0.1
"""s between two states of the bar."""
FIRST_LINE = 1.5
"""s before the first line without a terminal; shorter work prints none."""
LINE_EVERY = 10.0
"""s between two lines where there is no terminal."""
SILENCE = 2.0
"""s without a report before the elapsed time is shown, so that the work does not appear to hang."""


class Progress:
    """A callable `progress(fraction, message)` for long work; use it as a context manager so that the line is closed.

    fraction : 0 to 1 of the whole work; message : what is being done, a few words. Within the context a thread
    repeats the last report while nothing new comes.
    """

    def __init__(self, stream: TextIO | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._clock = clock
        self._terminal = self._stream.isatty()
        self._start = clock()
        self._next = self._start + (0.0 if self._terminal else FIRST_LINE)
        self._length, self._ended = 0, False
        self._reported: tuple[float, str, float] | None = None
        self._lock, self._over = Lock(), Event()
        self._thread: Thread | None = None

    def __call__(self, fraction: float, message: str) -> None:
        with self._lock:
            now = self._clock()
            self._reported = (fraction, message, now)
            # The end is told at once, in a log once only.
            ended = fraction >= 1.0 and (self._terminal or (not self._ended and now >= self._start + FIRST_LINE))
            if now >= self._next or ended:
                self._tell(now)
                self._ended = self._ended or ended

    def look(self) -> None:
        """Repeat the last report if nothing has come since."""
        with self._lock:
            now = self._clock()
            silent = self._reported is not None and now - self._reported[2] > (SILENCE if self._terminal else 0.0)
            if silent and now >= self._next:
                self._tell(now)

    def _tell(self, now: float) -> None:
        if self._reported is None:
            return
        fraction, message, at = self._reported
        self._next = now + (REDRAW if self._terminal else LINE_EVERY)
        waited = now - at if now - at > SILENCE else 0.0
        self._write(self._text(min(max(fraction, 0.0), 1.0), message, at - self._start, waited))

    def _text(self, fraction: float, message: str, elapsed: float, waited: float) -> str:
        percent = f"{100 * fraction:3.0f} %"
        # The first moments go into compiling, so a forecast from them would only frighten.
        known = fraction > 0.02 and elapsed > 1.0 and fraction < 1.0
        left = f", {format_seconds(max(elapsed * (1.0 / fraction - 1.0), 1.0))} left" if known else ""
        if waited:
            left = f", for {format_seconds(waited)}"
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

    def _watch(self) -> None:
        while not self._over.wait(0.5):
            self.look()

    def __enter__(self) -> Progress:
        self._thread = Thread(target=self._watch, daemon=True)
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._over.set()
        if self._thread is not None:
            self._thread.join()
        if self._terminal and self._length:
            self._stream.write("\n")
            self._stream.flush()
