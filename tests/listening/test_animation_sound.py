"""Recordings read from WAV, played through a known response, and what is written for each seat."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile

from fdtd.errors import FdtdError
from fdtd.listening.animation import Field, animation_axis, animation_spacing
from fdtd.listening.animation_audible import RATE, audible, write_audible
from fdtd.listening.animation_signals import fast_level, read_sound, sound_signal, tone_signal

SOURCE_RATE = 8000
TIME = np.arange(SOURCE_RATE) / SOURCE_RATE
SINE = 0.5 * np.sin(2.0 * np.pi * 50.0 * TIME)


@pytest.mark.parametrize("kind", ["uint8", "int16", "int32", "float32", "float64"])
@pytest.mark.parametrize("channels", [1, 2])
def test_every_kind_of_sample(tmp_path: Path, kind: str, channels: int) -> None:
    full = {"uint8": 127.0, "int16": 32767.0, "int32": 2147483647.0}.get(kind, 1.0)
    data = (SINE * full + (128.0 if kind == "uint8" else 0.0)).astype(kind)
    wavfile.write(tmp_path / "a.wav", SOURCE_RATE, np.stack([data] * channels, axis=1) if channels > 1 else data)
    sound, rate = read_sound(tmp_path / "a.wav", 10.0)
    assert rate == SOURCE_RATE
    np.testing.assert_allclose(sound, SINE, atol=0.01)


def test_24_bit(tmp_path: Path) -> None:
    data = np.round(SINE * (2**23 - 1)).astype("<i4")
    body = data.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    head = (
        b"RIFF"
        + (36 + len(body)).to_bytes(4, "little")
        + b"WAVEfmt "
        + (16).to_bytes(4, "little")
        + (1).to_bytes(2, "little")
        + (1).to_bytes(2, "little")
        + SOURCE_RATE.to_bytes(4, "little")
        + (3 * SOURCE_RATE).to_bytes(4, "little")
        + (3).to_bytes(2, "little")
        + (24).to_bytes(2, "little")
        + b"data"
        + len(body).to_bytes(4, "little")
    )
    (tmp_path / "a.wav").write_bytes(head + body)
    sound, _ = read_sound(tmp_path / "a.wav", 10.0)
    np.testing.assert_allclose(sound, SINE, atol=1e-5)


@pytest.mark.parametrize("content", [b"", b"RIFF", b"not a sound at all", b"RIFF\x24\x00\x00\x00WAVEfmt \x10\x00"])
def test_what_is_no_recording_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(content)
    with pytest.raises(FdtdError, match="--sound: .*a.wav"):
        read_sound(path, 10.0)


def test_missing_empty_cut_and_broken_ones(tmp_path: Path) -> None:
    with pytest.raises(FdtdError, match="no file"):
        read_sound(tmp_path / "none.wav", 1.0)
    with pytest.raises(FdtdError, match="folder"):
        read_sound(tmp_path, 1.0)
    wavfile.write(tmp_path / "empty.wav", 8000, np.zeros(0, np.int16))
    with pytest.raises(FdtdError, match="no sound"):
        read_sound(tmp_path / "empty.wav", 1.0)
    wavfile.write(tmp_path / "nan.wav", 8000, np.full(800, np.nan, np.float32))
    with pytest.raises(FdtdError, match="not numbers"):
        read_sound(tmp_path / "nan.wav", 1.0)
    whole = tmp_path / "whole.wav"
    wavfile.write(whole, 8000, (SINE * 30000).astype(np.int16))
    for length in range(12, 60, 3):
        (tmp_path / "cut.wav").write_bytes(whole.read_bytes()[:length])
        try:
            read_sound(tmp_path / "cut.wav", 1.0)
        except FdtdError as error:
            assert "cut.wav" in str(error)


def test_silence_and_treble_alone_are_refused() -> None:
    with pytest.raises(FdtdError, match="nothing between"):
        sound_signal(np.zeros(8000), 8000.0, 200.0, "a.wav")
    with pytest.raises(FdtdError, match="nothing between"):
        sound_signal(np.sin(2 * np.pi * 2000.0 * TIME) * np.hanning(8000) ** 2, 8000.0, 200.0, "a.wav")


def test_a_recording_of_few_samples_a_second_has_nothing_above_half_of_them() -> None:
    time = np.arange(200) / 100.0
    signal = sound_signal(0.5 * np.sin(2.0 * np.pi * 40.0 * time), 100.0, 200.0, "slow.wav")
    size = np.abs(signal.spectrum(np.arange(0.25, 200.0, 0.25)))
    assert np.argmax(size) == 159 and (size[200:] == 0.0).all()


def played(delays: tuple[float, ...], factors: tuple[float, ...]) -> tuple[list[Field], np.ndarray, float, object]:
    signal = sound_signal(SINE * np.hanning(len(SINE)), SOURCE_RATE, 200.0, "a.wav")
    frequency = animation_axis(signal, 200.0, 0.5)
    fields = []
    for delay, factor in zip(delays, factors, strict=True):
        fields.append(Field("v", (), (factor * np.exp(-2j * np.pi * frequency * delay))[None].astype(np.complex64)))
    return fields, frequency, animation_spacing(signal, 0.5), signal


def test_a_delay_and_a_factor_are_heard_as_such(tmp_path: Path) -> None:
    fields, frequency, spacing, signal = played((0.0, 0.1), (1.0, 0.25))
    first, second = (one[0] for one in audible(fields, signal, frequency, spacing, 1.5))
    shift = int(0.1 * RATE)
    np.testing.assert_allclose(second[shift:], 0.25 * first[:-shift], atol=2e-3 * np.abs(first).max())
    # The loudest moment of the bare signal has the fast level of a tone of amplitude 1.
    assert fast_level(first, RATE).max() + 10.0 * np.log10(2.0) == pytest.approx(0.0, abs=0.1)
    paths = [[tmp_path / "off.wav"], [tmp_path / "on.wav"]]
    write_audible([first[None], second[None]], paths)
    off, on = (wavfile.read(path[0])[1].astype(float) for path in paths)
    assert np.abs(off).max() == pytest.approx(0.89 * 32767, rel=0.01)
    assert np.sqrt(np.mean(on**2) / np.mean(off**2)) == pytest.approx(0.25, rel=0.01)


def test_the_spectrum_of_a_tone_is_that_of_its_samples() -> None:
    """Against the plain Fourier sum of the twice differentiated ramped sine, worked out in time."""
    signal = tone_signal(40.0, 0.5)
    step = 1e-4
    time = np.arange(0.0, 1.0, step)
    ramp = lambda u: np.clip(u, 0.0, 1.0) - np.sin(2.0 * np.pi * np.clip(u, 0.0, 1.0)) / (2.0 * np.pi)  # noqa: E731
    edge = 3.0 / 40.0
    volume = (ramp(time / edge) - ramp((time - 0.5) / edge)) * np.sin(2.0 * np.pi * 40.0 * time)
    sound = -np.gradient(np.gradient(volume, step), step) / (2.0 * np.pi * 40.0) ** 2
    frequency = np.array([5.0, 20.0, 38.0, 40.0, 41.0, 55.0])
    direct = np.array([np.sum(sound * np.exp(-2j * np.pi * f * time)) * step for f in frequency])
    np.testing.assert_allclose(signal.spectrum(frequency), direct, atol=5e-4 * np.abs(direct).max())
    assert signal.length == pytest.approx(0.5 + edge)


def test_fast_level_of_a_step_rises_with_the_time_constant() -> None:
    level = fast_level(np.ones(2000), 1000.0)
    assert level[-1] == pytest.approx(0.0, abs=0.01)
    assert 10.0 ** (level[124] / 10.0) == pytest.approx(1.0 - np.exp(-1.0), abs=0.005)  # IEC 61672-1: 125 ms
