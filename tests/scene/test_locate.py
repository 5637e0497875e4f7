"""The locator: lines of tables, arrays of tables, quoted and dotted keys, arrays and strings over several lines."""

from __future__ import annotations

import tomllib

import pytest

from fdtd.scene.locate import Lines

from .sample import TEXT, line_of

TOML = '''# first
top = 1
a.b."c d" = { e = 1, f = { g = [1, 2] } }
text = """
[not a table]
x = 1
"""
raw = \'\'\'
[[nor this]]\'\'\'
list = [
    1,  # ] not the end
    [2, 3],

    { k = "}", l = '#' },
]
when = 1979-05-27 07:32:00
[plain]
"quoted \\u00e4" = "a # b"
[plain.sub]
y = -1.5e3
[[many]]
name = "one"
[[many]]
name = "two"
[many.inner]
z = true
[[many.deep]]
q = 1
[[many.deep]]
q = 2
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("top",), 2),
        (("a",), 3),
        (("a", "b"), 3),
        (("a", "b", "c d", "f", "g", 1), 3),
        (("text",), 4),
        (("raw",), 8),
        (("list",), 10),
        (("list", 0), 11),
        (("list", 1), 12),
        (("list", 1, 1), 12),
        (("list", 2), 14),
        (("list", 2, "l"), 14),
        (("when",), 16),
        (("plain",), 17),
        (("plain", "quoted ä"), 18),
        (("plain", "sub"), 19),
        (("plain", "sub", "y"), 20),
        (("many", 0), 21),
        (("many", 0, "name"), 22),
        (("many", 1), 23),
        (("many", 1, "name"), 24),
        (("many", 1, "inner", "z"), 26),
        (("many", 1, "deep", 0, "q"), 28),
        (("many", 1, "deep", 1), 29),
        (("many", 1, "deep", 1, "q"), 30),
        (("many", 1, "absent"), 23),
        (("none",), 1),
    ],
)
def test_lines(path, line):
    tomllib.loads(TOML)
    assert Lines(TOML).line(path) == line


def test_windows_line_ends():
    assert Lines(TOML.replace("\n", "\r\n")).line(("many", 1, "deep", 1, "q")) == 30


def test_every_key_of_the_sample_has_the_line_on_which_it_stands():
    lines = TEXT.split("\n")

    def walk(value, path):
        if path and isinstance(path[-1], str):
            assert path[-1] in lines[Lines_.line(path) - 1]
        for key, inner in (
            value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        ):
            walk(inner, (*path, key))

    Lines_ = Lines(TEXT)
    walk(tomllib.loads(TEXT), ())
    assert Lines_.line(("patches", 1, "to")) == line_of(TEXT, "to = [3.0, 2.0]")


@pytest.mark.parametrize("text", ["[", "a = [1, ", "= 3", '"', "a = {b", "[[x]", "a.b. = 1", "x = " + "[" * 50000])
def test_broken_text_gives_some_line(text):
    assert Lines(text).line(("a", "b")) >= 1
