"""The tables of a scene file as entries with places, and copies of them with a variant's changes made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Any

from fdtd.scene.kinds import LONGEST_LIST
from fdtd.scene.mistakes import Change, Entry, Report, printable
from fdtd.scene.sections import heading
from fdtd.scene.tables import Field
from fdtd.scene.text import show


@dataclass(frozen=True)
class Tree:
    """What a variant can change: the lists of things, the surfaces, the devices by name."""

    things: Mapping[str, tuple[Entry, ...]]
    surfaces: Entry
    devices: Mapping[str, Entry]

    def find(self, name: str) -> tuple[str, Entry] | None:
        """The thing called `name` and the list it is in."""
        every = ((kind, e) for kind, entries in self.things.items() for e in entries)
        return next(((kind, e) for kind, e in every if name and e.name == name), None)

    def names(self) -> list[str]:
        """The names of all things."""
        return [e.name for entries in self.things.values() for e in entries if e.name]


def section(document: Entry, key: str, report: Report) -> Entry:
    """The table [key] (empty if absent)."""
    value = document.values.get(key, {})
    if not isinstance(value, dict):
        remedy = f"a table in single brackets is needed here: write {heading(key)}"
        report.mistake(document, key, f"found {show(value)}; {remedy}")
        value = {}
    return Entry((key,), f"[{key}]", value)


def listed(document: Entry, key: str, report: Report) -> tuple[Entry, ...]:
    """The entries of [[key]]."""
    value = document.values.get(key, [])
    if not isinstance(value, list):
        remedy = f"it is a list of tables: write [[{key}]], with two brackets"
        report.mistake(document, key, f"found {show(value)}; {remedy}")
        return ()
    if len(value) > LONGEST_LIST:
        report.mistake(document, key, f"found {len(value)} of them; at most {LONGEST_LIST} are taken")
        value = value[:LONGEST_LIST]
    entries = []
    for i, item in enumerate(value):
        if not isinstance(item, dict):
            report.mistake(document, key, f"found {show(item)}; a table is needed: write [[{key}]]", (i,))
            continue
        name = item.get("name")
        label = f'"{printable(name)}"' if isinstance(name, str) and name.strip() else f"number {i + 1}"
        entries.append(Entry((key, i), f"[[{key}]] {label}", item))
    return tuple(entries)


def named(document: Entry, key: str, report: Report) -> dict[str, Entry]:
    """The entries [key."NAME"] by name."""
    found = section(document, key, report).values
    if len(found) > LONGEST_LIST:
        report.mistake(document, key, f"found {len(found)} of them; at most {LONGEST_LIST} are taken")
    entries = {}
    for name, value in islice(found.items(), LONGEST_LIST):
        title = f'[{key}."{printable(name)}"]'
        if not isinstance(value, dict):
            report.mistake(document, key, f"found {show(value)}; a table is needed: write {title}", (name,))
            value = {}
        entries[name] = Entry((key, name), title, value)
    return entries


def keys_of(fields: Iterable[Field]) -> list[str]:
    """The keys of fields."""
    return [f.key for f in fields]


def changed(entry: Entry, changes: dict[str, Any], origins: dict[str, Change]) -> Entry:
    """`entry` with some values changed; a change that is a table changes only the keys it gives.

    origins : key -> `Change`, where each change is written.
    """
    values, places = dict(entry.values), dict(entry.changed)
    for key, value in changes.items():
        for group in _EXCLUSIVE:
            if key in group[0] | group[1]:
                for other in (group[1] if key in group[0] else group[0]) - set(changes):
                    values.pop(other, None)
        old = values.get(key)
        if isinstance(value, dict) and isinstance(old, dict):
            kept = old
            if value.get("kind", old.get("kind")) != old.get("kind"):
                kept = {k: v for k, v in old.items() if k not in _OF_ITS_KIND.get(key, ())}
            values[key] = {**kept, **value}
            for inner in value:
                places[f"{key}.{inner}"] = origins[key].below(key, inner)
        else:
            values[key] = value
            places[key] = origins[key]
    return Entry(entry.path, entry.title, values, places)


_EXCLUSIVE = (({"branches"}, {"admittance_ratio"}), ({"cabinet"}, {"on", "from", "to"}))
"""Groups of keys of which a thing has one or the other: changing to one drops the other."""

_OF_ITS_KIND = {"rolloff": ("q",)}
"""Inner table -> keys that mean something else in another kind: changing the kind drops them."""
