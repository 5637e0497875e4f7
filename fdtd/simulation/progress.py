"""Progress of one part of a job, told as progress of the whole."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[float, str], None]
"""Told the share that is done, 0 to 1, and what is being done."""


def part(progress: Progress | None, low: float, high: float, doing: str = "") -> Progress:
    """Progress from 0 to 1 told to `progress` as from `low` to `high`; doing : put before each message."""
    if progress is None:
        return lambda done, message: None
    return lambda done, message: progress(low + (high - low) * done, doing + message)
