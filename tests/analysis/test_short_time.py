"""Time-frequency pictures: window, resolution, and the decay picture as a tail."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.analysis.short_time import decay_picture, short_time_spectra
from fdtd.analysis.tail import tail_of_impulse

RATE = 2000.0
TIME = np.arange(6000) / RATE
DELTA = 3 * np.log(10.0) / 0.8
MODE = np.exp(-DELTA * TIME) * np.sin(2 * np.pi * 50.0 * TIME)


def test_levels_fall_at_the_rate_of_the_mode() -> None:
    picture = short_time_spectra(MODE, RATE, [50.0], [0.3, 0.7], 0.2)
    level = picture.level_db()[0]
    assert level[1] - level[0] == pytest.approx(-60.0 * 0.4 / 0.8, abs=0.1)
    assert picture.window == "Hann, centred" and picture.window_length == pytest.approx(0.2)


def test_resolution_is_the_half_power_width() -> None:
    tone = np.cos(2 * np.pi * 80.0 * TIME)
    wide = short_time_spectra(tone, RATE, [80.0], [1.5], 0.2)
    half = wide.resolution / 2.0
    found = short_time_spectra(tone, RATE, [80.0, 80.0 - half, 80.0 + half], [1.5], 0.2).level_db()[:, 0]
    np.testing.assert_allclose(found[1:], -3.01, atol=0.1)
    # A Hann window's mean is 1/2, a cosine's amplitude at one frequency 1/2: 0.2 s / 4.
    assert wide.magnitude[0, 0] == pytest.approx(0.05, rel=0.01)


def test_a_click_is_where_it_is() -> None:
    click = np.zeros((2, 4000))
    click[1, 1000] = RATE  # unit area at 0.5 s
    picture = short_time_spectra(click, RATE, [30.0, 90.0], [0.35, 0.45, 0.5, 0.55, 0.65], 0.2)
    assert picture.magnitude.shape == (2, 2, 5)
    np.testing.assert_allclose(picture.magnitude[1], [[0.0, 0.5, 1.0, 0.5, 0.0]] * 2, atol=1e-12)
    assert (picture.level_db(1.0)[0] == -200.0).all()
    with pytest.raises(ValueError, match="two samples or more"):
        short_time_spectra(click, RATE, [30.0], [0.5], 1e-4)


def test_the_decay_picture_is_the_tail_of_every_tone() -> None:
    tones, when = np.array([40.0, 50.0, 63.0]), np.arange(0.0, 0.5, 0.01)
    tail = tail_of_impulse(MODE, RATE, tones, when)
    np.testing.assert_array_equal(decay_picture(MODE, RATE, tones, when).envelope, tail.envelope)
    almost = decay_picture(MODE, RATE, tones, when, rise=1e-6)
    np.testing.assert_allclose(almost.envelope, tail.envelope, atol=0.02 * tail.steady.max())


def test_a_slow_rise_is_smoother_and_decays_as_fast() -> None:
    when = np.arange(0.0, 0.5, 0.002)
    sharp, soft = (decay_picture(MODE, RATE, [56.0], when, rise).level_db()[0] for rise in (0.0, 0.05))
    straight = -60.0 / 0.8 * when
    assert np.std(soft - straight) < 0.3 * np.std(sharp - straight)
    assert np.polyfit(when, soft, 1)[0] == pytest.approx(-75.0, rel=0.02)
