"""The tables of keys in docs/scene.md, made from the fields that the reader itself uses.

    python -m fdtd.scene.reference docs/scene.md

rewrites what stands between the marks `<!-- keys: NAME -->` and `<!-- end -->`; a test checks that the page is fresh.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

from fdtd.scene import tables
from fdtd.scene.design_tables import DESIGN_FIELDS
from fdtd.scene.fields import REQUIRED, Field
from fdtd.scene.kinds import BRANCH_FIELDS, KINDS
from fdtd.scene.spot_tables import SPOT_CABINET, SPOTS
from fdtd.scene.text import number, show

PAGES: dict[str, tuple[Field, ...]] = {
    "top": tables.TOP,
    "air": tables.AIR,
    "room": tables.ROOM,
    "material": tables.MATERIAL,
    "branch": BRANCH_FIELDS,
    "device": tables.DEVICE,
    **DESIGN_FIELDS,
    "cabinet": tables.CABINET,
    "rolloff": tables.ROLLOFF,
    "crossover": tables.CROSSOVER,
    "variant": tables.VARIANT,
    "spots": SPOTS,
    "spot_cabinet": SPOT_CABINET,
    "run": tables.RUN,
    **tables.THINGS,
}
"""Name of a mark -> the fields of its table."""

_MARK = re.compile(r"(<!-- keys: (\w+) -->\n).*?(<!-- end -->)", re.DOTALL)


def keys_table(fields: tuple[Field, ...]) -> str:
    """A Markdown table of fields: key, what it is, form, unit, range, default."""
    rows = ["| key | what it is | form | unit | range | default |", "| --- | --- | --- | --- | --- | --- |"]
    return "\n".join(rows + [_row(f) for f in fields]) + "\n"


def _row(field: Field) -> str:
    form = "choice" if field.choices else re.sub(r"^an? (?=\w+ ?\w*$)", "", KINDS[field.kind][1])
    allowed = ", ".join(f"`{show(c)}`" for c in field.choices)
    if not field.choices:
        untreated = Field("", field.kind, "", "", low=field.low, high=field.high, above=field.above)
        allowed = untreated.range
    if field.not_yet:
        return f"| `{field.key}` | {field.meaning} | {form} | | | *not supported yet* |"
    return f"| `{field.key}` | {field.meaning} | {form} | {field.unit} | {allowed} | {_default(field)} |"


def _default(field: Field) -> str:
    if field.default is REQUIRED:
        return "**required**"
    if field.default is None or field.default in ((), ""):
        return "none"
    return number(field.default) if isinstance(field.default, float) else f"`{show(field.default)}`"


def refreshed(page: str) -> str:
    """`page` with every marked table made anew; raises KeyError for an unknown mark."""
    return _MARK.sub(lambda m: m[1] + keys_table(PAGES[m[2]]) + m[3], page)


if __name__ == "__main__":
    target = Path(sys.argv[1])
    draft = target.with_suffix(".new")
    draft.write_text(refreshed(target.read_text(encoding="utf-8")), encoding="utf-8")
    draft.replace(target)
