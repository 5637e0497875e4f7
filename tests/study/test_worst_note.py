"""The worst note of a seat. Set-up: sums of resonances with known height and decay; exact: those values.

One resonance with decay rate d has |H| = A/|d + j(w - w0)| and T = 6.91/d (Kuttruff, Room Acoustics, ch. 3).
Tolerances: the note is a twelfth of an octave wide, which lowers a narrow peak; the decay counts between T/sqrt(2) and
T.
"""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.results.placement_record import WorstNote
from fdtd.study.worst_note import worst_notes
from fdtd.wording.worst_notes import harm_lines, size_text, worst_note_lines

FREQUENCY = np.arange(15.0, 165.1, 0.25)


def resonances(*peaks: tuple[float, float, float], floor: float = 0.3) -> np.ndarray:
    """peaks : (Hz, height, s for 60 dB)."""
    omega = 2.0 * np.pi * FREQUENCY
    total = np.full(len(FREQUENCY), floor, dtype=complex)
    for frequency, height, decay in peaks:
        rate = 3.0 * np.log(10.0) / decay
        total += height * rate / (rate + 1j * (omega - 2.0 * np.pi * frequency))
    return total


def test_the_note_that_stands_out_most_is_found_with_its_decay() -> None:
    before = np.stack(
        [resonances((40.0, 4.0, 1.2), (90.0, 2.0, 0.8)), resonances((40.0, 1.0, 1.2), (90.0, 3.0, 0.8))], 1
    )
    first, second = worst_notes(FREQUENCY, before, before)
    assert (first.frequency, second.frequency) == (pytest.approx(40.0, abs=0.5), pytest.approx(90.0, abs=0.8))
    assert 1.2 / np.sqrt(2.0) * 0.9 < first.decay_before < 1.2
    assert first.louder == pytest.approx(0.0, abs=0.1) and first.before > 10.0


def test_a_change_elsewhere_leaves_the_worst_note_as_it_is() -> None:
    before = resonances((27.0, 6.0, 1.5), (140.0, 1.5, 1.0))[:, None]
    after = resonances((27.0, 6.0, 1.5), (140.0, 0.5, 0.3))[:, None]
    (note,) = worst_notes(FREQUENCY, before, after)
    assert note.frequency == pytest.approx(27.0, abs=0.5) and abs(note.louder) < 0.2
    (line,) = worst_note_lines([note], ["sofa"])
    assert "27 Hz" in line and line.endswith("it stays as it is.")


def test_half_the_height_and_half_the_decay_are_said() -> None:
    before, after = resonances((50.0, 6.0, 1.6))[:, None], resonances((50.0, 3.0, 0.8))[:, None]
    (note,) = worst_notes(FREQUENCY, before, after)
    assert note.louder == pytest.approx(-20.0 * np.log10(2.0), abs=2.0)
    assert note.decay_after / note.decay_before == pytest.approx(0.5, abs=0.12)
    (line,) = worst_note_lines([note], ["sofa"])
    assert "dB quieter" in line and "faster (large)" in line


@pytest.mark.parametrize(
    ("differences", "name"), [(0.9, "not audible"), (-1.5, "just audible"), (3.0, "clear"), (-9.0, "large")]
)
def test_sizes(differences: float, name: str) -> None:
    """1 dB of level and 5 % of decay are one just noticeable difference (ISO 3382-1:2009, table A.1)."""
    assert size_text(differences) == name
    note = WorstNote(0, 40.0, 12.0, 12.0 + differences, 1.0, 1.0, 60.0, 0.0, 0.0, 0.0)
    (line,) = worst_note_lines([note], ["sofa"])
    assert (name in line) is (name != "not audible")


def test_a_seat_that_gets_worse_is_said() -> None:
    """A note of 33 Hz comes up at the second seat: from the floor of 0.3 to a height of 4, with 2 s."""
    before = np.stack([resonances((50.0, 4.0, 1.2)), resonances((80.0, 1.0, 0.4))], 1)
    after = np.stack([resonances((50.0, 2.0, 0.6)), resonances((80.0, 1.0, 0.4), (33.0, 4.0, 2.0))], 1)
    first, second = worst_notes(FREQUENCY, before, after)
    assert first.rise < 1.0 and first.shorter > 0.1
    assert second.risen == pytest.approx(33.0, abs=0.8) and second.rise > 6.0
    assert second.shorter < -0.05 and second.more_even < -0.5
    (line,) = harm_lines([first, second], ["sofa", "chair"])
    assert line.startswith("BUT") and "chair" in line and "33 Hz stands out" in line and "slower" in line
