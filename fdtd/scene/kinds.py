"""Kinds of fields: how a value of each kind is checked and turned into what the program uses."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterable
from functools import partial
from typing import Any, TypeVar

from fdtd.physics.admittance import Branch
from fdtd.scene.lengths import metres
from fdtd.scene.locate import KeyPath
from fdtd.scene.schema import Rectangle
from fdtd.scene.slips import unit_slip
from fdtd.scene.tables import TABLES, Field
from fdtd.scene.text import did_you_mean, nearest, number, show
from fdtd.scene.words import POLARITY, filter_meant

FARTHEST = 100.0
"""Largest coordinate in m; a larger one is a slip of the pen, or a room in cm, which would take hours to cut."""

TOO_FAR = f"coordinates are in m and at most {FARTHEST:.0f}; are these cm or mm?"

FARTHEST_IN_MM = 1000.0 * FARTHEST
"""Largest number of a place that is compared with the room."""

LONGEST_LIST = 500

MOST_ABSORPTION = 0.95
"""Random-incidence absorption that a surface which reacts locally with a real admittance can have."""

NEAREST_BANDS = 1.2
"""Ratio of neighbouring centres below which they can't be third octaves (nominal ones are 1.25 apart: IEC 61260-1)."""

HIGHEST_BAND = 500.0
"""Hz: bands above it are read and not used; the results end below it."""

T = TypeVar("T")


class Wrong(Exception):
    """A value that is not what the field asks for; `faults` are texts with the paths inside the field's value."""

    def __init__(self, found: Any, remedy: str, sub: KeyPath = ()) -> None:
        super().__init__(remedy)
        self.faults: list[tuple[str, KeyPath]] = [(f"found {show(found)}; {remedy}", sub)]


def _each(items: Iterable[Any], read: Callable[[Any, int], T]) -> tuple[T, ...]:
    """Read every item; if some are wrong, tell of all of them."""
    good: list[T] = []
    wrong: list[Wrong] = []
    for i, item in enumerate(items):
        try:
            good.append(read(item, i))
        except Wrong as fault:
            wrong.append(fault)
    if wrong:
        wrong[0].faults = [told for fault in wrong for told in fault.faults]
        raise wrong[0]
    return tuple(good)


def _number(field: Field, value: Any, sub: KeyPath = ()) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        remedy = f"a number is needed ({field.short}{field.in_unit})"
        if isinstance(value, str) and value.strip().replace(",", ".", 1).replace(".", "", 1).isdecimal():
            remedy += ", without quotes and with a decimal point"
        length = metres(value) if isinstance(value, str) and field.unit == "m" else None
        if length is not None:
            remedy += f": write {number(length)}"
        raise Wrong(value, remedy, sub)
    if isinstance(value, int) and abs(value) > 10**300 or not math.isfinite(value):
        raise Wrong(value, f"a finite number is needed ({field.short}{field.in_unit})", sub)
    if 0.0 < abs(value) < sys.float_info.min:
        raise Wrong(value, f"that is too close to zero ({field.short}{field.in_unit}): write 0", sub)
    if value < field.low or value > field.high or (field.above and value == field.low):
        raise Wrong(value, f"the {field.short} must be {field.range}{unit_slip(field, value)}", sub)
    return float(value)


