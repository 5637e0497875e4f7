"""Names: unique, not reserved."""

from __future__ import annotations

import re
from collections.abc import Iterable

from fdtd.scene.kinds import name_fault
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.tables import RESERVED
from fdtd.scene.text import show
from fdtd.scene.tree import Tree


def check_names(tree: Tree, materials: dict[str, Entry], report: Report) -> None:
    """Report names used twice, reserved names, and names of materials and devices that are not names."""
    first: dict[str, Entry] = {}
    for entries in tree.things.values():
        for entry in entries:
            if not entry.name:
                continue
            _check_thing(entry, first, report)
            first.setdefault(entry.name, entry)
    for entry in tree.things["absorbers"]:
        made = f"{entry.name} cabinet"
        if "cabinet" in entry.values and made in first:
            remedy = f"its cabinet is called {show(made)}, but that name is taken (line {_line(first[made], report)})"
            report.mistake(entry, "name", f"found {show(entry.name)}; {remedy}: choose another")
    for name, entry in materials.items():
        _check_key("material", name, entry, report)
        if name == "rigid":
            report.mistake(entry, None, 'found a material called "rigid"; that one is built in: choose another name')
    for name, entry in tree.devices.items():
        _check_key("device", name, entry, report)


def _check_thing(entry: Entry, first: dict[str, Entry], report: Report) -> None:
    name = entry.name
    if name.lower() in RESERVED or re.fullmatch(r"wall \d+", name.lower()):
        report.mistake(entry, "name", f"found {show(name)}; that name is reserved for a surface: choose another")
    elif name in first:
        where = f"{first[name].title} in line {_line(first[name], report)}"
        report.mistake(entry, "name", f"found {show(name)} again; it is the name of {where}: choose another")
    if entry.path[0] in ("sources", "seats") and "/" in name:
        report.mistake(entry, "name", f'found {show(name)}; a name of a source or seat has no "/"')


def check_variant_names(entries: Iterable[Entry], report: Report) -> None:
    """Report variants of the same name and names that can't be the name of a group in a result file."""
    first: dict[str, Entry] = {}
    for entry in entries:
        if not entry.name:
            continue
        if entry.name in first:
            line = _line(first[entry.name], report)
            report.mistake(entry, "name", f"found {show(entry.name)} again (first: line {line}); choose another")
        if "/" in entry.name or not entry.name.strip("."):
            remedy = 'a variant\'s name has no "/" and is not only dots'
            report.mistake(entry, "name", f"found {show(entry.name)}; {remedy}")
        first.setdefault(entry.name, entry)


def _check_key(what: str, name: str, entry: Entry, report: Report) -> None:
    fault = name_fault(name)
    if fault:
        report.mistake(entry, None, f"found a {what} called {show(name)}; {fault}")


def _line(entry: Entry, report: Report) -> int:
    return report.lines.line((*entry.path, "name"))
