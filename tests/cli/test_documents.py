"""The documents agree with the program: generated pages are fresh, links lead somewhere, shown commands work."""

from __future__ import annotations

import builtins
import re
import shutil
import sys
import wave
from pathlib import Path

import pytest
import typer
from shown_commands import PAGES, ROOT, Shown, shown

from fdtd.cli.app import app, main
from fdtd.cli.pages import pages

ALL_PAGES = [*PAGES, ROOT / "DEVELOPERS.md"]
COMMANDS = typer.main.get_command(app).commands
EVERY = [one for page in PAGES for one in shown(page)]
INSTANT = ("check", "new", "surface")
LARGEST_PICTURE, LARGEST_ANIMATION = 200_000, 1_500_000
"""Bytes."""


def told(page: Path) -> str:
    return str(page.relative_to(ROOT))


def test_pages_are_fresh() -> None:
    made = pages(ROOT / "docs").items()
    stale = [told(path) for path, text in made if not path.is_file() or path.read_text(encoding="utf-8") != text]
    assert not stale, "run: python -m fdtd.cli.pages docs/"


def test_every_command_has_its_page_and_no_page_is_left_over() -> None:
    assert {path.stem for path in (ROOT / "docs" / "commands").glob("*.md")} == set(COMMANDS)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_option_is_described(name: str) -> None:
    page = (ROOT / "docs" / "commands" / f"{name}.md").read_text(encoding="utf-8")
    real = {p.opts[0] for p in COMMANDS[name].params if p.opts[0].startswith("--") and p.opts[0] != "--help"}
    assert set(re.findall(r"^\| `(--[a-z-]+)", page, re.MULTILINE)) == real
    assert all(p.help for p in COMMANDS[name].params if p.name != "help")
    assert shown(ROOT / "docs" / "commands" / f"{name}.md"), "shows no command"


def anchors(page: Path) -> set[str]:
    """The anchors of a page's headings, as Markdown pages on the web get them."""
    plain = re.sub(r"^```.*?^```", "", page.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
    headings = re.findall(r"^#+ (.+)$", plain, re.MULTILINE)
    return {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("page", ALL_PAGES, ids=told)
def test_links_lead_somewhere(page: Path) -> None:
    missing = []
    for target, anchor in re.findall(r"\]\(([^)#\s]*)(?:#([^)\s]*))?\)", page.read_text(encoding="utf-8")):
        if "://" in target:
            continue
        other = page.parent / target if target else page
        if not other.exists() or (anchor and other.suffix == ".md" and anchor not in anchors(other)):
            missing.append(f"{target}#{anchor}")
    assert not missing


@pytest.mark.parametrize("page", ALL_PAGES, ids=told)
def test_pictures_are_small_and_described(page: Path) -> None:
    for words, target in re.findall(r"!\[(.*?)\]\((\S+?)\)", page.read_text(encoding="utf-8"), re.DOTALL):
        picture = page.parent / target
        assert len(words) > 40, f"{target} needs a description"
        largest = LARGEST_PICTURE if picture.suffix in (".png", ".svg") else LARGEST_ANIMATION
        assert picture.stat().st_size < largest, target


def test_every_picture_is_used_and_can_be_made_again() -> None:
    folder = ROOT / "docs" / "pictures"
    script = (folder / "make.py").read_text(encoding="utf-8")
    text = "".join(page.read_text(encoding="utf-8") for page in ALL_PAGES)
    names = [path.name for path in folder.iterdir() if path.suffix in (".png", ".svg", ".gif", ".webp")]
    assert not [name for name in names if name not in text or name not in script]


def test_the_readme_has_its_two_commands() -> None:
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    first, second = (line for line in lines if line.startswith("python3 -m venv "))
    assert re.search(r"fdtd run (\S+)", first)[1] == "scenes/l-shaped-living-room.toml"
    assert second.endswith(" -m pytest")


def test_the_scene_in_the_readme_is_read_without_a_word(tmp_path: Path) -> None:
    from fdtd.scene.read import read_scene

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    path = tmp_path / "study.toml"
    path.write_text(example, encoding="utf-8")
    scene = read_scene(path)
    assert scene.warnings == ()
    assert [v.name for v in scene.variants] == ["without", "with"]


@pytest.mark.parametrize("page", PAGES, ids=told)
def test_shown_commands_are_understood(page: Path) -> None:
    made: set[str] = set()
    for one in shown(page):
        assert one.name in COMMANDS, one
        with COMMANDS[one.name].make_context(one.name, list(one.words[1:])):
            pass
        missing = [file for file in one.reads() if file not in made and not (ROOT / file).is_file()]
        assert not missing, f"fdtd {' '.join(one.words)} reads what is neither shipped nor made by a command before it"
        made.update(one.makes())


@pytest.fixture(scope="session")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the shipped scenes and a recording, in which shown commands are run, each once."""
    folder = tmp_path_factory.mktemp("documents")
    shutil.copytree(ROOT / "scenes", folder / "scenes")
    with wave.open(str(folder / "music.wav"), "wb") as file:
        file.setparams((1, 2, 8000, 0, "NONE", ""))
        samples = (9000 * (-1) ** (k // 60) for k in range(8000))
        file.writeframes(b"".join(sample.to_bytes(2, "little", signed=True) for sample in samples))
    return folder


def work(
    one: Shown,
    folder: Path,
    done: set[tuple[str, ...]],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Run a shown command on coarse cells in `folder`, unless it has been run."""
    words = one.quickened()
    if words in done:
        return
    monkeypatch.chdir(folder)
    monkeypatch.setattr(sys, "argv", ["fdtd", *words])
    monkeypatch.setattr("fdtd.cli.watch.watch", lambda path, first, changed, gone: first())
    monkeypatch.setattr("fdtd.cli.new._somebody_there", lambda: True)
    monkeypatch.setattr(builtins, "input", lambda prompt="": "")  # Enter takes the usual answer
    with pytest.raises(SystemExit) as stop:
        main()
    said = capsys.readouterr()
    assert not stop.value.code, f"fdtd {' '.join(words)}:\n{said.err}"
    assert "Error:" not in said.err
    assert all((folder / file).is_file() for file in one.makes())
    done.add(words)


@pytest.mark.usefixtures("undrawn")
def test_instant_commands_work(
    workshop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without their drawings, which the slow test makes too."""
    done: set[tuple[str, ...]] = set()
    for one in EVERY:
        if one.name in INSTANT:
            work(one, workshop, done, monkeypatch, capsys)


_DONE: set[tuple[str, ...]] = set()
"""By the slow test, on pages before."""


@pytest.mark.slow
@pytest.mark.parametrize("page", [page for page in PAGES if shown(page)], ids=told)
def test_shown_commands_work(
    page: Path, workshop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for one in shown(page):
        work(one, workshop, _DONE, monkeypatch, capsys)
