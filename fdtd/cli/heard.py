"""What is heard in a run, or why that is not known."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fdtd.listening.study import Listening
    from fdtd.results.result import RunResult


def reasons(listening: Listening | None, reason: str) -> list[str]:
    """In words why something of what is heard is missing: `reason`, or a march that was too short."""
    if listening is None:
        return [f"Note: {reason}."]
    return [f"Note: {variant.too_short}." for variant in listening.variants if variant.too_short]


def heard_in(result: RunResult, tones: tuple[float, ...]) -> tuple[Listening | None, str]:
    """(what is heard, ""), or (None, the reason in words): a run that is too short for it still has its results."""
    from fdtd.listening.study import ListeningError, listen

    try:
        return listen(result, tones), ""
    except ListeningError as error:
        return None, str(error)
