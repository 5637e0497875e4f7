"""What is heard in runs of damped sinusoids, against closed forms and against the analysis functions themselves."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from fdtd.analysis.evenness import seat_evenness
from fdtd.analysis.response import level_db
from fdtd.analysis.weighting import pink_noise_reading
from fdtd.listening.study import CutShort, ListeningError, listen
from listening.damped_runs import DENSITY, Mode, cut_short, faded, run_of, seats

NAN = float("nan")


def test_a_single_mode_has_its_closed_form() -> None:
    """A tone on a mode of decay time T falls by 60 t/T dB, from where the fade leaves it."""
    mode = Mode(52.0, 0.9)
    audible = listen(run_of({"only": [mode]}), (52.0,))
    (one,) = audible.variants
    assert one.resonances.frequency == pytest.approx([52.0], abs=0.01)
    assert one.resonances.decay_time == pytest.approx([0.9], rel=0.01)
    # A tone of the mode's own frequency: a |shape| over the free field, omega rho/(4 pi).
    level = 20.0 * np.log10(3e4 * abs(mode.shape(52.0)) / (0.5 * 52.0 * DENSITY))
    assert one.seat_level[0] == pytest.approx([level], abs=0.1)
    tone = int(np.argmin(np.abs(audible.tones - 52.0)))
    assert audible.tones[tone] == pytest.approx(52.0, abs=0.01)
    times = [(drop + faded(0.9)) * 0.9 / 60.0 for drop in (20.0, 30.0, 40.0)]
    assert one.figures.time_to[0, tone] == pytest.approx(times, rel=0.01)
    assert one.figures.left[0, tone] == pytest.approx([faded(0.9) - 60.0 * t / 0.9 for t in (0.1, 0.2, 0.3)], rel=0.01)


def test_decays_by_band_are_those_of_the_mode() -> None:
    audible = listen(run_of({"only": [Mode(52.0, 0.9)]}))
    band = next(one for one in audible.variants[0].decays[0] if one.band.name == "50")
    assert not band.ringing
    assert band.times.t20.seconds == pytest.approx(0.9, rel=0.02)


def test_readings_and_evenness_are_those_of_the_analysis() -> None:
    result = run_of({"only": [Mode(40.0, 0.6, seats(3e4, 1e4)), Mode(70.0, 0.5, seats(-1e4, 2e4))]}, ("sofa", "desk"))
    (one,) = listen(result).variants
    level = level_db(result.variants[0].transfer[0], result.frequency, DENSITY)
    for k, letter in enumerate("ZAC"):
        expected = pink_noise_reading(level, result.frequency, 20.0, 160.0, letter)  # type: ignore[arg-type]
        assert one.readings[:, k] == pytest.approx(expected)
    assert one.evenness == seat_evenness(level, result.frequency)


def test_resonances_are_followed_from_off_to_on() -> None:
    off = [Mode(34.6, 0.92), Mode(60.0, 0.5)]
    on = [Mode(34.8, 0.41), Mode(60.0, 0.5)]
    listening = listen(run_of({"off": off, "on": on}))
    assert [f.numbers for f in listening.followed] == [(0, 0), (1, 1)]
    assert listening.variants[1].resonances.decay_time == pytest.approx([0.41, 0.5], rel=0.01)
    # 34.6 Hz lies between 32 Hz (0.85 s) and 100 Hz (0.2 s): Stephenson, PhD thesis, Salford 2012, abstract.
    assert list(listening.variants[0].audible) == [True, True]
    assert list(listening.variants[1].audible) == [False, True]


def test_a_seat_that_the_first_variant_lacks_is_compared_with_the_next() -> None:
    modes = [Mode(52.0, 0.9, seats(3e4, NAN))], [Mode(52.0, 0.9, seats(3e4, 1e4))], [Mode(52.0, 0.6, seats(3e4, 1e4))]
    audible = listen(run_of(dict(zip("abc", modes, strict=True)), ("sofa", "desk")))
    assert [audible.first_with(seat) for seat in (0, 1)] == [0, 1]
    a, b, c = audible.variants
    tone = int(np.argmin(np.abs(audible.tones - 52.0)))
    assert np.isnan(a.figures.left[1]).all() and np.isnan(a.readings[1]).all() and a.decays[1] == ()
    assert a.evenness is None and b.evenness is not None
    assert b.figures.time_to[1, tone, 1] == pytest.approx((30.0 + faded(0.9)) * 0.9 / 60.0, rel=0.01)
    # c: 20 lg(0.6/0.9) = -3.5 dB quieter from the start, then 100 dB a second.
    level = 20.0 * np.log10(0.6 / 0.9) + faded(0.6)
    assert c.figures.time_to[1, tone, 1] == pytest.approx((30.0 + level) / 100.0, rel=0.01)
    assert np.array_equal(audible.reference[1], b.tail.steady[1])
    assert [f.numbers for f in audible.followed] == [(0, 0, 0)]


def test_a_source_that_a_variant_lacks_is_left_out() -> None:
    both, alone = ((3e4,), (3e4,)), ((3e4,), (NAN,))
    audible = listen(
        run_of({"both": [Mode(52.0, 0.9, both)], "one": [Mode(52.0, 0.9, alone)]}, sources=("left", "right"))
    )
    two, one = audible.variants
    assert float(two.seat_level[0, 0] - one.seat_level[0, 0]) == pytest.approx(20.0 * np.log10(2.0), abs=0.05)
    assert audible.followed[0].numbers == (0, 0)


def test_a_variant_without_any_response_is_said_of_as_nothing() -> None:
    audible = listen(run_of({"full": [Mode(52.0, 0.9)], "empty": [Mode(52.0, 0.9, ((NAN,),))]}))
    assert len(audible.variants[1].resonances.frequency) == 0
    assert np.isnan(audible.variants[1].readings).all()
    assert audible.followed[0].numbers == (0, None)


def test_the_band_ends_below_the_highest_frequency() -> None:
    audible = listen(run_of({"only": [Mode(52.0, 0.9)]}, top=100.0))
    assert audible.high == 80.0
    assert audible.tones.max() <= 80.0 and audible.variants[0].decays[0][-1].band.name == "80"


def test_a_tail_is_not_taken_for_silent_where_the_record_ends() -> None:
    """Responses of 4 s, an eighth of them before time zero: a tone of 9 s decay is not 40 dB down within 3.5 s."""
    audible = listen(run_of({"only": [Mode(52.0, 9.0)]}), (52.0,))
    assert audible.variants[0].tail.time[-1] <= 3.5
    tone = int(np.argmin(np.abs(audible.tones - 52.0)))
    assert not audible.variants[0].figures.time_to[0, tone, 2] < 3.0


def test_a_run_that_is_too_short_is_refused_in_words() -> None:
    result = run_of({"only": [Mode(52.0, 0.9)]})
    short = dataclasses.replace(
        result, time=result.time[:20], variants=(dataclasses.replace(result.variants[0], impulse=np.zeros((1, 1, 20))),)
    )
    with pytest.raises(ListeningError, match="cannot be worked out from this run: .* needs a record of at least"):
        listen(short)


def test_a_simulation_that_was_cut_short_is_fitted_up_to_its_end_and_its_decays_are_not_said() -> None:
    """0.5 s of a decay of 2.0 s is 15 dB: the silence put behind it must not pass for a decay."""
    room = {"only": [Mode(34.6, 2.0), Mode(71.0, 0.8)]}
    (one,) = listen(cut_short(run_of(room), room, 0.5, 15.0)).variants
    assert one.resonances.frequency == pytest.approx([34.6, 71.0], abs=0.05)
    assert one.resonances.decay_time == pytest.approx([2.0, 0.8], rel=0.02)
    assert one.too_short == CutShort(0.5, 15.0)
    assert np.isnan(one.tail.envelope).all() and np.isnan(one.figures.time_to).all()
    assert np.isfinite(one.tail.steady).all()
    for band in one.decays[0]:
        assert np.isnan(band.times.t20.seconds) and band.times.t20.reason == "simulation too short" and band.ringing


def test_a_simulation_that_was_long_enough_is_said_no_further_than_it_went() -> None:
    room = {"only": [Mode(52.0, 0.9)]}
    (one,) = listen(cut_short(run_of(room), room, 0.8, 53.0)).variants
    assert one.too_short is None and one.tail.time[-1] == pytest.approx(0.8)
    assert one.resonances.decay_time == pytest.approx([0.9], rel=0.01)


def test_much_too_short_a_run_is_refused_by_its_duration() -> None:
    result = run_of({"only": [Mode(52.0, 0.9)]})
    short = dataclasses.replace(result, variants=(dataclasses.replace(result.variants[0], duration=0.1),))
    with pytest.raises(ListeningError, match="it has 0.1 s of sound"):
        listen(short)


def test_meter_readings_of_tones() -> None:
    """At 63 Hz A weighs -26.2 dB and C -0.8 dB (IEC 61672-1:2013 table 3)."""
    audible = listen(run_of({"only": [Mode(40.0, 0.6, seats(3e4, NAN))]}, ("sofa", "desk")), (63.0957,))
    (one,) = audible.variants
    tone = int(np.argmin(np.abs(audible.tones - 63.0957)))
    z, a, c = one.tone_readings[0, tone]
    assert (a - z, c - z) == pytest.approx((-26.2, -0.8), abs=0.05)
    assert np.isnan(one.tone_readings[1]).all()
    assert z == pytest.approx(level_db(one.tail.steady, audible.tones, DENSITY)[0, tone])
