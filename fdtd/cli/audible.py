"""Why the audibility figures of a run are missing."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fdtd.listening.study import Listening


def reasons(listening: Listening | None, reason: str) -> list[str]:
    """Why some audibility figures are missing, in words: `reason`, or a run that was too short."""
    if listening is None:
        return [f"Note: {reason}."]
    from fdtd.wording.endings import too_short_text
    from fdtd.wording.names import on_screen

    short = ((variant.name, variant.too_short) for variant in listening.variants)
    return [f"Note: {on_screen(too_short_text(name, cut))}." for name, cut in short if cut]
