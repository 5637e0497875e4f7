"""The manual agrees with the program: every command and option has its place, links lead somewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer

from fdtd.cli.app import app

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
COMMANDS = typer.main.get_command(app).commands


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_option_is_described(name: str) -> None:
    page = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    section = re.search(rf"^## fdtd {name}$(.*?)(?=^## |\Z)", page, re.MULTILINE | re.DOTALL)
    assert section, f"docs/commands.md has no section 'fdtd {name}'"
    told = set(re.findall(r"^\| `(--[a-z-]+)", section[1], re.MULTILINE))
    real = {p.opts[0] for p in COMMANDS[name].params if p.opts[0].startswith("--") and p.opts[0] != "--help"}
    assert told == real


@pytest.mark.parametrize("page", PAGES, ids=[str(p.relative_to(ROOT)) for p in PAGES])
def test_links_lead_somewhere(page: Path) -> None:
    targets = re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8"))
    missing = [t for t in targets if "://" not in t and not (page.parent / t).exists()]
    assert not missing


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
