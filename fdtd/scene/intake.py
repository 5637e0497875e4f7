"""Read a table of the scene file against its fields."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar

from fdtd.scene.kinds import KINDS, Wrong
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.sections import belongs, other_kind, place_of
from fdtd.scene.tables import REQUIRED, Field
from fdtd.scene.text import did_you_mean, nearest, quoted, show

T = TypeVar("T")


def read_table(entry: Entry, fields: Iterable[Field], report: Report) -> dict[str, Any]:
    """Values of the right keys of `entry`; optional ones that are absent get their default."""
    known = {f.key: f for f in fields}
    values: dict[str, Any] = {}
    of_other_kind = _tell_unknown(entry, known, report)
    for field in known.values():
        if field.key not in entry.values:
            if field.default is REQUIRED:
                if not of_other_kind:
                    report.mistake(entry, None, f'key "{field.key}" is missing; give {describe(field)}')
            else:
                values[field.key] = field.default
            continue
        try:
            values[field.key] = KINDS[field.form][0](field, entry.values[field.key])
        except Wrong as wrong:
            for text, sub in wrong.faults:
                report.mistake(entry, field.key, text, sub)
    return values


def complete(values: Mapping[str, Any], fields: Iterable[Field]) -> bool:
    """Whether `values` has every one of `fields`: those with a mistake are left out."""
    return all(field.key in values for field in fields)


def only_one(entry: Entry, keys: Iterable[str], report: Report, missing: str = "") -> str | None:
    """The key of `keys` that `entry` has; None after a mistake: several, or none (`missing` says what then)."""
    given = [key for key in keys if key in entry.values]
    if not given:
        report.mistake(entry, None, missing)
    if len(given) > 1:
        report.mistake(entry, given[1], f'found both "{given[0]}" and "{given[1]}"; keep one of them')
    return given[0] if len(given) == 1 else None


def made(cls: Callable[..., T], values: Mapping[str, Any], **own: Any) -> T:
    """The dataclass `cls` of the `values` whose keys are its fields, and of `own` ones made from others."""
    keys = inspect.signature(cls).parameters.keys() - own.keys()
    return cls(**{key: value for key, value in values.items() if key in keys}, **own)


def _tell_unknown(entry: Entry, known: dict[str, Field], report: Report) -> bool:
    """Report the keys that `known` lacks; True if the table seems to be written for another kind."""
    unknown = [key for key in entry.values if key not in known]
    others, kinds = other_kind(entry, unknown)
    missing = [f.key for f in known.values() if f.default is REQUIRED and f.key not in entry.values]
    if len(others) == 1 and nearest(others[0], missing):
        others = []  # "mass" for "moving_mass"
    if others:
        kind = entry.values.get("kind")
        remedy = f"they are keys of kind {kinds}" if len(others) > 1 else f"it is a key of kind {kinds}"
        needs = f", and kind {show(kind)} needs {quoted(missing)}" if missing else ""
        change = f"change the kind or leave {'them' if len(others) > 1 else 'it'} out" if kind else "give the kind"
        report.mistake(entry, others[0], f"found {quoted(others)}, with no meaning here; {remedy}{needs}: {change}")
    for key in unknown:
        if key not in others:
            remedy = belongs(place_of(entry), key) or did_you_mean(key, known, "known keys")
            report.mistake(entry, key, f"found a key that has no meaning here; {remedy}")
    return bool(others)


def describe(field: Field) -> str:
    """What to write for a field: its form, meaning and unit."""
    form = KINDS[field.form][1]
    if field.choices:
        return f"one of {quoted(field.choices)}: {field.help}"
    return f"{form}: {field.help}{field.in_unit}"
