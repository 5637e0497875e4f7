"""Progress: a bar that redraws itself on a terminal, a line now and then elsewhere, nothing there for short work."""

from __future__ import annotations

import io
from threading import Event

from fdtd.cli.progress import Progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


class Clock:
    now = 100.0

    def __call__(self) -> float:
        return self.now


def run(stream: io.StringIO, seconds: float, steps: int) -> str:
    clock = Clock()
    with Progress(stream, clock) as progress:
        for step in range(1, steps + 1):
            clock.now = 100.0 + seconds * step / steps
            progress(step / steps, "simulating")
    return stream.getvalue()


def test_a_terminal_gets_a_bar_with_the_time_left() -> None:
    states = run(Terminal(), seconds=20.0, steps=1000).split("\r")[1:]
    assert len(states) <= 20.0 / 0.1 + 2, "redrawn too often"
    middle = next(state for state in states if " 50 %" in state)
    assert middle.rstrip() == "[############............]  50 % simulating, 10 s left"
    assert states[-1].startswith("[########################] 100 % simulating")
    assert "left" not in states[-1]
    assert states[-1].endswith("\n")


def test_a_shorter_line_wipes_the_longer_one_before_it() -> None:
    stream, clock = Terminal(), Clock()
    with Progress(stream, clock) as progress:
        progress(0.1, "cutting the room to cells")
        clock.now += 1.0
        progress(0.2, "simulating")
    _, first, second = stream.getvalue().rstrip("\n").split("\r")
    assert len(second) >= len(first)


def test_a_log_gets_a_line_soon_and_then_every_ten_seconds() -> None:
    lines = run(io.StringIO(), seconds=40.0, steps=400).splitlines()
    assert lines == [
        "  4 % simulating, 38 s left",
        " 29 % simulating, 29 s left",
        " 54 % simulating, 18 s left",
        " 79 % simulating, 8 s left",
        "100 % simulating",
    ]


def test_short_work_leaves_no_line_in_a_log() -> None:
    assert run(io.StringIO(), seconds=1.4, steps=90) == ""


def test_a_log_is_said_the_end_once() -> None:
    stream, clock = io.StringIO(), Clock()
    with Progress(stream, clock) as progress:
        for message in ("simulating", "working out the responses", "writing"):
            clock.now += 2.0
            progress(1.0, message)
    assert stream.getvalue() == "100 % simulating\n"


def test_work_that_says_nothing_is_seen_to_go_on() -> None:
    for stream in (io.StringIO(), Terminal()):
        clock = Clock()
        progress = Progress(stream, clock)
        progress(0.1, "compiling")
        said = len(stream.getvalue())
        clock.now += 1.0
        progress.look()
        assert len(stream.getvalue()) == said
        clock.now += 4.0
        progress.look()
        assert stream.getvalue()[said:].rstrip("\n").endswith(" 10 % compiling, for 5 s")


def test_silence_is_noticed_without_a_report() -> None:
    class Late(Clock):
        """Later by 6 s whenever it is read."""

        def __call__(self) -> float:
            self.now += 6.0
            return self.now

    stream = io.StringIO()
    with Progress(stream, Late()) as progress:
        progress(0.0, "compiling")
        waited = Event()
        for _ in range(100):
            if "compiling, for" in stream.getvalue():
                break
            waited.wait(0.1)
    assert "compiling, for" in stream.getvalue()


def test_a_failure_closes_the_line() -> None:
    stream = Terminal()
    try:
        with Progress(stream, Clock()) as progress:
            progress(0.5, "simulating")
            raise ValueError
    except ValueError:
        pass
    assert stream.getvalue().endswith("\n")
