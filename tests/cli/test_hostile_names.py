"""Names and titles that try to break or run something: in the terminal, in file names and in SVG."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from pathlib import Path

import pytest

from fdtd.cli.tables import text_width
from fdtd.errors import visible

from .test_whole import SCENE

Command = Callable[..., int]
Capture = pytest.CaptureFixture[str]

TITLE = "<script>alert(1)</script>\x1b[31m \u202etxt.exe\u202c\n\x00\r\x9b2J \"' $\\alpha$ & ]]> 🙂"
NAMES = {
    "small room": TITLE,
    "bare": '"><script>alert(1)</script>',
    "fitted": "../../x",
    "corner unit": "-rf $(rm) `x` $\\alpha$ %s {0}",
    "stool": "__CON & 沙发 שלום 🙂",
    "subwoofer": "NUL",
    "plaster": "]]><svg onload=alert(1)> \\frac{",
    "unit": "con",
}
"""What stands in the small room -> what is put there. Names with / are refused for seats, sources and variants."""

UNFIT = {
    "newline": "so\nfa",
    "escape sequence": "\x1b[31mred",
    "bidirectional override": "\u202eafos",
    "NUL": "so\x00fa",
    "10,000 characters": "x" * 10_000,
    "slash": "../../x",
}

ALLOWED = set("\n")


def _room(changes: dict[str, str]) -> str:
    """The small room with other names, escaped as TOML asks for (JSON's escapes are a part of TOML's)."""
    text = SCENE
    for old, new in changes.items():
        quoted = json.dumps(new).replace("\x7f", "\\u007f")
        quoted = re.sub(
            r"\\ud[89ab]..\\ud[c-f]..", lambda m: f"\\U{ord(json.loads(chr(34) + m[0] + chr(34))):08x}", quoted
        )
        if old == "small room":
            text = text.replace('"Small room"', quoted)
            continue
        text = text.replace(f'"{old}"', quoted)
        text = text.replace(f"[materials.{old}]", f"[materials.{quoted}]").replace(
            f"[devices.{old}]", f"[devices.{quoted}]"
        )
    return text


def _check_printed(text: str) -> None:
    bad = {c for c in text if not c.isprintable() and c not in ALLOWED}
    assert not bad, f"raw control characters in the terminal: {bad!r}"


def _check_files(folder: Path) -> None:
    outside = [p for p in folder.parent.iterdir() if p != folder and p.suffix != ".toml"]
    assert not outside
    for path in folder.rglob("*"):
        assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,120}", path.name), path.name
        assert path.stem.lower() not in ("con", "nul", "aux", "prn")
        if path.suffix == ".svg":
            root = ElementTree.parse(path).getroot()
            for element in root.iter():
                assert element.tag.rpartition("}")[2] != "script"
                assert not any(key.lower().startswith("on") for key in element.attrib)
                assert not any(value.lower().startswith("javascript:") for value in element.attrib.values())


def _check_tables(text: str) -> None:
    """Every row of a table ends within its rule of dashes, in columns of a terminal."""
    lines = text.splitlines()
    for k, line in enumerate(lines):
        if not re.fullmatch(r"-{2,}(  -+)+", line):
            continue
        for row in (lines[k - 1], *lines[k + 1 :]):
            if not row.strip() or row.startswith(("0 dB", "Levels", "Sound")):
                break
            assert text_width(row) <= len(line), f"{row!r} is wider than its table"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of its own, with nothing in it but the hostile room."""
    place = tmp_path_factory.mktemp("hostile")
    changes = {**NAMES, "fitted": "..x", "bare": NAMES["bare"].replace("/", "|")}
    (place / "room.toml").write_text(_room(changes), encoding="utf-8")
    return place


def test_check_run_show_and_modes(folder: Path, fdtd: Command, capsys: Capture) -> None:
    out = folder / "out"
    scene, result = str(folder / "room.toml"), str(out / "result.h5")
    for arguments in (
        ("check", scene, "--grid", "0.25"),
        ("run", scene, "--grid", "0.25", "--duration", "0.4", "--frequencies", "40", "--no-figures"),
        ("show", result),
        ("modes", scene, "--grid", "0.25", "--count", "5"),
    ):
        assert fdtd(*arguments, "--out", str(out)) == 0, capsys.readouterr().err
        printed, warned = capsys.readouterr()
        _check_printed(printed)
        _check_printed(warned.replace("\r", ""))
        _check_tables(printed)
        assert printed.startswith("<script>alert(1)</script> [31m txt.exe 2J")
    _check_files(out)


