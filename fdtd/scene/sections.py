"""The tables at the top of a scene file: those that have no meaning, and what is meant by them."""

from __future__ import annotations

from itertools import islice
from typing import Any

from fdtd.scene import tables
from fdtd.scene.elsewhere import belongs
from fdtd.scene.mistakes import MOST_MISTAKES, Entry, Report
from fdtd.scene.section_words import MEANINGS
from fdtd.scene.text import nearest, quoted

_TOP = [f.key for f in tables.TOP]
_KNOWN = [*_TOP, *tables.SECTIONS]
_NAMED = ("materials", "devices")


def heading(section: str) -> str:
    """How the heading of a table is written."""
    if section in (*tables.THINGS, "variants"):
        return f"[[{section}]]"
    return f"[{section}.NAME]" if section in _NAMED else f"[{section}]"


def meant_section(key: str) -> str:
    """The table that somebody means who writes `key`; "" if there is none, or more than one."""
    meant = [] if key in _KNOWN else nearest(key, tables.SECTIONS)
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
        return f"known tables: {quoted(tables.SECTIONS, len(tables.SECTIONS))}"
    return f"did you mean {' or '.join(_text(name) for name in meant)}?"


def _text(name: str) -> str:
    return f"{heading(name)} ({MEANINGS[name]})" if name in MEANINGS else f'"{name}"'
