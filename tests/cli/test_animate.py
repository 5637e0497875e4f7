"""`fdtd animate` as it is typed: options, messages, files."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile
from typer.testing import CliRunner

from fdtd.api.animation import parse_section
from fdtd.cli.app import app
from fdtd.errors import FdtdError
from fdtd.show import animation_video

SCENE = """
scene = 1
title = "Small box"

[room]
plan = [[0, 0], [3.2, 0], [3.2, 2.4], [0, 2.4]]
height = 2.2

[surfaces]
floor = "plastered masonry"
ceiling = "plastered masonry"
walls = "plastered masonry"

[run]
max_frequency = 120
grid = 0.4

[[sources]]
name = "box"
at = [0.4, 0.4, 0.3]

[[seats]]
name = "chair"
at = [2.4, 1.6, 1.1]

[[variants]]
name = "a, first"

[[variants]]
name = "<b>"
set = { "box" = { level = -6 } }
"""


@pytest.fixture
def scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "box.toml"
    path.write_text(SCENE)
    return path


def run(*words: object) -> str:
    """Output of the command, which must succeed; errors meant for the user are raised."""
    result = CliRunner().invoke(app, ["animate", *map(str, words)])
    if result.exception is not None:
        raise result.exception
    return result.output


SHORT = ("--seconds", 0.2, "--rate", 20, "--size", "320")


def test_a_pulse_in_every_format(scene: Path) -> None:
    told = run(scene, *SHORT, "--formats", "gif, webp png", "--section", "y=1", "--height", 1, "--theme", "dark")
    assert "shown 40 times slower" in told and "320 x" in told and "20 a second" in told
    folder = scene.parent / "box-results"
    assert sorted(p.name for p in folder.iterdir()) == [
        "animation-pulse-pictures",
        "animation-pulse.gif",
        "animation-pulse.webp",
    ]


def test_a_recording_is_heard_at_each_seat(scene: Path) -> None:
    time = np.arange(4000) / 8000
    wavfile.write("note.wav", 8000, np.sin(2 * np.pi * 60 * time).astype(np.float32))
    told = run(scene, *SHORT, "--sound", "note.wav", "--formats", "gif")
    assert "Caution" in told
    names = ["animation-sound-1-chair-1-a-first.wav", "animation-sound-1-chair-2-b.wav"]
    first, second = (wavfile.read(Path("box-results") / name)[1].astype(float) for name in names)
    # The second variant plays 6 dB softer, and so are the files.
    assert np.sqrt(np.mean(second**2) / np.mean(first**2)) == pytest.approx(10.0 ** (-6 / 20), rel=0.01)


def test_a_result_and_its_maps(scene: Path) -> None:
    done = CliRunner().invoke(
        app, ["run", str(scene), "--frequencies", "50,70", "--duration", "0.4", "--no-figures", "--out", "r"]
    )
    assert done.exception is None
    told = run("r/result.h5", "--steady", 50, "--seconds", 0.5, "--size", "320", "--formats", "gif")
    assert "a steady tone of 50 Hz" in told and Path("r/animation-steady-50.0hz.gif").exists()
    told = run("r/result.h5", "--tone", 50, *SHORT, "--formats", "gif", "--variants", "<b>")
    assert "50 Hz, switched off" in told and Path("r/animation-tone-50hz.gif").exists()
    with pytest.raises(FdtdError, match="no pressure map at 60 Hz; it has 50, 70"):
        run("r/result.h5", "--steady", 60)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--tone", 50, "--steady", 50), "found several"),
        (("--steady", 50, "--grid", 0.3), "--grid: does not go with --steady"),
        (("--steady", 50), "--steady: needs the result of a run"),
        (("--tone", 5), "--tone: found 5 Hz, expected 10 to 108 Hz"),
        (("--tone", 115), "--tone: found 115 Hz"),
        (("--on", 1), "--on: .* there is no --tone"),
        (("--size", "20"), "--size: found '20'"),
        (("--size", "a"), "--size: found 'a'"),
        (("--size", "640x480x3"), "--size"),
        (("--rate", 0), "--rate: found 0"),
        (("--seconds", "nan"), "--seconds: found nan"),
        (("--slow", -2), "--slow: found -2"),
        (("--formats", "avi"), "--formats: found 'avi'"),
        (("--formats", ","), "--formats: found nothing"),
        (("--theme", "blue"), "--theme: found 'blue'"),
        (("--show", "x"), "--show: found 'x'"),
        (("--height", 3), "--height: found 3 m, expected 0 to 2.2 m"),
        (("--section", "z=1"), "--section: found 'z=1'"),
        (("--section", "y=9"), "--section: found y = 9 m, expected 0 to 2.4 m"),
        (("--variants", "none"), "there is no variant 'none'; the scene has 'a, first', '<b>'"),
        (("--sound", "none.wav"), "--sound: there is no file none.wav"),
        (("--grid", 9), "--grid"),
    ],
)
def test_what_makes_no_sense_is_refused(scene: Path, words: tuple[object, ...], message: str) -> None:
    with pytest.raises(FdtdError, match=message):
        run(scene, *words)
    assert not list(scene.parent.glob("*-results/film*"))


def test_video_without_its_encoder_names_the_remedy(scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(animation_video, "encoder", lambda: None)
    with pytest.raises(FdtdError, match="pip install"):
        run(scene, *SHORT, "--formats", "mp4")
    assert "animation-pulse.webp" in run(scene, *SHORT)


def test_odd_sizes_are_made_even(scene: Path) -> None:
    assert "324 x 402 pixels" in run(scene, "--seconds", 0.1, "--rate", 20, "--size", "325x403", "--formats", "gif")


def test_sections() -> None:
    assert parse_section("y = 1.5") == (1, 1.5) and parse_section("x=-2") == (0, -2.0)
