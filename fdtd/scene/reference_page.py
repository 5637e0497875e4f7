"""docs/scene-reference.md: every key of the scene file in one place, made from the fields that the reader uses."""

from __future__ import annotations

import re
from collections import defaultdict

from fdtd.scene.design_tables import DESIGN_FIELDS
from fdtd.scene.reference import PAGES, keys_table

TITLES = {
    "top": "Top of the file",
    "air": "`[air]`",
    "room": "`[room]`",
    "material": '`[materials."NAME"]`',
    "branch": "A branch",
    "device": '`[devices."NAME"]`',
    "cabinet": "Cabinet of an absorber",
    "rolloff": "Roll-off of a source",
    "crossover": "Crossover of a source",
    "variant": "`[[variants]]`",
    "spots": "`[spots]`",
    "spot_cabinet": "Cabinet of `[spots]`",
    "run": "`[run]`",
    **{kind: f'`kind = "{kind}"`' for kind in DESIGN_FIELDS},
}
"""Headings of the tables that aren't lists of things."""

HEAD = """# Every key of the scene file

Made from the program (`python -m fdtd.cli.pages docs/`), so it holds what this version reads. What the tables mean, and
how they go together, is in [The scene file](scene.md); `[surfaces]` has no keys of its own but names of surfaces
(`floor`, `ceiling`, `walls`, `"wall 1"`, ...) with a material each. Units are those in which the number is written.

"""


def reference_page() -> str:
    """The page: a table for each table of the scene file, then an index of all keys."""
    parts = [f"## {_title(name)}\n\n{keys_table(fields)}\n" for name, fields in PAGES.items()]
    return HEAD + "".join(parts) + _index()


def _index() -> str:
    where = defaultdict(list)
    for name, fields in PAGES.items():
        for field in fields:
            where[field.key].append(f"[{_title(name)}](#{_anchor(_title(name))})")
    rows = [f"| `{key}` | {', '.join(places)} |" for key, places in sorted(where.items())]
    return "\n".join(["## Index", "", "| key | where |", "| --- | --- |", *rows]) + "\n"


def _title(name: str) -> str:
    return TITLES.get(name, f"`[[{name}]]`")


def _anchor(title: str) -> str:
    """The anchor that Markdown gives to a heading: lower case, marks left out, a hyphen for each space."""
    return re.sub(r"[^\w -]", "", title.lower()).replace(" ", "-")
