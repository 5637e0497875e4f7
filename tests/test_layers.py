"""Arrows go one way: which part of the program may import which, and where heavy packages may be used.

The table is the architecture (see DEVELOPERS.md). `import a.b` and `from a import b` count wherever they stand,
inside functions too; imports for type checking only count as well.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "fdtd"
LONGEST_FILE = 400

ALL = {
    "errors",
    "settings",
    "physics",
    "library",
    "scene",
    "new_scene",
    "surface",
    "grid",
    "kernels",
    "model",
    "simulation",
    "modes",
    "ports",
    "results",
    "analysis",
    "listening",
    "placement",
    "show",
    "workflow",
    "study",
    "wording",
    "report",
    "api",
    "cli",
}

ALLOWED: dict[str, set[str]] = {
    "errors": set(),
    "settings": {"errors"},
    "physics": {"errors"},
    "library": {"errors", "physics"},
    "scene": {"errors", "physics", "library"},
    "new_scene": {"scene", "library", "physics", "errors"},
    "surface": {"scene", "library", "physics", "errors"},
    "grid": {"errors"},
    "kernels": set(),
    "model": {"scene", "physics", "grid", "errors"},
    "simulation": {"model", "grid", "kernels", "physics", "errors"},
    "ports": {"simulation", "model", "physics", "scene", "errors"},
    "modes": {"model", "grid", "errors"},
    "results": {"errors"},
    "analysis": {"errors"},
    "listening": {"results", "analysis", "errors"},
    "placement": {"kernels", "analysis", "errors"},
    "workflow": ALL - {"api", "cli", "report", "show", "wording", "workflow", "study", "new_scene"},
    "study": ALL - {"api", "cli", "report", "show", "wording", "study", "new_scene"},
    "wording": {"study", "placement", "listening", "results", "analysis", "surface", "scene", "physics", "errors"},
    "show": {"wording", "listening", "results", "analysis", "surface", "scene", "physics", "errors"},
    "report": {"show", "wording", "study", "listening", "results", "analysis", "scene", "errors"},
    "api": ALL - {"api", "cli", "new_scene"},
    "cli": ALL - {"cli"},
    "__main__": {"cli"},
}
"""Part -> parts it may import. Every part may import itself and, for the version, `fdtd`."""

ONLY_IN: dict[str, set[str]] = {
    "matplotlib": {"show"},
    "h5py": {"results"},
    "numba": {"kernels"},
    "typer": {"cli"},
    "jinja2": {"report", "new_scene"},
    "markupsafe": {"report"},
}
"""Outside package -> the only parts that may import it."""

FILES = sorted(PACKAGE.rglob("*.py"))


def part_of(path: Path) -> str:
    """'grid' for fdtd/grid/axes.py, 'errors' for fdtd/errors.py, '' for fdtd/__init__.py."""
    first = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    return "" if first == "__init__" else first


def imported_names(source: str, package: str) -> set[str]:
    """Full dotted names of everything that `source` imports; `package` is the dotted package that it stands in."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            parent = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            base = ".".join([*parent, *([node.module] if node.module else [])])
            names.update(f"{base}.{alias.name}" for alias in node.names)
    return names


def faults(source: str, part: str, package: str) -> list[str]:
    """Every import in `source` that the tables forbid, in words."""
    found = []
    for name in sorted(imported_names(source, package)):
        top, _, rest = name.partition(".")
        if top == "fdtd" and part:
            target = rest.split(".")[0]
            if target in ALL and target != part and target not in ALLOWED[part]:
                found.append(f"{part} must not import {target} ({name})")
        if top in ONLY_IN and part not in ONLY_IN[top]:
            found.append(f"{top} is only for {', '.join(ONLY_IN[top])}, not for {part or 'fdtd/__init__.py'}")
        if top == "fdtd" and not part:
            found.append(f"fdtd/__init__.py must not import {name}")
    return found


@pytest.mark.parametrize("path", FILES, ids=[str(p.relative_to(PACKAGE)) for p in FILES])
def test_imports_point_one_way(path: Path) -> None:
    package = ".".join(("fdtd", *path.relative_to(PACKAGE).parts[:-1]))
    assert faults(path.read_text(encoding="utf-8"), part_of(path), package) == []


def test_every_part_is_in_the_table() -> None:
    assert {part_of(path) for path in FILES} - {""} <= set(ALLOWED)


def test_the_table_has_no_cycle() -> None:
    open_parts = {part: set(may) for part, may in ALLOWED.items()}
    while ready := [part for part, may in open_parts.items() if not may & set(open_parts)]:
        for part in ready:
            del open_parts[part]
    assert not open_parts, f"these can import each other in a circle: {sorted(open_parts)}"


@pytest.mark.parametrize("path", FILES, ids=[str(p.relative_to(PACKAGE)) for p in FILES])
def test_no_file_is_too_long(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_FILE


@pytest.mark.parametrize(
    ("source", "part", "package"),
    [
        ("import fdtd.scene.schema", "grid", "fdtd.grid"),
        ("from fdtd.cli import app", "workflow", "fdtd"),
        ("from fdtd import simulation", "results", "fdtd.results"),
        ("from ..model import problem", "kernels", "fdtd.kernels"),
        ("from .. import show", "analysis", "fdtd.analysis"),
        ("def late():\n    from fdtd.show import files", "workflow", "fdtd"),
        ("import numba", "grid", "fdtd.grid"),
        ("from matplotlib.figure import Figure", "cli", "fdtd.cli"),
        ("from fdtd import workflow", "", "fdtd"),
    ],
)
def test_a_forbidden_import_is_noticed(source: str, part: str, package: str) -> None:
    assert len(faults(source, part, package)) == 1


@pytest.mark.parametrize(
    ("source", "part", "package"),
    [
        ("from fdtd import __version__", "workflow", "fdtd"),
        ("from fdtd.errors import FdtdError", "scene", "fdtd.scene"),
        ("from .schema import Scene", "scene", "fdtd.scene"),
        ("import h5py", "results", "fdtd.results"),
        ("import numpy, scipy.sparse", "grid", "fdtd.grid"),
    ],
)
def test_an_allowed_import_passes(source: str, part: str, package: str) -> None:
    assert faults(source, part, package) == []
