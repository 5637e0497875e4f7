"""Decay times of responses with known answers."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.analysis.bands import band_at
from fdtd.analysis.decay import band_decays, decay_times, energy_decay, onset
from fdtd.analysis.noise_floor import noise_floor

RATE = 2000.0
SIXTY = 3.0 * np.log(10.0)
"""delta T for 60 dB: exp(-delta t) has T = 6.9078/delta (Kuttruff, Room Acoustics)."""


def exponential(decay: float, length: float = 3.0, rate: float = RATE) -> np.ndarray:
    return np.exp(-SIXTY / decay * np.arange(int(length * rate)) / rate)


def tone(frequency: float, decay: float, length: float = 3.0) -> np.ndarray:
    envelope = exponential(decay, length)
    return envelope * np.sin(2 * np.pi * frequency * np.arange(len(envelope)) / RATE)


def noise(level: float, count: int, seed: int = 1) -> np.ndarray:
    """`level` dB relative to a mean square of 1."""
    return 10 ** (level / 20.0) * np.random.default_rng(seed).normal(size=count)


@pytest.mark.parametrize("decay", [0.2, 0.5, 1.0, 2.5])
@pytest.mark.parametrize("length", [1.0, 3.0])
def test_an_exponential_has_its_own_decay_time_in_every_range(decay: float, length: float) -> None:
    # ISO 3382-1/-2: EDT 0 to -10, T20 -5 to -25, T30 -5 to -35 dB, extrapolated to 60 dB: all 6.9078/delta.
    curve = energy_decay(exponential(decay, length), RATE)
    times = decay_times(curve)
    for one, needed in ((times.early, 20.0), (times.t20, 35.0), (times.t30, 45.0)):
        if curve.dynamic_range >= needed:
            assert one.seconds == pytest.approx(decay, rel=1e-4)
            assert one.nonlinearity == pytest.approx(0.0, abs=1e-3)
        else:
            assert np.isnan(one.seconds) and "dynamic range" in one.reason
    # 60 dB a decay time, unless the floor of arithmetic comes first.
    assert curve.dynamic_range == pytest.approx(min(60.0 * length / decay, 300.0), abs=1.0 + 0.05 * 60 * length / decay)


def test_a_cut_response_is_made_good() -> None:
    # Cut at -36 dB: without the energy beyond the end T20 would come out 1.3 % short, and the curve would dive.
    cut = exponential(1.0, 0.6)
    curve = energy_decay(cut, RATE)
    assert not curve.noise_reached
    assert curve.dynamic_range == pytest.approx(36.0, abs=0.3)
    times = decay_times(curve)
    assert times.t20.seconds == pytest.approx(1.0, rel=2e-3)
    assert times.t30.reason == "dynamic range is 36 dB, 45 dB are needed"
    naive = np.cumsum(cut[::-1] ** 2)[::-1]
    level = 10 * np.log10(naive / naive[0])
    inside = (level <= -5) & (level >= -25)
    assert -60 / np.polyfit(np.arange(len(cut))[inside] / RATE, level[inside], 1)[0] < 0.99


@pytest.mark.parametrize("level", [-40.0, -50.0, -60.0])
@pytest.mark.parametrize("decay", [0.4, 0.8, 1.2])
def test_noise_is_found_and_taken_off(level: float, decay: float) -> None:
    clean = exponential(decay)
    dirty = np.sqrt(0.5) * clean * np.random.default_rng(3).choice([-1.0, 1.0], len(clean)) + noise(level, len(clean))
    floor = noise_floor(dirty, RATE)
    assert floor.reached
    assert 10 * np.log10(floor.power) == pytest.approx(level, abs=0.4)
    # The decay starts at -3 dB and meets the floor there:
    assert floor.crossing == pytest.approx(decay * (-3.0 - level) / 60.0, abs=0.05 * decay)
    times = decay_times(energy_decay(dirty, RATE))
    assert times.t20.seconds == pytest.approx(decay, rel=0.02)
    assert times.early.seconds == pytest.approx(decay, rel=0.03)
    if level < -50.0:
        assert times.t30.seconds == pytest.approx(decay, rel=0.03)


def test_a_beat_does_not_hide_the_floor() -> None:
    two = tone(60.0, 0.9) + tone(62.0, 0.9)
    clean, dirty = (decay_times(energy_decay(two + extra, RATE)) for extra in (0.0, noise(-60.0, len(two))))
    assert dirty.t30.seconds == pytest.approx(clean.t30.seconds, rel=0.03)
    assert abs(clean.t30.seconds / 0.9 - 1.0) > 0.1 and not clean.straight  # the beat itself bends the curve


def test_too_small_a_range_is_said() -> None:
    dirty = tone(60.0, 0.8) + noise(-30.0, 6000)
    times = decay_times(energy_decay(dirty, RATE))
    assert np.isfinite(times.early.seconds)
    assert np.isnan([times.t20.seconds, times.t30.seconds, times.curvature]).all()
    assert "35 dB are needed" in times.t20.reason and "45 dB are needed" in times.t30.reason
    assert not times.straight


def test_mere_noise_and_silence_have_no_decay() -> None:
    faint = 1e-200 * exponential(0.5)  # its squares are 0
    for response, reason in ((noise(0.0, 4000), "dynamic range"), (np.zeros(4000), "no signal"), (faint, "no signal")):
        times = decay_times(energy_decay(response, RATE))
        assert np.isnan([times.early.seconds, times.t20.seconds, times.t30.seconds]).all()
        assert reason in times.t20.reason
    growing = exponential(1.0)[::-1]
    assert np.isnan(decay_times(energy_decay(growing, RATE)).t20.seconds)
    with pytest.raises(ValueError, match="at least 20 samples"):
        energy_decay(np.ones(5), RATE)


def test_a_bent_decay_is_called_bent() -> None:
    # Two slopes, 0.3 s, and 1.5 s from -20 dB: annex B measures against the lines through the exact curve.
    time = np.arange(6000) / RATE
    energy = [np.exp(-2 * SIXTY / 0.3 * time), 0.01 * np.exp(-2 * SIXTY / 1.5 * time)]
    times = decay_times(energy_decay(np.sqrt(sum(energy)), RATE))
    exact = 10 * np.log10((0.3 * energy[0] + 1.5 * energy[1]) / (0.3 + 0.015))

    def line(bottom: float) -> tuple[float, float]:
        inside = (exact <= -5) & (exact >= bottom)
        fit = np.polyfit(time[inside], exact[inside], 1)
        rest = np.var(exact[inside] - np.polyval(fit, time[inside])) / np.var(exact[inside])
        return -60 / fit[0], 1000 * rest  # 1 - r^2 is the share of variance that the line leaves

    for one, (seconds, bend) in ((times.t20, line(-25.0)), (times.t30, line(-35.0))):
        assert one.seconds == pytest.approx(seconds, rel=5e-3)
        assert one.nonlinearity == pytest.approx(bend, rel=0.02)
    assert times.curvature == pytest.approx(100 * (line(-35.0)[0] / line(-25.0)[0] - 1), abs=1.0)
    assert not times.straight
    assert decay_times(energy_decay(exponential(0.8), RATE)).straight


@pytest.mark.parametrize("reverse", [True, False])
def test_a_long_decay_is_found_in_its_band(reverse: bool) -> None:
    [found] = band_decays(tone(63.1, 2.0, 4.0), RATE, (band_at(63.0),), reverse)
    assert not found.ringing
    assert found.bandwidth_time == pytest.approx(14.56 * 2.0, rel=0.03)
    assert found.times.t20.seconds == pytest.approx(2.0, rel=0.01)
    assert found.times.t30.seconds == pytest.approx(2.0, rel=0.01)


def test_ringing_is_said_where_the_band_is_too_narrow() -> None:
    # B T must exceed 16 forward, 4 reversed (Jacobsen 1987; Jacobsen and Rindel 1987): with third octaves at 31.5, 50
    # and 63 Hz T must exceed 2.19, 1.38, 1.10 s or 0.55, 0.35, 0.27 s.
    for name, forward, reversed_limit in ((31.5, 2.19, 0.55), (50.0, 1.38, 0.35), (63.0, 1.10, 0.27)):
        band = band_at(name)
        for reverse, limit in ((False, forward), (True, reversed_limit)):
            for decay, wanted in ((0.8 * limit, True), (1.25 * limit, False)):
                [found] = band_decays(tone(band.middle, decay, 5.0), RATE, (band,), reverse)
                assert found.ringing is wanted, (name, reverse, decay, found)


def test_reversed_filtering_changes_a_short_decay_less() -> None:
    band, response = band_at(50.0), np.concatenate([np.zeros(500), tone(50.0, 0.4)])
    forward, backward = (
        band_decays(response, RATE, (band,), reverse)[0].times.t20.seconds for reverse in (False, True)
    )
    assert backward == pytest.approx(0.4, rel=0.03)
    assert abs(forward - 0.4) > 0.05


def test_bands_are_third_octaves_unless_said() -> None:
    found = band_decays(exponential(1.0) * noise(0.0, 6000), RATE)
    assert [one.band.name for one in found] == "20 25 31.5 40 50 63 80 100 125 160 200".split()
    assert all(one.ringing for one in band_decays(np.zeros(4000), RATE))


def test_onset_is_where_sound_arrives() -> None:
    response = np.concatenate([np.full(300, 0.01), exponential(1.0)])
    assert onset(response, RATE) == pytest.approx(0.15)
    assert onset(np.zeros(10), RATE) == 0.0
