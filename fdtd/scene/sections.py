"""Tables and keys that have no meaning where they stand: what is meant by them, and where they belong."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import islice
from typing import Any

from fdtd.scene.mistakes import MOST_MISTAKES, Entry, Report
from fdtd.scene.tables import DEVICE_KINDS, MATERIAL_KINDS, SECTIONS, TABLES, THINGS, Field, device_keys
from fdtd.scene.text import nearest, quoted, show
from fdtd.scene.words import WORDS


def _keys(fields: Iterable[Field]) -> list[str]:
    return [field.key for field in fields]


_KNOWN = [*_keys(TABLES["top"]), *SECTIONS]
_NAMED = ("materials", "devices")


def heading(section: str) -> str:
    """How the heading of a table is written."""
    if section in (*THINGS, "variants"):
        return f"[[{section}]]"
    return f"[{section}.NAME]" if section in _NAMED else f"[{section}]"


def meant_section(key: str) -> str:
    """The table that somebody means who writes `key`; "" if there is none, or more than one."""
    meant = [] if key in _KNOWN else nearest(key, SECTIONS)
    return meant[0] if len(meant) == 1 else ""


def renamed_sections(values: dict[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """The values of a file with a table of another name under the name that is meant, and meant name -> as written.

    So the rest of the file is checked as it is meant; the name itself is a mistake all the same (`check_sections`).
    """
    written: dict[str, str] = {}
    for key, value in islice(values.items(), MOST_MISTAKES):
        meant = meant_section(key) if isinstance(value, dict | list) else ""
        if meant and meant not in values:
            written.setdefault(meant, key)
    known = {key: meant for meant, key in written.items()}
    return {known.get(key, key): value for key, value in values.items()}, written


def check_sections(written: dict[str, Any], report: Report) -> None:
    """Report keys at the top of the file that have no meaning there; `written` as they stand in the file."""
    for key, value in written.items():
        if key not in _KNOWN:
            what = "table" if isinstance(value, dict | list) else "key"
            found = f"found a {what} that has no meaning here"
            report.mistake(Entry((), "", written), key, f"{found}; {_remedy(key, value)}")


def _remedy(key: str, value: Any) -> str:
    if not isinstance(value, dict | list):
        place = belongs("top", key)
        if place:
            return f"{place}: put it below that heading"
    meant = nearest(key, _KNOWN)
    if not meant:
        return f"known tables: {quoted(SECTIONS, len(SECTIONS))}"
    return f"did you mean {' or '.join(_text(name) for name in meant)}?"


def _text(name: str) -> str:
    return f"{heading(name)} ({WORDS['meanings'][name]})" if name in SECTIONS else f'"{name}"'


_OWN = {name: set(_keys(fields)) for name, fields in TABLES.items()} | {"devices": set(device_keys())}
_ELSEWHERE = {
    name: [(_OWN.get(home, {home}), text) for home, text in homes.items()] for name, homes in WORDS["elsewhere"].items()
}
"""Table -> keys that have a meaning elsewhere, and where."""


def belongs(where: str, key: str) -> str:
    """Where `key` belongs that has no meaning in a table `where` (list, section or inner table); "" if unknown."""
    return next((place for keys, place in _ELSEWHERE.get(where, ()) if key in keys), "")


def place_of(entry: Entry) -> str:
    """The list, section or inner table that `entry` is, as `belongs` names it; "" at the top."""
    inner = entry.path[-1] if len(entry.path) > 2 else ""
    return str(inner) if inner in _ELSEWHERE else str(entry.path[0]) if entry.path else ""


def other_kind(entry: Entry, unknown: Sequence[str]) -> tuple[list[str], str]:
    """Keys among `unknown` that a material or device of another kind has, and those kinds in words."""
    place, own = place_of(entry), entry.values.get("kind")
    if place not in ("materials", "devices"):
        return [], ""
    kinds = {k: _OWN[k] for k in (MATERIAL_KINDS if place == "materials" else DEVICE_KINDS)}
    if place == "devices":
        kinds |= {"branches": {"branches", "admittance_ratio"}, "table": {"table"}}
    kinds.pop(str(own), None)
    held = {kind: [key for key in unknown if key in keys] for kind, keys in kinds.items()}
    most = max((len(keys) for keys in held.values()), default=0)
    best = [kind for kind, keys in held.items() if len(keys) == most]
    if not most:
        return [], ""
    return held[best[0]], " or ".join(f"{show(kind)}" for kind in best[:3])
