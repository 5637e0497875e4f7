"""The sentence of a seat says what changes, in numbers that are known beforehand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fdtd.listening.changes import changes_at, quality, quality_jnd, seat_tones, strongest_followed
from fdtd.listening.study import Followed, Listening, listen
from fdtd.wording.names import on_screen
from fdtd.wording.seats import format_time, seat_sentences
from listening.damped_runs import Mode, cut_short, faded, run_of, seats

LOUD, WEAK = 3e4, 1e3


def said(variants: dict[str, list[Mode]], tones: tuple[float, ...] = (), seat: int = 0) -> list[str]:
    names = ("sofa", "desk")[: len(next(iter(variants.values()))[0].amplitude[0])]
    return [on_screen(text) for text in seat_sentences(listen(run_of(variants, names), tones), seat)]


def test_off_and_on_is_a_sentence() -> None:
    off, on = [Mode(34.6, 0.92), Mode(71.0, 0.4)], [Mode(34.6, 0.41), Mode(71.0, 0.4)]
    level = 20.0 * np.log10(0.41 / 0.92)
    # The mode alone, from the end of the fade; 20, 30 dB ... of a mode of decay T take T/3, T/2 ...
    after, before = (30.0 + level + faded(0.41)) * 0.41 / 60.0, (30.0 + faded(0.92)) * 0.92 / 60.0
    assert said({"off": off, "on": on}, (34.6,)) == [
        f"At 'sofa' the 34.6 Hz resonance decays by 60 dB in 0.41 s with 'on' instead of 0.92 s with 'off' and is "
        f"{-level:.1f} dB quieter; a 34.6 Hz tone is 30 dB down after {after:.2f} s instead of {before:.2f} s."
    ]


def test_each_variant_is_compared_with_the_first() -> None:
    room = {"off": [Mode(34.6, 0.9)], "half": [Mode(34.6, 0.5)], "full": [Mode(34.6, 0.3)]}
    sentences = said(room)
    assert ["'half'" in sentences[0], "'full'" in sentences[1], len(sentences)] == [True, True, 2]
    assert "in 0.30 s with 'full' instead of 0.90 s with 'off'" in sentences[1]


def test_what_cannot_be_heard_is_said_to_be_so() -> None:
    """0.55 and 0.50 s at 60 Hz: a Q of 15.0 and 13.6, just noticeable difference about 9 (Avis, Fazenda and Davies
    2007); 0.8 dB quieter."""
    assert said({"off": [Mode(60.0, 0.55)], "on": [Mode(60.0, 0.50)]}) == [
        "At 'sofa' no resonance from 20 to 160 Hz changes audibly with 'on' instead of 'off'."
    ]


def test_a_quieter_resonance_is_said_as_such() -> None:
    (sentence,) = said({"off": [Mode(60.0, 0.5, seats(LOUD))], "on": [Mode(60.0, 0.5, seats(0.5 * LOUD))]})
    assert sentence.startswith(
        "At 'sofa' the 60.0 Hz resonance is 6.0 dB quieter with 'on' than with 'off'; a 60.0 Hz "
    )


def test_a_resonance_that_is_gone_is_said_as_such() -> None:
    (sentence,) = said({"off": [Mode(40.0, 0.8), Mode(90.0, 0.3, seats(LOUD))], "on": [Mode(90.0, 0.3, seats(LOUD))]})
    assert "the 40.0 Hz resonance (0.80 s for 60 dB with 'off') is no longer found with 'on'" in sentence


def test_one_variant_alone() -> None:
    assert said({"only": [Mode(40.0, 0.8), Mode(90.0, 0.6)]}, (40.0,)) == [
        "At 'sofa' the 40.0 Hz resonance decays by 60 dB in 0.80 s (ringing is audible above 0.64 s); "
        f"a 40.0 Hz tone is 30 dB down after {(30.0 + faded(0.8)) * 0.8 / 60.0:.2f} s."
    ]


def test_a_weak_resonance_is_passed_over() -> None:
    """The 60 Hz mode changes twofold, but is 30 dB below the other at the first seat and as loud at the second."""
    loud = Mode(34.6, 0.6, seats(LOUD, LOUD))
    off, on = Mode(60.0, 0.8, seats(0.03 * LOUD, LOUD)), Mode(60.0, 0.4, seats(0.03 * LOUD, LOUD))
    audible = listen(run_of({"off": [loud, off], "on": [loud, on]}, ("sofa", "desk")))
    assert "no resonance" in seat_sentences(audible, 0)[0]
    assert "60.0 Hz resonance decays" in seat_sentences(audible, 1)[0]
    assert [round(one.frequency) for one in changes_at(audible, 0, 0, 1)] == [35]


def test_what_one_of_two_close_resonances_loses_and_the_other_gains_is_no_change() -> None:
    """One of the two by itself changes by more than 6 dB; no more is told than a tone at its frequency shows."""
    one, other = (Mode(f, 0.7, seats(LOUD)) for f in (60.0, 61.5))
    half = [Mode(60.0, 0.7, seats(0.4 * LOUD)), Mode(61.5, 0.7, seats(1.6 * LOUD))]
    audible = listen(run_of({"off": [one, other], "on": half}))
    first, second = audible.variants
    assert abs(second.seat_level[0] - first.seat_level[0]).max() > 6.0
    for change in changes_at(audible, 0, 0, 1):
        tone = int(np.argmin(np.abs(audible.tones - change.frequency)))
        together = 20.0 * np.log10(second.tail.steady[0, tone] / first.tail.steady[0, tone])
        assert abs(change.level_step) <= abs(together) + 1e-9


@pytest.fixture(scope="module")
def several() -> Listening:
    modes = [Mode(f, 0.4, seats(a)) for f, a in ((30.0, 1e4), (50.0, 3e4), (75.0, 2e4), (110.0, 4e4))]
    return listen(run_of({"only": modes}), (63.0,))


def test_the_strongest_are_said_by_rising_frequency(several: Listening) -> None:
    # Level at resonance goes with a T/f: 110, 50, 30, 75 Hz in this order (a/f of 364, 600, 333, 267).
    assert [round(several.variants[0].resonances.frequency[k]) for k in strongest_followed(several, 2)] == [50, 110]
    assert [round(several.tones[k]) for k in seat_tones(several, 0, 2)] == [50, 63, 110]


def test_limens_of_quality() -> None:
    """6 at 30, 10 at 10, 16 at 1: Avis, Fazenda and Davies, J. Audio Eng. Soc. 55, 2007 (values from memory)."""
    assert quality_jnd([0.5, 1.0, 10.0, 30.0, 60.0]) == pytest.approx([16.0, 16.0, 10.0, 6.0, 6.0])
    # Q = 16 is 1.1, 0.56, 0.28 s at 32, 63, 125 Hz (same paper).
    assert quality([32.0, 63.0, 125.0], [1.1, 0.56, 0.28]) == pytest.approx([16.0] * 3, rel=0.01)


def test_times_in_words() -> None:
    assert [format_time(x, 3.49) for x in (0.414, 0.994, 0.996, 2.25, float("nan"))] == [
        "0.41 s",
        "0.99 s",
        "1.0 s",
        "2.2 s",
        "more than 3.4 s",
    ]


def test_a_loud_new_resonance_is_said() -> None:
    room = {"off": [Mode(71.0, 0.4)], "on": [Mode(71.0, 0.4), Mode(35.0, 2.5)]}
    (sentence,) = said(room)
    assert "a new 35.0 Hz resonance with 'on', which takes 2.5 s to decay by 60 dB" in sentence
    assert "; a 35.0 Hz tone is 30 dB down after " in sentence


def test_what_is_only_not_resolved_is_not_said_as_heard() -> None:
    """The second variant has the same response; its 52 Hz resonance is left out of the list by hand."""
    audible = listen(run_of({"off": [Mode(52.0, 0.9), Mode(71.0, 0.4)], "on": [Mode(52.0, 0.9), Mode(71.0, 0.4)]}))
    followed = tuple(Followed((f.numbers[0], None)) if f.numbers[0] == 0 else f for f in audible.followed)
    (sentence,) = seat_sentences(replace(audible, followed=followed), 0)
    assert "no resonance from 20 to 160 Hz changes audibly" in sentence


def test_a_simulation_too_short_takes_the_place_of_the_sentence() -> None:
    room = {"off": [Mode(34.6, 2.0)], "on": [Mode(34.6, 0.5)]}
    (sentence,) = seat_sentences(listen(cut_short(run_of(room), room, 0.5, 15.0)), 0)
    assert "simulation too short" in sentence and "decays by" not in sentence


def test_a_tone_that_outlasts_the_tail_is_said_with_the_others() -> None:
    """Decays of 12 s are overlapped by a record of 4 s, so the times are put in by hand."""
    audible = listen(run_of({"off": [Mode(34.6, 0.9)], "on": [Mode(34.6, 0.5)]}))
    off = audible.variants[0]
    tone = int(np.argmin(np.abs(audible.tones - 34.6)))
    times = off.figures.time_to.copy()
    times[0, tone] = np.nan
    endless = replace(off, figures=replace(off.figures, time_to=times))
    (sentence,) = seat_sentences(replace(audible, variants=(endless, audible.variants[1])), 0)
    assert "a 34.6 Hz tone is 30 dB down after" in sentence and sentence.endswith("instead of more than 3.4 s.")
