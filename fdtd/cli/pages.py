"""The pages on commands and keys, generated from the program itself.

    python -m fdtd.cli.pages docs/

regenerates the text between marks such as `<!-- program: NAME -->` and `<!-- end -->` of docs/commands.md,
docs/commands/*.md, docs/scene.md and docs/surfaces.md, and the whole of docs/scene-reference.md. Text
outside the marks is written by hand and kept. A command without a page gets one. A test checks that all is up to date.
"""

from __future__ import annotations

import inspect
import re
import sys
import types
import typing
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import Any

import typer

from fdtd.cli.app import app

_MARK = re.compile(r"(<!-- \w+: (\w+) -->\n).*?(<!-- end -->)", re.DOTALL)
_FRESH = """# fdtd {name}

<!-- program: text -->
<!-- end -->

## Options

<!-- program: options -->
<!-- end -->
"""
_FORMS = {float: "number", int: "whole number", str: "text", Path: "path", bool: "switch"}
"""What follows an option, in words."""


def commands() -> dict[str, Any]:
    """Every command by its name, in the order of the help."""
    return dict(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


def pages(folder: Path) -> dict[Path, str]:
    """The pages on commands and keys as they should be; `folder` holds the documents.

    Raises OSError for a page that is missing, KeyError for a mark that is unknown.
    """
    from fdtd.scene.reference import PARTS, reference_page

    found: dict[Path, str] = {}
    for name, command in commands().items():
        path = folder / "commands" / f"{name}.md"
        page = path.read_text(encoding="utf-8") if path.is_file() else _FRESH.format(name=name)
        found[path] = refreshed(page, {"text": partial(_text, command), "options": partial(_options, command)})
    for path, parts in ((folder / "commands.md", {"list": _list}), (folder / "scene.md", PARTS)):
        found[path] = refreshed(path.read_text(encoding="utf-8"), parts)
    found[folder / "scene-reference.md"] = reference_page()
    return found


def refreshed(page: str, parts: Mapping[str, Callable[[], str]]) -> str:
    """`page` with the text between its marks made anew by `parts`; raises KeyError for an unknown mark."""
    return _MARK.sub(lambda m: m[1] + parts[m[2]]() + m[3], page)


def _list() -> str:
    """The index: one line for each command."""
    rows = [f"| [`fdtd {n}`](commands/{n}.md) | {c.short_help} |" for n, c in commands().items()]
    return "\n".join(["| command | what it does |", "| --- | --- |", *rows]) + "\n"


def _text(command: Any) -> str:
    """Its usage line and its docstring."""
    needed = [f"{p.opts[0]} {p.metavar}" for p in _sorted(command, "option") if p.required]
    given = [*(_argument(p) for p in _sorted(command, "argument")), *needed]
    usage = " ".join(["fdtd", command.name, *given, "[OPTIONS]"])
    paragraphs = inspect.cleandoc(command.callback.__doc__ or "").split("\n\n")
    text = "\n\n".join(_marked(" ".join(paragraph.split())) for paragraph in paragraphs)
    return f"```text\n{usage}\n```\n\n{text}\n"


def _argument(param: Any) -> str:
    metavar = (param.metavar or param.name.upper()).strip("[]")
    return metavar if param.required else f"[{metavar}]"


def _options(command: Any) -> str:
    """Tables of its arguments and options with form, meaning and default."""
    forms = _forms(command.callback)
    rows = ["| argument | form | meaning | default |", "| --- | --- | --- | --- |"]
    for p in _sorted(command, "argument"):
        default = "**required**" if p.required else _default(p)
        metavar = (p.metavar or p.name.upper()).strip("[]")
        rows.append(f"| {_code(metavar)} | {forms[p.name]} | {_help(p)} | {default} |")
    rows += ["", "| option | form | meaning | default |", "| --- | --- | --- | --- |"]
    for p in _sorted(command, "option"):
        switch = forms[p.name] == "switch"
        call = p.opts[0] if switch else f"{p.opts[0]} {p.metavar or p.name.upper()}"
        default = "**required**" if p.required else "off" if switch else _default(p)
        rows.append(f"| {_code(call)} | {forms[p.name]} | {_help(p)} | {default} |")
    return "\n".join(rows) + "\n"


def _sorted(command: Any, kind: str) -> Iterator[Any]:
    return (p for p in command.params if p.param_type_name == kind and p.name != "help")


def _forms(callback: Callable[..., Any]) -> dict[str, str]:
    """The form of every parameter in words, from its type hint."""
    hints = typing.get_type_hints(callback)
    return {name: _form(hint) for name, hint in hints.items() if name != "return"}


def _form(hint: Any) -> str:
    if typing.get_origin(hint) is list:
        return f"{_form(typing.get_args(hint)[0])}, one or more"
    if isinstance(hint, types.UnionType) or typing.get_origin(hint) is typing.Union:
        (hint,) = (one for one in typing.get_args(hint) if one is not type(None))
    return _FORMS[hint]


def _default(param: Any) -> str:
    """As worded at the end of the help, else the value; empty for an optional one without a default."""
    text = _described(param)[1]
    if text or param.default is None:
        return _cell(text)
    return _code(f"{param.default:g}" if isinstance(param.default, float) else str(param.default))


def _help(param: Any) -> str:
    return _cell(_described(param)[0])


def _described(param: Any) -> tuple[str, str]:
    """The help without its default, and the default, which follows 'Default:' at the end."""
    meaning, _, default = " ".join((param.help or "").split()).partition(" Default: ")
    return meaning, default.rstrip(".")


def _cell(text: str) -> str:
    return _marked(text).replace("|", "\\|")


def _code(text: str) -> str:
    return "`" + text.replace("|", "\\|") + "`"


def _marked(text: str) -> str:
    """`text` with quoted commands, options and lists of the scene set as code, as Markdown would change them."""
    what = r"'(?P<command>fdtd [^']+)'|(?<![`\w-])(?P<word>--[a-z][a-z-]*|\[{1,2}[a-z]+\]{1,2})(?!\w)"
    return re.sub(what, lambda found: f"`{found['command'] or found['word']}`", text)


def write(folder: Path) -> list[Path]:
    """Write every page that is out of date; returns their paths."""
    from fdtd.library.page import PARTS
    from fdtd.results.files import replaced_file

    changed = []
    surfaces = folder / "surfaces.md"
    fresh = {surfaces: refreshed(surfaces.read_text(encoding="utf-8"), PARTS)}
    for path, text in (pages(folder) | fresh).items():
        if not path.is_file() or path.read_text(encoding="utf-8") != text:
            path.parent.mkdir(exist_ok=True)
            with replaced_file(path) as unfinished:
                unfinished.write_text(text, encoding="utf-8")
            changed.append(path)
    return changed


if __name__ == "__main__":
    for written in write(Path(sys.argv[1])):
        typer.echo(written)
