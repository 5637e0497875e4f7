"""The worst note at each seat: what stands out most there, how long it rings, and what a change does to it.

A mean over frequency can improve while the note that everybody complains about stays as it is, so it is looked at by
itself. A note is a twelfth of an octave wide (ours), so that no single frequency decides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.smoothing import smoothed_levels
from fdtd.placement.objectives import BAND, SMALLEST, make_axis, objectives
from fdtd.placement.steps import gained
from fdtd.placement.study import Design, SearchInput, design_response
from fdtd.results.placement_record import WorstNote
from fdtd.study.clearly_worse import stands_out_more

NOTES = 12.0
"""Notes in an octave."""
HALF_NOTE = 2.0 ** (0.5 / NOTES)
"""Factor on its frequency up to which a note reaches."""
HALF_WIDE = 2.0 ** (1.0 / 6.0)
"""The same for its decay: a third of an octave, as for `placement.objectives` (a resonance may move a little)."""


def worst_notes(
    frequency: NDArray[np.float64], before: NDArray[np.complex128], after: NDArray[np.complex128]
) -> tuple[WorstNote, ...]:
    """One for each seat; frequency : (F,) Hz, rising; before, after : (F, seat) responses on any one scale."""
    inside = (frequency >= BAND[0] - 1e-9) & (frequency <= BAND[1] + 1e-9)
    axis = make_axis(frequency[inside], np.ones(before.shape[1]))
    change = gained(*(objectives(response[inside], axis) for response in (before, after)))
    old, new = (_level(frequency, response)[inside] for response in (before, after))
    mean, mean_after = axis.weight @ old, axis.weight @ new
    found = []
    for seat in range(before.shape[1]):
        k = int(np.argmax(old[:, seat]))
        note = float(frequency[inside][k])
        near = (frequency[inside] >= note / HALF_NOTE) & (frequency[inside] <= note * HALF_NOTE)
        decays = (_decay(frequency, before[:, seat], note), _decay(frequency, after[:, seat], note))
        peaks = (float(old[k, seat] - mean[seat]), float(new[near, seat].max() - mean[seat]))
        levels, means = np.stack([old[:, seat], new[:, seat]], 1), np.array([mean[seat], mean_after[seat]])
        more = stands_out_more(levels, means)
        risen = (float(frequency[inside][np.argmax(more)]), float(more.max()))
        at_seat = (float(change.ringing_at[seat]), float(change.uneven_at[seat]))
        found.append(WorstNote(seat, note, *peaks, *decays, *risen, *at_seat))
    return tuple(found)


def worst_notes_with(given: SearchInput, design: Design) -> tuple[WorstNote, ...]:
    """What the units of `design` do to the worst note of each seat that counts."""
    found = worst_notes(given.frequency, given.untreated, design_response(given, design))
    return tuple(note for note in found if given.weights[note.seat] > 0.0)


def _level(frequency: NDArray[np.float64], response: NDArray[np.complex128]) -> NDArray[np.float64]:
    """(F, seat) dB, smoothed over a note."""
    level = 20.0 * np.log10(np.maximum(np.abs(response), 1e-15))
    return smoothed_levels(level.T, frequency, NOTES).T


def _decay(frequency: NDArray[np.float64], response: NDArray[np.complex128], note: float) -> float:
    """s for 60 dB, from the slope of the response about `note` (see `placement.objectives`)."""
    near = (frequency >= note / HALF_WIDE) & (frequency <= note * HALF_WIDE)
    f, h = frequency[near], response[near]
    slope = np.sum(np.abs(np.diff(h)) ** 2 / np.diff(2.0 * np.pi * f))
    energy = np.sum(0.5 * (np.abs(h[1:]) ** 2 + np.abs(h[:-1]) ** 2) * np.diff(2.0 * np.pi * f))
    return float(3.0 * np.log(10.0) * np.sqrt(slope / max(energy, SMALLEST)))
