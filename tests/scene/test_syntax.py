"""Texts that are not TOML: each slip is told on its line with what would be right, and all of them at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from fdtd.errors import SceneError
from fdtd.scene.lengths import metres
from fdtd.scene.read import read_scene, read_scene_text
from fdtd.scene.syntax import syntax_faults

from .sample import TEXT, edited, line_of

DEVICE = 'kind = "branches"'
HEIGHT, SEAT, DESK = "height = 2.5", "at = [5.0, 1.6, 1.1]", '[[seats]]\nname = "desk"'
SCENES = sorted((Path(__file__).parents[2] / "scenes").glob("*.toml"))

# (old text, new text, text on the line that must be named, words that must be in the message)
CASES = [
    (HEIGHT, "height = 2.5m", "2.5m", "lengths are in metres, without a unit: write 2.5 for 2.5m"),
    (HEIGHT, "height = 2.5 m", "2.5 m", "write 2.5 for 2.5 m"),
    (HEIGHT, "height = 250cm", "250cm", "write 2.5 for 250cm"),
    (HEIGHT, "height = 8'2\"", "8'2", "write 2.49 for 8'2\""),
    (HEIGHT, "height = 8 ft 2 in", "8 ft", "write 2.49 for 8 ft 2 in"),
    (HEIGHT, "height = 8’", "8’", "write 2.44 for 8’"),
    (SEAT, "at = [13'9\", 5 ft, 1.1]", "13'9", "write 4.19 for 13'9\", 1.52 for 5 ft"),
    ("[6.0, 0]", "[6.0m, 0]", "6.0m", "write 6 for 6.0m"),
    ("max_frequency = 160.0", "max_frequency = 160 Hz", "160 Hz", 'leave out "Hz"'),
    ("temperature = 21.0", "temperature = 21.0 °C", "21.0", 'leave out "°C"'),
    ("max_frequency = 160.0", "max_frequency = 0.2 kHz", "0.2 kHz", '"max_frequency" is in Hz: write 200 for 0.2 kHz'),
    ("duration = 1.5", "duration = 500 ms", "500 ms", '"duration" is in s: write 0.5 for'),
    ("open_fraction = 0.3", "open_fraction = 30 %", "30 %", '"open_fraction" is a pure number: write 0.3 for 30 %'),
    (DEVICE, 'kind = "helmholtz"\nneck_area = 20 cm2', "20 cm2", "is in m²: write 0.002 for"),
    (DEVICE, 'kind = "helmholtz"\nvolume = 30 l', "30 l", '"volume" is in m³: write 0.03 for'),
    (DEVICE, 'kind = "driver"\nmoving_mass = 14 g', "14 g", "is in kg: write 0.014 for 14 g"),
    (DEVICE, 'kind = "plate"\nmass = 4000 g/m^2', "4000 g", "is in kg/m²: write 4 for 4000"),
    (DEVICE, 'kind = "plate"\nmass = 4000 g', "4000 g", '"mass" is in kg/m²$'),
    (DEVICE, 'kind = "plate"\nmass = 4 mm', "4 mm", '"mass" is in kg/m²$'),
    (DEVICE, 'kind = "plate"\nmass = 4 kg/m2', "4 kg", 'leave out "kg/m2"'),
    (DEVICE, 'kind = "plate"\nweight = 4 kg', "4 kg", "in the one that the key has (docs/scene-reference.md)$"),
    (DEVICE, 'kind = "driver"\ncoil_inductance = 0,5 mH', "0,5 mH", '"coil_inductance" is in H$'),
    ("[air]", "[air]\nspeed_of_sound = 343 m/s", "343 m/s", 'leave out "m/s"'),
    (HEIGHT, "height = 2,5", "2,5", "numbers have a decimal point, not a comma: write 2.5"),
    (SEAT, "at = [5.0, 1.6, 1.1", "at = [5.0", "a bracket that is opened here is not closed"),
    ("    [0, 5.2],\n]", "    [0, 5.2],", "plan = [", "a bracket that is opened here is not closed"),
    ("[6.0, 3.1],", "[6.0, 3.1,", "[6.0, 3.1,", "a bracket that is opened here is not closed"),
    ('title = "Test room"', "title = “Test room”", "title", '“ is not a character of the format: write "'),
    ("level = -3.0", "level = −3.0", "level", "− is not a character of the format: write -"),
    (HEIGHT, "height\u00a0= 2.5", "height", "only looks like a space"),
    (DESK, DESK.replace("[[seats]]", "[seats]"), '[seats]\nname = "desk"', "write [[seats]], with two brackets"),
    (DESK, DESK.replace("[[seats]]", "[[seats]"), "[[seats]\nname", "same brackets before and behind it: write [["),
    ("[room]", "[room", "[room", "write [room]"),
    ('[materials."lining"]', '[[materials."lining"]', '[[materials."lining"]', 'write [materials."lining"]'),
    ('[materials."lining"]', "[materials.wall lining]", "[materials.wall", 'write [materials."wall lining"]'),
    ('title = "Test room"', 'title = "Test room', "title", "a quotation mark is missing"),
    ('title = "Test room"', 'title = Test room"', "title", "a quotation mark is missing"),
    ('walls = "plaster"', "walls = plaster", "walls", 'text stands in quotes: write "plaster"'),
    ("[run]", '[variants.set."x"]\ngain = 0\n[variants.set."x"]\n[run]', None, "this table is given twice"),
    (HEIGHT, "height 2.5", "height", "an equals sign is missing: write height = 2.5"),
    (HEIGHT, "height: 2.5", "height", "not a colon: write height = .."),
    ("{ gain = 0.8 }", "{ gain: 0.8 }", "set = {", "not a colon: write gain = .."),
    (HEIGHT, "height =", "height", "the value behind the equals sign is missing"),
    ("max_frequency = ", "max frequency = ", "max frequency", "or max_frequency"),
    ('"wall 2" = "rigid"', 'wall 2 = "rigid"', "wall 2 =", 'quotes around it: write "wall 2"'),
    (SEAT, "at = [5.0 1.6, 1.1]", "at = [5.0", "a comma is missing between 5.0 and 1.6"),
    (SEAT, "at = 5.0, 1.6, 1.1", "at = 5.0", "write [5.0, 1.6, 1.1]"),
    ("[6.0, 0],", "[6.0, 0]", "[6.0, 0]", "a comma is missing at the end of the line"),
    (SEAT, "at = [5.0; 1.6; 1.1]", "at = [5.0", "separated by commas, not semicolons"),
    (SEAT, "at = (5.0, 1.6, 1.1)", "at = (5.0", "square brackets"),
    ('facing = "-y", opening', 'facing = "-y" opening', "cabinet = {", "a comma is missing between two values"),
    ("{ gain = 0.8 }", "{\n gain = 0.8 }", "set = {", "what is in braces stands on one line"),
    ("grid = 0.12", "grid = .12", "grid = .12", "write 0.12"),
    ("grid = 0.12", "grid = 1.", "grid = 1.", "write 1.0"),
    ("grid = 0.12", "grid = 00.12", "grid = 00.12", "write 0.12"),
    ("grid = 0.12", "grid = 0.12 // m", "grid = 0.12", "a comment begins with #"),
    ("grid = 0.12", "grid = 0.12,", "grid = 0.12", "leave out the ,"),
    ("humidity = 45.0", "temperature = 3", "temperature = 3", "this key is given twice (first: line 6)"),
    ("[run]", "[air]\n\n[run]", None, "this table is given twice (first: line 5)"),
    ('title = "Test room"', 'title = "C:\\Users"', "title", "write a backslash inside quotes twice"),
]


@pytest.mark.parametrize(("old", "new", "place", "words"), CASES, ids=[c[1].splitlines()[0][:40] for c in CASES])
def test_a_slip_is_said_on_its_line(old: str, new: str, place: str | None, words: str) -> None:
    text = edited((old, new))
    with pytest.raises(SceneError) as caught:
        read_scene_text(text, "room.toml")
    (problem,) = caught.value.problems
    assert problem.endswith(words[:-1]) if words.endswith("$") else words in problem
    assert place is None or problem.startswith(f"room.toml, line {line_of(text, place)}: found "), problem


def test_all_slips_at_once_in_order_of_lines() -> None:
    text = edited(
        (HEIGHT, "height = 8'2\""),
        ('walls = "plaster"', "walls = plaster"),
        (SEAT, "at = [5.0 1.6, 1.1]"),
        (DESK, DESK.replace("[[seats]]", "[seats]")),
        ("grid = 0.12", "grid: 0.12"),
    )
    with pytest.raises(SceneError) as caught:
        read_scene_text(text)
    lines = [int(p.split("line ")[1].split(":")[0]) for p in caught.value.problems]
    assert lines == [line_of(text, part) for part in ("8'2", "walls = pl", "[5.0 1.6", "[seats]\n", "grid: ")]


@pytest.mark.parametrize("path", SCENES, ids=lambda p: p.stem)
def test_nothing_is_found_in_a_text_that_is_right(path: Path) -> None:
    assert syntax_faults(path.read_text(encoding="utf-8")) == []


def test_nothing_is_found_in_the_forms_that_toml_allows() -> None:
    text = (
        TEXT
        + """