def _integer(field: Field, value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise Wrong(value, f"a whole number is needed ({field.short})")
    return int(_number(field, value))


def _text(field: Field, value: Any) -> str:
    if not isinstance(value, str):
        raise Wrong(value, f"text in quotes is needed ({field.short})")
    if len(value) > 5000:
        raise Wrong(value, f"the text is {len(value)} characters long; at most 5000 are taken")
    return value


def name_fault(value: Any) -> str:
    """What is wrong with a name, as a remedy; "" if nothing is."""
    if not isinstance(value, str):
        return "a name is text in quotes"
    if not value.strip():
        return "a name must not be empty"
    if len(value) > 80:
        return f"a name has at most 80 characters, this one has {len(value)}"
    if not value.isprintable():
        return "a name has no line breaks or control characters"
    if value != value.strip():
        return f"a name must not begin or end with a space: write {show(value.strip())}"
    return ""


def _name(field: Field, value: Any, sub: KeyPath = ()) -> str:
    fault = name_fault(value)
    if fault:
        raise Wrong(value, fault, sub)
    return str(value)


def _choice(field: Field, value: Any) -> Any:
    for choice in field.choices:
        if not isinstance(value, bool) and value == choice:
            return choice
    remedy = f"the {field.short} must be {' or '.join(show(c) for c in field.choices)}"
    raise Wrong(value, remedy + (_near(value, field.choices) if isinstance(value, str) else ""))


def _near(value: str, choices: tuple[Any, ...]) -> str:
    """'; did you mean ..?' for the choice that a word stands for, "" if that is not clear."""
    if choices == (1, -1):
        meant = POLARITY.get(value.strip().lower())
        return f"; did you mean {meant} (a number, without quotes)?" if meant else ""
    short = filter_meant(value)
    if short and short[0] in choices:
        return f"; did you mean kind = {show(short[0])} with order = {short[1]}?"
    text = nearest(value, [c for c in choices if isinstance(c, str)])
    return f"; did you mean {' or '.join(show(w) for w in text)}?" if text else ""


def _point(field: Field, value: Any, sub: KeyPath = (), size: int = 3) -> tuple[float, ...]:
    if not isinstance(value, list) or len(value) != size:
        remedy = f"{size} numbers in square brackets are needed ({field.short}{field.in_unit})"
        if isinstance(value, list) and len(value) == 2 * size and all(isinstance(v, int) for v in value):
            remedy += ", with a decimal point in them and not a comma"
        raise Wrong(value, remedy, sub)
    numbers = tuple(_number(field, v, sub) for v in value)
    if max(abs(n) for n in numbers) > (FARTHEST_IN_MM if field.in_room else FARTHEST):
        raise Wrong(value, TOO_FAR, sub)
    return numbers


def _list_of(read: Callable[..., T], what: str, least: int = 0) -> Callable[[Field, Any], tuple[T, ...]]:
    """A reader of a list of `what` in the plural, whose items are read by `read`."""

    def items(field: Field, value: Any) -> tuple[T, ...]:
        name = what.format(field.short)
        if not isinstance(value, list):
            raise Wrong(value, f"{name} in square brackets is needed")
        if not least <= len(value) <= LONGEST_LIST:
            raise Wrong(value, f"{name}: from {least} to {LONGEST_LIST} of them are needed, found {len(value)}")
        return _each(value, lambda item, i: read(field, item, (i,)))

    return items


def _plane(field: Field, value: Any, sub: KeyPath) -> tuple[tuple[float, ...], ...]:
    if not isinstance(value, list) or len(value) != 3:
        raise Wrong(value, "a plane is given by three points: [[x, y, z], [x, y, z], [x, y, z]]", sub)
    return _each(value, lambda point, i: _point(field, point, (*sub, i)))


def _table(field: Field, value: Any, sub: KeyPath = ()) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise Wrong(value, f"a table in braces is needed ({field.short})", sub)
    return value


def _inner(value: dict[str, Any], allowed: tuple[str, ...], sub: KeyPath) -> None:
    for key in value:
        if key not in allowed:
            raise Wrong(key, did_you_mean(key, allowed, "known keys"), (*sub, key))


def _pair(field: Field, value: Any, sub: KeyPath, what: str, needed: str) -> tuple[Any, Any]:
    """A table { from, to }; what : of which these are the ends, needed : what to give, for messages."""
    table = _table(field, value, sub)
    _inner(table, ("from", "to"), sub)
    if "from" not in table or "to" not in table:
        raise Wrong(value, f"{needed}: {{ from = [.., ..], to = [.., ..] }}", sub)
    point = Field("", "point2", what, "m")
    first, second = _each(("from", "to"), lambda key, _: _point(point, table[key], (*sub, key), 2))
    return first, second


def _opening(field: Field, value: Any, sub: KeyPath) -> Rectangle:
    return rectangle(*_pair(field, value, sub, "corner of the opening", "an opening needs two opposite corners"))


def _segment(field: Field, value: Any, sub: KeyPath) -> tuple[Any, Any]:
    return _pair(field, value, sub, "end of the line", "a line on the plan needs its two ends")


def rectangle(a: Any, b: Any) -> Rectangle:
    """The rectangle with the opposite corners a and b."""
    return Rectangle((min(a[0], b[0]), min(a[1], b[1])), (max(a[0], b[0]), max(a[1], b[1])))


def _branch(field: Field, value: Any, sub: KeyPath = ()) -> Branch:
    table = _table(field, value, sub)
    _inner(table, tuple(f.key for f in TABLES["branch"]), sub)
    numbers = _each(TABLES["branch"], lambda f, _: _number(f, table.get(f.key, 0.0), (*sub, f.key)))
    if not any(n > 1e-9 for n in numbers):
        raise Wrong(value, 'mass, resistance or stiffness must be above zero; a hard surface is "rigid"', sub)
    return Branch(*numbers)


_BAND = Field("band", "number", "centre of a band", "Hz", low=10.0, high=20000.0)
_SHARE = Field("absorption", "number", "absorption", low=0.0, high=1.5)


def _absorption(field: Field, value: Any) -> tuple[tuple[float, float], ...]:
    """((band's centre in Hz, absorption), ...) by rising frequency, of the bands that count."""

    def band(item: tuple[str, Any], _: int) -> tuple[float, float]:
        key, found = item
        try:
            centre = float(key)
        except ValueError:
            remedy = "a band is named by its centre in Hz, as in { 125 = 0.10, 250 = 0.06 }"
            raise Wrong(key, remedy, (key,)) from None
        if isinstance(found, dict):
            raise Wrong(key, 'a band with a decimal point needs quotes: "31.5" = 0.1', (key,))
        share = _number(_SHARE, found, (key,))
        if share > MOST_ABSORPTION:
            remedy = "enter 0.95: a surface that reacts locally absorbs no more; tables above it hold edge effects"
            raise Wrong(found, remedy, (key,))
        return _number(_BAND, centre, (key,)), share

    table = _table(field, value)
    if len(table) > 60:
        raise Wrong(value, f"at most 60 bands are taken, found {len(table)}")
    bands = sorted(_each(table.items(), band))
    _check_apart(table)
    if not any(centre <= HIGHEST_BAND for centre, _ in bands):
        remedy = f"at least one band up to {HIGHEST_BAND:.0f} Hz is needed, as in {{ 125 = 0.10, 250 = 0.06 }}"
        raise Wrong(value, remedy)
    return tuple((centre, share) for centre, share in bands if centre <= HIGHEST_BAND)


def _check_apart(bands: dict[str, Any]) -> None:
    """Raise Wrong at the second of two keys of `bands` that name one band."""
    keys = sorted(bands, key=float)
    for first, second in zip(keys[:-1], keys[1:], strict=True):
        if float(second) < NEAREST_BANDS * float(first):
            which = "one band twice" if float(second) == float(first) else "two centres less than a third octave apart"
            remedy = f"that is {which} (with {show(first)}); give each band once, by its nominal centre"
            raise Wrong(second, remedy, (second,))


_BRANCHES = "a list of branches, [{{ mass = .., resistance = .., stiffness = .. }}],"

KINDS: dict[str, tuple[Callable[[Field, Any], Any], str]] = {
    "number": (_number, "a number"),
    "integer": (_integer, "a whole number"),
    "text": (_text, "text in quotes"),
    "name": (_name, "a name in quotes"),
    "choice": (_choice, "a choice"),
    "point2": (partial(_point, size=2), "two numbers [.., ..]"),
    "point3": (_point, "three numbers [x, y, z]"),
    "points2": (_list_of(partial(_point, size=2), "a list of points ({})", 3), "a list of points [[x, y], ...]"),
    "planes": (_list_of(_plane, "a list of planes ({})", 1), "a list of planes, three points each"),
    "table": (_table, "a table { ... }"),
    "rectangles": (_list_of(_opening, "a list of tables ({})"), "a list of { from = [.., ..], to = [.., ..] }"),
    "segments": (_list_of(_segment, "a list of tables ({})"), "a list of { from = [x, y], to = [x, y] }"),
    "numbers": (_list_of(_number, "a list of numbers ({})", 1), "a list of numbers"),
    "branch": (_branch, "a table { mass = .., resistance = .., stiffness = .. }"),
    "branches": (_list_of(_branch, _BRANCHES, 1), "a list of tables [{ mass = .., resistance = .., stiffness = .. }]"),
    "absorption": (_absorption, "a table { 125 = .., 250 = .. }"),
    "names": (_list_of(_name, "a list of names ({})"), "a list of names"),
}
"""Kind of a field: its reader and its form in words."""

NUMERIC = ("number", "integer", "point2", "point3", "points2", "planes", "rectangles", "segments", "numbers")
"""Kinds whose numbers all have the unit of the field."""
