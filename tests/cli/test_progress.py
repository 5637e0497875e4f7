"""Progress: a bar that redraws itself on a terminal, a line every ten seconds elsewhere, nothing for short work."""

from __future__ import annotations

import io

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
            progress(step / steps, "marching")
    return stream.getvalue()


def test_a_terminal_gets_a_bar_with_the_time_left() -> None:
    states = run(Terminal(), seconds=20.0, steps=1000).split("\r")[1:]
    assert len(states) <= 20.0 / 0.1 + 2, "redrawn too often"
    middle = next(state for state in states if " 50 %" in state)
    assert middle.rstrip() == "[############............]  50 % marching, 10 s left"
    assert states[-1].startswith("[########################] 100 % marching")
    assert "left" not in states[-1]
    assert states[-1].endswith("\n")


def test_a_shorter_line_wipes_the_longer_one_before_it() -> None:
    stream, clock = Terminal(), Clock()
    with Progress(stream, clock) as progress:
        progress(0.1, "cutting the room to cells")
        clock.now += 1.0
        progress(0.2, "marching")
    _, first, second = stream.getvalue().rstrip("\n").split("\r")
    assert len(second) >= len(first)


def test_a_log_gets_a_line_every_ten_seconds() -> None:
    lines = run(io.StringIO(), seconds=40.0, steps=400).splitlines()
    assert lines == [
        " 25 % marching, 30 s left",
        " 50 % marching, 20 s left",
        " 75 % marching, 10 s left",
        "100 % marching",
    ]


def test_short_work_leaves_no_line_in_a_log() -> None:
    assert run(io.StringIO(), seconds=9.0, steps=90) == ""


def test_a_failure_closes_the_line() -> None:
    stream = Terminal()
    try:
        with Progress(stream, Clock()) as progress:
            progress(0.5, "marching")
            raise ValueError
    except ValueError:
        pass
    assert stream.getvalue().endswith("\n")