"a = [" = 1e6
b = { c = [1, +2, -3.5e-3], d = 'it''' }
""".replace("'it'''", "'it: 2 m, “x” # y'")
        + '''
e = """
height 2.5m
[room
"""
f = [
  "x", # 3 m
  [1, 2], [3,
   4],
]
g.h = 0x1F
i = 2024-05-06T07:08:09Z
j = [{ a = 1 }, { b = "c]" }]
k = nan

[[sources]]
name = "l"
[sources.highpass]
frequency = 80
[[sources]]
name = "m"
[sources.highpass] # of the second
frequency = 80

[[absorbers]]
[absorbers.cabinet]
at = [0, 0, 0]

[[variants]]
[variants.set."x"]
gain = 0
[[variants]]
[variants.set."x"]
gain = 1

[materials."no # 1"]
[materials."no # 2"]
'''
    )
    assert syntax_faults(text) == []


@pytest.mark.parametrize(
    "line",
    [
        "a" + " " * 60_000 + "b",
        "[a" + " " * 60_000,
        "x = " + "1 " * 30_000,
        '"' * 50_000,
        "x = " + "9" * 60_000,
        "[" * 50_000,
        "a = 1 \n" * 4_900 + "b",
        "a = 1m\n" * 100_000,
    ],
)
def test_long_and_odd_lines_take_no_time(line: str) -> None:
    import time

    start = time.perf_counter()
    syntax_faults(line)
    assert time.perf_counter() - start < 5.0


def test_a_length_in_quotes_is_converted() -> None:
    for old, new, write in (
        (HEIGHT, 'height = "2.5 m"', "2.5"),
        (HEIGHT, "height = '8 ft'", "2.44"),
        (SEAT, 'at = [5.0, "5\'3\\"", 1.1]', "1.6"),
    ):
        with pytest.raises(SceneError, match=f"a number is needed .* in m\\): write {write}$"):
            read_scene_text(edited((old, new)))


def test_encodings_and_line_ends(tmp_path: Path) -> None:
    path = tmp_path / "room.toml"
    for ends in ("\n", "\r\n", "\r"):
        path.write_bytes(("\ufeff" + TEXT.replace("\n", ends)).encode())
        assert read_scene(path).title == "Test room"
    for encoding in ("utf-16", "utf-16-le", "utf-16-be"):
        path.write_bytes(TEXT.encode(encoding))
        with pytest.raises(SceneError, match="room.toml: this is text in UTF-16; save the file as UTF-8"):
            read_scene(path)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("4.2m", 4.2),
        ("4,2 m", 4.2),
        ("420 cm", 4.2),
        ("4200mm", 4.2),
        ("13'9\"", 4.19),
        ("13’ 9”", 4.19),
        ("13 ft 9 in", 4.19),
        ("13ft", 3.96),
        ("13 feet", 3.96),
        ('9"', 0.23),
        ("-2 m", -2.0),
        ("4.2", None),
        ("4.2 miles", None),
        ("m", None),
    ],
)
def test_lengths(text: str, value: float | None) -> None:
    """One foot is 0.3048 m and one inch 0.0254 m, by definition."""
    assert metres(text) == value
