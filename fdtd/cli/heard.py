"""What is heard in a run, or why that is not known."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fdtd.listening.study import Listening
    from fdtd.results.result import RunResult


def heard_in(result: RunResult, tones: tuple[float, ...]) -> tuple[Listening | None, str]:
    """(what is heard, ""), or (None, the reason in words): a run that is too short for it still has its results."""
    from fdtd.listening.study import ListeningError, listen

    try:
        return listen(result, tones), ""
    except ListeningError as error:
        return None, str(error)
