"""Tails after a tone stops, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad, trapezoid

from fdtd.analysis.impulse import impulse_of_transfer
from fdtd.analysis.tail import Tail, stepped_tones, tail_figures, tail_of_impulse, tail_times

from .tails_in_closed_form import tail_of_resonances

TONES = stepped_tones(extra=[34.6])
WHEN = tail_times(1.0)
SIXTY = 3.0 * np.log(10.0)


def damped(own: float, decay: float, rate: float = 2000.0, length: float = 4.0, amplitude: complex = 1.0) -> np.ndarray:
    t = np.arange(int(length * rate)) / rate
    return np.real(amplitude * np.exp((-SIXTY / decay + 2j * np.pi * own) * t))


def close(found: Tail, wanted: Tail, share: float) -> None:
    """Envelopes equal within `share`; in the zeros of beats, within 0.05 % of the steady state."""
    np.testing.assert_allclose(found.steady, wanted.steady, rtol=share)
    slack = share * wanted.envelope + 5e-4 * wanted.steady[:, None]
    assert (np.abs(found.envelope - wanted.envelope) / slack).max() < 1.0


def test_tones_are_twelfths_of_octaves_and_the_users_own() -> None:
    assert len(TONES) == 38 and TONES[0] == 20.0 and TONES[-1] == pytest.approx(160.0)
    assert 34.6 in TONES
    assert (stepped_tones()[1:] / stepped_tones()[:-1]) == pytest.approx(2 ** (1 / 12))


@pytest.mark.parametrize(("own", "decay"), [(34.6, 0.92), (34.6, 0.41), (70.0, 0.5), (120.0, 0.25)])
def test_a_single_mode_at_its_own_frequency_dies_at_its_own_rate(own: float, decay: float) -> None:
    # 20 log10|A| falls by 60 dB in T, so that time to -x dB is T x/60 and the level after t is -60 t/T. The pole at
    # -omega, delta/(2 omega) of the other, makes it ripple: by delta/omega at most between two times, 1/omega in time.
    tail = tail_of_impulse(damped(own, decay), 2000.0, own, WHEN)
    figures = tail_figures(tail)
    omega, delta = 2 * np.pi * own, SIXTY / decay
    np.testing.assert_allclose(figures.time_to[0], decay * np.array([20.0, 30.0, 40.0]) / 60.0, atol=1 / omega)
    ripple = 20 * np.log10(np.e) * delta / omega
    np.testing.assert_allclose(figures.left[0], -60.0 * np.array([0.1, 0.2, 0.3]) / decay, atol=ripple)
    # Both poles by hand: 1/(2 delta) + 1/(2 (delta + 2 j omega)).
    assert tail.steady[0] == pytest.approx(abs(0.5 / delta + 0.5 / (delta + 2j * omega)), rel=1e-3)
    exact = tail_figures(tail_of_resonances(own, delta, 1.0, own, WHEN))
    np.testing.assert_allclose(figures.time_to, exact.time_to, rtol=1e-3)
    np.testing.assert_allclose(figures.left, exact.left, atol=0.01)


@pytest.mark.parametrize("rate", [1000.0, 2000.0, 6123.0])
@pytest.mark.parametrize("length", [None, 0.15, 0.6])
def test_sampled_and_closed_form_agree_within_1_percent(rate: float, length: float | None) -> None:
    own, decay, amplitude = (
        np.array([34.6, 61.0, 118.0]),
        np.array([0.92, 0.5, 0.3]),
        np.array([1.0, -0.7j, 0.4 + 0.3j]),
    )
    impulse = sum(damped(f, t, rate, 4.0, a) for f, t, a in zip(own, decay, amplitude, strict=True))
    found = tail_of_impulse(impulse, rate, TONES, WHEN, length)
    wanted = tail_of_resonances(own, SIXTY / decay, amplitude, TONES, WHEN, length)
    close(found, wanted, 0.01)
    for one, other in zip(
        (tail_figures(found).time_to, tail_figures(found).left),
        (tail_figures(wanted).time_to, tail_figures(wanted).left),
        strict=True,
    ):
        np.testing.assert_allclose(one, other, rtol=0.01, atol=0.02)


def test_the_closed_form_is_the_integral() -> None:
    own, rate, tone, length = 41.0, 9.0, 37.0, 0.3
    for t in (0.0, 0.123):
        value = sum(
            unit
            * quad(
                lambda u, part=part: np.exp(-rate * u) * np.cos(2 * np.pi * own * u + 0.4) * part(2 * np.pi * tone * u),
                t,
                t + length,
                limit=400,
            )[0]
            for part, unit in ((np.cos, 1.0), (np.sin, -1j))
        )
        found = tail_of_resonances(own, rate, np.exp(0.4j), tone, np.array([t]), length)
        assert found.envelope[0, 0] == pytest.approx(abs(value), rel=1e-9)


def test_the_envelope_is_that_of_a_tone_simulated_through_the_response() -> None:
    # The definition itself: convolve cosine and sine that stop at 0, and take the root of the summed squares.
    rate, tone = 4000.0, 52.0
    impulse = damped(47.0, 0.6, rate, 1.5, -1j)  # starts from 0: the plain sum has no end error
    time = np.arange(-int(2.0 * rate), 1) / rate
    parts = [np.convolve(part(2 * np.pi * tone * time), impulse) / rate for part in (np.cos, np.sin)]
    after = np.hypot(*parts)[len(time) - 1 :][: int(0.3 * rate)]
    found = tail_of_impulse(impulse, rate, tone, np.arange(len(after)) / rate)
    np.testing.assert_allclose(found.envelope[0], after, rtol=2e-3, atol=0.006 * found.steady[0])  # half a sample


def test_a_long_tone_starts_from_the_transfer_function() -> None:
    impulse = np.stack([damped(40.0, 0.5, amplitude=-1j), damped(80.0, 0.3, amplitude=-1j)])
    tail = tail_of_impulse(impulse, 2000.0, TONES, WHEN)
    assert tail.envelope.shape == (2, len(TONES), len(WHEN))
    s = 2j * np.pi * TONES[:, None]
    pole = np.array([-SIXTY / 0.5 + 80j * np.pi, -SIXTY / 0.3 + 160j * np.pi])
    transfer = (pole.imag / ((s - pole) * (s - pole.conj()))).T  # transform of exp(-delta t) sin(omega t)
    np.testing.assert_allclose(tail.steady, np.abs(transfer), rtol=2e-3)
    np.testing.assert_allclose(tail.level_db()[..., 0], 0.0, atol=1e-9)


def test_the_reference_moves_the_picture_and_the_figures() -> None:
    off = tail_of_resonances([34.6], [SIXTY / 0.92], [1.0], TONES, WHEN)
    on = tail_of_resonances([34.6], [SIXTY / 0.41], [1.0], TONES, WHEN)
    np.testing.assert_allclose(
        on.level_db(off.steady), on.level_db() + 20 * np.log10(on.steady / off.steady)[:, None], atol=1e-9
    )
    at = list(TONES).index(34.6)
    own, common = tail_figures(on).time_to[at, 0], tail_figures(on, off.steady).time_to[at, 0]
    # On is 20 log10(0.92/0.41) = 7.0 dB quieter from the start: that much less to fall.
    assert own == pytest.approx(0.41 / 3.0, rel=0.04)
    assert common == pytest.approx(0.41 * (20.0 - 20.0 * np.log10(0.92 / 0.41)) / 60.0, rel=0.04)


def test_a_beat_counts_until_it_stays_below() -> None:
    tail = tail_of_resonances([50.0, 53.0], [4.0, 4.0], [1.0, 1.0], 51.5, WHEN)
    level, limit = tail.level_db()[0], -20.0
    figures = tail_figures(tail)
    first = WHEN[np.argmax(level < limit)]
    assert figures.time_to[0, 0] > first + 0.1
    assert (level[WHEN > figures.time_to[0, 0]] < limit).all()


def test_what_does_not_happen_in_the_record_is_nan() -> None:
    short = tail_of_resonances([40.0], [SIXTY / 3.0], [1.0], 40.0, tail_times(0.25))
    figures = tail_figures(short)
    assert np.isnan(figures.time_to).all()
    assert np.isfinite(figures.left[0, :2]).all() and np.isnan(figures.left[0, 2])
    assert tail_figures(short, [1e6]).time_to[0, 0] == 0.0


def test_what_is_not_known_stays_unknown() -> None:
    envelope = np.full((1, len(WHEN)), np.nan)
    figures = tail_figures(Tail(np.array([40.0]), WHEN, envelope, np.ones(1)))
    assert np.isnan(figures.time_to).all() and np.isnan(figures.left).all()


def test_silence_is_silent() -> None:
    tail = tail_of_impulse(np.zeros(2000), 2000.0, [40.0], WHEN)
    assert (tail.level_db() == -200.0).all()
    late = tail_of_impulse(damped(40.0, 0.3, length=0.5), 2000.0, [40.0], WHEN)
    assert (late.envelope[0, WHEN > 0.5] == 0.0).all()


def test_a_transfer_function_gives_the_same_tail() -> None:
    frequency = np.arange(10.0, 260.01, 0.25)
    own, rates, amplitude = [34.6, 61.0, 118.0], SIXTY / np.array([0.9, 0.5, 0.3]), np.array([-1j, 0.8j, -0.9j])
    s = 2j * np.pi * frequency[:, None]
    pole = -rates + 2j * np.pi * np.array(own)
    transfer = (0.5 * amplitude / (s - pole) + 0.5 * amplitude.conj() / (s - pole.conj())).sum(axis=1)
    impulse, rate, start = impulse_of_transfer(transfer, frequency)
    assert start < 0.0 and len(impulse) == pytest.approx(rate / 0.25)
    found = tail_of_impulse(impulse, rate, TONES, WHEN, start=start)
    np.testing.assert_allclose(found.steady, np.interp(TONES, frequency, np.abs(transfer)), rtol=0.01)
    wanted = tail_of_resonances(own, rates, amplitude, TONES, WHEN)
    # Far from every resonance the tail is the band limit's own ringing; at the resonances it is the room's.
    near = [int(np.argmin(np.abs(TONES - f))) for f in own]
    np.testing.assert_allclose(tail_figures(found).time_to[near], tail_figures(wanted).time_to[near], rtol=0.01)
    np.testing.assert_allclose(tail_figures(found).left[near], tail_figures(wanted).left[near], atol=0.3)


def test_bad_input_is_named() -> None:
    with pytest.raises(ValueError, match="needs 960 samples a second, found 500"):
        tail_of_impulse(np.ones(100), 500.0, [160.0], WHEN)
    with pytest.raises(ValueError, match="above 0 s, found 0"):
        tail_of_impulse(np.ones(100), 2000.0, [160.0], WHEN, length=0.0)
    with pytest.raises(ValueError, match="must decay"):
        tail_of_resonances([40.0], [0.0], [1.0], 40.0, WHEN)
    with pytest.raises(ValueError, match="whole multiples"):
        impulse_of_transfer(np.ones(5), np.geomspace(10.0, 50.0, 5))


@pytest.mark.parametrize("length", [None, 0.6])
def test_a_faded_tone_sampled_and_in_closed_form(length: float | None) -> None:
    found = tail_of_impulse(damped(41.0, 0.8), 2000.0, [37.0, 41.0, 60.0], WHEN, length, fade=0.1)
    wanted = tail_of_resonances([41.0], [3.0 * np.log(10.0) / 0.8], [1.0], [37.0, 41.0, 60.0], WHEN, length, fade=0.1)
    loud = wanted.level_db() > -50.0
    np.testing.assert_allclose(found.envelope[loud], wanted.envelope[loud], rtol=0.01)


def test_a_fade_is_the_convolution_with_the_faded_tone() -> None:
    """Integral of h(u) g(t - u) e^(-j omega u), g the raised cosine from -F to 0, by quadrature (the definition)."""
    delta, own, tone, fade = 9.0, 41.0, 60.0, 0.1

    def integrand(u: float, t: float) -> complex:
        faded = 0.5 - 0.5 * np.cos(np.pi * min((u - t) / fade, 1.0))
        return faded * np.exp(-delta * u) * np.cos(2 * np.pi * own * u) * np.exp(-2j * np.pi * tone * u)

    t, u = 0.07, np.linspace(0.07, 3.0, 400_001)
    values = np.array([integrand(x, t) for x in u[:40_001]] + [0j])  # the fade and some beyond
    whole = trapezoid(values[:-1], u[:40_001])
    rest = np.exp(-delta * u[40_000:]) * np.cos(2 * np.pi * own * u[40_000:]) * np.exp(-2j * np.pi * tone * u[40_000:])
    exact = abs(whole + trapezoid(rest, u[40_000:]))
    found = tail_of_resonances([own], [delta], [1.0], [tone], np.array([t]), fade=fade)
    assert found.envelope[0, 0] == pytest.approx(exact, rel=1e-3)


def test_a_fade_leaves_no_click() -> None:
    """25 Hz away from a slow resonance the abrupt stop makes it ring; the fade does so by much less."""
    levels = [
        tail_of_resonances([35.0], [1.5], [1.0], [60.0], np.array([0.1]), fade=fade).level_db(1.0)[0, 0]
        for fade in (0.0, 0.1)
    ]
    assert levels[1] < levels[0] - 20.0
