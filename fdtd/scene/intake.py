"""Read a table of the scene file against its fields."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fdtd.scene.fields import REQUIRED, Field
from fdtd.scene.kinds import KINDS, Wrong
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.words import did_you_mean, quoted, show


def read_table(entry: Entry, fields: Iterable[Field], report: Report) -> dict[str, Any]:
    """Values of the right keys of `entry`; optional ones that are absent get their default."""
    known = {f.key: f for f in fields}
    values: dict[str, Any] = {}
    for key in entry.values:
        if key not in known:
            remedy = did_you_mean(key, known, "known keys")
            report.mistake(entry, key, f"found a key that has no meaning here; {remedy}")
    for field in known.values():
        if field.key not in entry.values:
            if field.default is REQUIRED:
                report.mistake(entry, None, f'key "{field.key}" is missing; give {describe(field)}')
            elif not field.not_yet:
                values[field.key] = field.default
            continue
        value = entry.values[field.key]
        if field.not_yet:
            report.mistake(entry, field.key, f"found {show(value)}; not supported yet: {field.not_yet}")
            continue
        try:
            values[field.key] = KINDS[field.kind][0](field, value)
        except Wrong as wrong:
            for text, sub in wrong.faults:
                report.mistake(entry, field.key, text, sub)
    return values


def describe(field: Field) -> str:
    """What to write for a field: its form, meaning and unit."""
    form = KINDS[field.kind][1]
    if field.choices:
        return (
            f"{quoted(field.choices)}: {field.meaning}"
            if len(field.choices) == 1
            else (f"one of {', '.join(show(c) for c in field.choices)}: {field.meaning}")
        )
    return f"{form}: {field.meaning}{field.in_unit}"
