"""The reference of the keys: the tables in docs/scene.md and all of docs/scene-reference.md, made from `keys.toml`.

`python -m fdtd.cli.pages docs/` writes both; tests check that they are fresh.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from fdtd.scene.kinds import KINDS
from fdtd.scene.tables import DESIGN_FIELDS, REQUIRED, TABLES, THINGS, Field
from fdtd.scene.text import number, show

_TITLES = {
    "top": "Top of the file",
    "material": '`[materials."NAME"]`',
    "branch": "A branch",
    "device": '`[devices."NAME"]`',
    "cabinet": "Cabinet of an absorber",
    "rolloff": "Roll-off of a source",
    "crossover": "Crossover of a source",
    "variant": "`[[variants]]`",
    "spot_cabinet": "Cabinet of `[spots]`",
    **{kind: f'`kind = "{kind}"`' for kind in DESIGN_FIELDS},
    **{kind: f"`[[{kind}]]`" for kind in THINGS},
}
"""Headings of the tables whose name does not say how they are written."""

_HEAD = """# Every key of the scene file

Generated from the program (`python -m fdtd.cli.pages docs/`), so it matches this version. [The scene file](scene.md)
explains what the tables mean and how they fit together. `[surfaces]` has no keys of its own: it gives each surface
(`floor`, `ceiling`, `walls`, `"wall 1"`, ...) a material. `[[sheets]]` are thin partitions, `[[fills]]` porous volumes.
Numbers are written in the unit given here.

"""


def reference_page() -> str:
    """The page of all keys: a table for each table of the scene file, then an index."""
    where = defaultdict(list)
    parts = []
    for name, fields in TABLES.items():
        title = _TITLES.get(name, f"`[{name}]`")
        parts.append(f"## {title}\n\n{_keys_table(fields)}\n")
        for field in fields:
            where[field.key].append(f"[{title}](#{_anchor(title)})")
    rows = [f"| `{key}` | {', '.join(places)} |\n" for key, places in sorted(where.items())]
    return "".join([_HEAD, *parts, "## Index\n\n| key | where |\n| --- | --- |\n", *rows])


def _anchor(title: str) -> str:
    """The anchor that Markdown gives to a heading: lower case, marks left out, a hyphen for each space."""
    return re.sub(r"[^\w -]", "", title.lower()).replace(" ", "-")


def _keys_table(fields: tuple[Field, ...]) -> str:
    """A Markdown table of fields: key, what it is, form, unit, range, default."""
    rows = ["| key | what it is | form | unit | range | default |", "| --- | --- | --- | --- | --- | --- |"]
    return "\n".join(rows + [_row(f) for f in fields]) + "\n"


def _row(field: Field) -> str:
    form = "choice" if field.choices else re.sub(r"^an? (?=\w+ ?\w*$)", "", KINDS[field.form][1])
    allowed = ", ".join(f"`{show(c)}`" for c in field.choices) or replace(field, unit="").range
    return f"| `{field.key}` | {field.help} | {form} | {field.unit} | {allowed} | {_default(field)} |"


def _default(field: Field) -> str:
    if field.default is REQUIRED:
        return "**required**"
    if field.default in (None, (), ""):
        return "none"
    return number(field.default) if isinstance(field.default, float) else f"`{show(field.default)}`"


PARTS: dict[str, Callable[[], str]] = {name: partial(_keys_table, fields) for name, fields in TABLES.items()}
"""Name of a mark in docs/scene.md -> what makes its text."""