@pytest.mark.parametrize("name", UNFIT.values(), ids=list(UNFIT))
@pytest.mark.parametrize("where", ["stool", "subwoofer", "fitted", "corner unit", "plaster", "unit"])
def test_an_unfit_name_is_refused_in_one_clear_line(
    where: str, name: str, tmp_path: Path, fdtd: Command, capsys: Capture
) -> None:
    if name == "../../x" and where not in ("stool", "subwoofer", "fitted"):
        pytest.skip("a slash is allowed there: no file is named after it")
    path = tmp_path / "room.toml"
    path.write_text(_room({where: name}), encoding="utf-8")
    assert fdtd("check", str(path), "--out", str(tmp_path / "out")) == 2
    told = capsys.readouterr().err
    _check_printed(told)
    assert all(line.startswith("Error: room.toml, line ") and len(line) < 400 for line in told.splitlines())
    assert "name" in told and not (tmp_path / "out").exists()


def test_a_title_of_ten_thousand_characters_is_refused(tmp_path: Path, fdtd: Command, capsys: Capture) -> None:
    path = tmp_path / "room.toml"
    path.write_text(_room({"small room": "🙂x" * 5_000}), encoding="utf-8")
    assert fdtd("check", str(path)) == 2
    told = capsys.readouterr().err
    assert len(told.splitlines()) == 1 and "10000 characters long" in told


@pytest.mark.parametrize(
    ("table", "shown"),
    [
        ("\x1b[31mfreq,\x07bad", r"found '\x1b[31mfreq,\x07bad'"),
        ("frequency_hz,real,imag\n20,\x1b]0;owned\x07,2", r"found '\x1b]0;owned\x07'"),
        ("frequency_hz,real,imag\n20,1,2,\x1b[2J" + "x" * 9000, r"in '20,1,2,\x1b[2Jxxxxxxxxxxxxxxxxxxxxxxx...'"),
        ("frequency_hz,absorption_normal\n20,\u202e9", r"found '\u202e9'"),
        ("frequency_hz,absorption_normal\n20," + "9" * 300, "found " + "9" * 37 + "..."),
    ],
)
def test_a_measured_table_does_not_steer_the_terminal(
    table: str, shown: str, tmp_path: Path, fdtd: Command, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)  # nothing is stripped on the way
    (tmp_path / "table.csv").write_text(table, encoding="utf-8")
    path = tmp_path / "room.toml"
    path.write_text(SCENE.replace("[materials.plaster]\n", '[materials.plaster]\ntable = "table.csv"\n#', 1))
    assert fdtd("check", str(path), "--out", str(tmp_path / "out")) == 2
    told = capsys.readouterr().err
    _check_printed(told)
    assert shown in told and len(told) < 400


def test_names_of_files_and_sources_of_numbers_do_not_either(
    tmp_path: Path, fdtd: Command, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for stream in ("stdout", "stderr"):
        monkeypatch.setattr(f"sys.{stream}.isatty", lambda: True, raising=False)
    path = Path("\x1b[31mroom.toml")
    assert fdtd("check", str(path)) == 2
    assert r"Error: \x1b[31mroom.toml: there is no such file" in capsys.readouterr().err
    path.write_text(SCENE.replace("[materials.plaster]\n", '[materials.plaster]\nsource = "\\u001b[2J\\u202e it"\n', 1))
    assert fdtd("surface", str(path), "--out", "out") == 0
    _check_printed("".join(capsys.readouterr()))
    path.write_text(SCENE.replace("[room]", "[rom]"))
    assert fdtd("check", str(path)) == 2
    told = capsys.readouterr().err
    _check_printed(told)
    assert all(line.startswith(r"Error: \x1b[31mroom.toml, line ") for line in told.splitlines())


def test_what_can_not_be_seen_is_an_escape() -> None:
    assert visible("a\x1b\n\u202e\x00\ud800 ä🙂") == r"a\x1b\n\u202e\x00\ud800 ä🙂"
    assert visible("x" * 50, 40) == "x" * 37 + "..." and len(visible("\x1b" * 50, 40)) == 40
