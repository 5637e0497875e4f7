"""What becomes of the worst note at each seat, in sentences; and size words, the same wherever a size is named."""

from __future__ import annotations

from collections.abc import Sequence

from fdtd.listening.changes import LEVEL_JND
from fdtd.placement.steps import AUDIBLE_DECAY, AUDIBLE_EVENNESS
from fdtd.results.placement_record import WorstNote
from fdtd.study.clearly_worse import CLEAR_LEVEL
from fdtd.wording.letters import faster, listed, louder, more_even
from fdtd.wording.names import named

MOST_SEATS = 3
"""Seats whose worst note is in the first lines."""
SIZES = ((1.0, "not audible"), (2.0, "just audible"), (6.0, "clear"), (float("inf"), "large"))
"""Just noticeable differences below which a change has each name; the steps are ours."""


def size_text(differences: float) -> str:
    """How large a change of so many just noticeable differences is."""
    return next(name for limit, name in SIZES if abs(differences) < limit)


def harm_lines(notes: Sequence[WorstNote], seats: Sequence[str]) -> list[str]:
    """A sentence for each seat that the change makes audibly worse, on the whole or at one note."""
    lines = []
    for note in notes:
        parts = [f"resonances decay {faster(note.shorter)}"] if note.shorter <= -AUDIBLE_DECAY else []
        parts += [f"the level is {more_even(note.more_even)}"] if note.more_even <= -AUDIBLE_EVENNESS else []
        parts += [f"{note.risen:.0f} Hz stands out {note.rise:.0f} dB more"] if note.rise >= CLEAR_LEVEL else []
        if parts:
            lines.append(f"BUT it is worse at {named(seats[note.seat])}: {listed(parts)}.")
    return lines


def worst_note_lines(notes: Sequence[WorstNote], seats: Sequence[str]) -> list[str]:
    """A sentence for each seat: its worst note, and what the change does to it."""
    lines = []
    for note in notes:
        shorter = 1.0 - note.decay_after / note.decay_before
        levels, decays = note.louder / LEVEL_JND, shorter / AUDIBLE_DECAY
        size = size_text(max(abs(levels), abs(decays)))
        what = f"The worst note at {named(seats[note.seat])}, {note.frequency:.0f} Hz,"
        head = f"{what} stands {note.before:.0f} dB above the mean level there"
        if size == "not audible":
            lines.append(f"{head}: it stays as it is.")
            continue
        parts = [f"becomes {louder(note.louder)}"] if abs(levels) >= 1.0 else []
        parts += [f"decays {faster(shorter)}"] if abs(decays) >= 1.0 else []
        lines.append(f"{head}: it {' and '.join(parts)} ({size}).")
    return lines
