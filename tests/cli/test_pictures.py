"""Every command that draws takes --theme and --width, and leaves words in its figures and beside them."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from unit_scene import SCENE

Command = Callable[..., int]


@pytest.fixture
def scene_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    Path("units.toml").write_text(SCENE, encoding="utf-8")
    return "units.toml"


@pytest.mark.parametrize(
    "arguments", [("check", "--grid", "0.4"), ("surface",), ("modes", "--grid", "0.4", "--count", "3")]
)
def test_figures_have_theme_width_and_words(scene_file: str, fdtd: Command, arguments: tuple[str, ...]) -> None:
    name, *options = arguments
    assert fdtd(name, scene_file, *options, "--theme", "dark", "--width", "column", "--out", "here") == 0
    pictures = sorted(Path("here").glob("*.png"))
    assert pictures
    captions = Path("here/captions.txt").read_text("utf-8")
    for path in pictures:
        with Image.open(path) as picture:
            told = picture.text  # type: ignore[attr-defined]
            assert picture.width == pytest.approx(8.5 / 2.54 * 300, abs=1)
            assert max(picture.convert("RGB").getpixel((2, picture.height - 3))) < 60  # type: ignore[type-var,arg-type]
        assert told["Title"] and told["Description"] and "fdtd" in told["Comment"]
        assert f"{path.stem}.png, {path.stem}.svg\n" in captions
        svg = path.with_suffix(".svg").read_text("utf-8")
        assert re.search(r"<title [^>]*>[^<]+</title>", svg) and re.search(r"<desc [^>]*>[^<]+</desc>", svg)


@pytest.mark.parametrize("name", ["check", "surface", "modes", "sources", "partitions"])
def test_wrong_looks_are_refused_at_once(
    scene_file: str, fdtd: Command, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    more = ("--sheet", "x") if name == "partitions" else ()
    for option, wrong in (("--theme", "pink"), ("--width", "9")):
        assert fdtd(name, scene_file, *more, option, wrong) == 2
        assert f"{option}: found '{wrong}'" in capsys.readouterr().err
    assert not Path("units-results").exists()
