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
    things = [entry for entries in tree.things.values() for entry in entries]
    first = _check_unique(things, report)
    for entry in things:
        if entry.name.lower() in RESERVED or re.fullmatch(r"wall \d+", entry.name.lower()):
            text = f"found {show(entry.name)}; that name is reserved for a surface: choose another"
            report.mistake(entry, "name", text)
        if entry.path[0] in ("sources", "seats") and "/" in entry.name:
            report.mistake(entry, "name", f'found {show(entry.name)}; a name of a source or seat has no "/"')
    for entry in tree.things["absorbers"]:
        made = f"{entry.name} cabinet"
        if "cabinet" in entry.values and made in first:
            remedy = f"its cabinet is called {show(made)}, but that name is taken (line {_line(first[made], report)})"
            report.mistake(entry, "name", f"found {show(entry.name)}; {remedy}: choose another")
    for what, entries in (("material", materials), ("device", tree.devices)):
        for name, entry in entries.items():
            if fault := name_fault(name):
                report.mistake(entry, None, f"found a {what} called {show(name)}; {fault}")
    if "rigid" in materials:
        text = 'found a material called "rigid"; that one is built in: choose another name'
        report.mistake(materials["rigid"], None, text)


def check_variant_names(entries: Iterable[Entry], report: Report) -> None:
    """Report variants of the same name and names that can't be the name of a group in a result file."""
    _check_unique(entries, report)
    for entry in entries:
        if "/" in entry.name or entry.name and not entry.name.strip("."):
            remedy = 'a variant\'s name has no "/" and is not only dots'
            report.mistake(entry, "name", f"found {show(entry.name)}; {remedy}")


def _check_unique(entries: Iterable[Entry], report: Report) -> dict[str, Entry]:
    """Report names that an earlier entry has; returns the first entry of each name."""
    first: dict[str, Entry] = {}
    for entry in entries:
        if entry.name and first.setdefault(entry.name, entry) is not entry:
            where = f"{first[entry.name].title} in line {_line(first[entry.name], report)}"
            report.mistake(entry, "name", f"found {show(entry.name)} again; it is the name of {where}: choose another")
    return first


def _line(entry: Entry, report: Report) -> int:
    return report.lines.line((*entry.path, "name"))
