"""What is wrong with a text that is not TOML, line by line, in the words of somebody who types a room.

The standard parser stops at its first fault, and often far from it: at the end of a list that was never closed. This
looks at every line, and tells of all that can't be right in TOML.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from fdtd.scene.kinds import NUMERIC
from fdtd.scene.lengths import LENGTH, metres_of
from fdtd.scene.sections import heading, meant_section
from fdtd.scene.slips import in_unit, same_unit
from fdtd.scene.syntax_lines import BLANK, Line, split_lines
from fdtd.scene.tables import SECTIONS, TABLES, THINGS, Field
from fdtd.scene.text import number, show

_MOST, _LONGEST, _LINES = 20, 500, 5000
"""Faults told at once; characters of a line and lines of a text that are looked at: no person types more."""

_LENGTH = re.compile(r"(?<![\w.])" + LENGTH.pattern, re.IGNORECASE)
_UNIT = re.compile(
    r"(?<![\w.:-])([+-]?\d[\d.]*)\s*(?!e[+-]?\d|[xbo][\da-f]|T\d)([a-z°%µμΩ][\w°%²³/·*^]*)", re.IGNORECASE
)
_SPACED = re.compile(r"\s*(\w+(?: +\w+)+)\s*=(?!=)")
_WORD = re.compile(r"[A-Za-z_][\w .-]*")
_TYPOGRAPHIC = dict(zip("“”„«»‘’−–，；＝", '"""""\'\'--,;=', strict=True))
"""Characters that a text editor or a keyboard puts in, and what they stand for."""


def syntax_faults(text: str) -> list[tuple[int, str]]:
    """(line, what was found and what would be right) of every fault that this knows of, in the order of the lines."""
    if text.count("\n") > _LINES:
        return []
    lines, unclosed = split_lines(text)
    found: dict[int, str] = {}
    for line in lines:
        if line.plain.strip() and len(line.plain) <= _LONGEST:
            found[line.number] = next((sentence for rule in _RULES if (sentence := rule(line))), "")
    open_brackets = ((n, "a bracket that is opened here is not closed") for n in unclosed)
    for at, sentence in [*_commas(lines), *_repeated(lines), *open_brackets]:
        found[at] = found.get(at) or sentence
    faults = [
        (n, f"found {show(lines[n - 1].text.strip())}; {sentence}") for n, sentence in sorted(found.items()) if sentence
    ]
    return faults[:_MOST]


def _lengths(line: Line) -> str:
    lengths = [m for m in _LENGTH.finditer(line.value) if _field(line, m.start(), "m").unit == "m"]
    said = [f"{number(metres_of(m))} for {m[0].strip()}" for m in lengths]
    return f"lengths are in metres, without a unit: write {', '.join(said)}" if said else ""


def _other_units(line: Line) -> str:
    unit = _UNIT.search(line.value)
    if not unit:
        return ""
    field = _field(line, unit.start(), "")
    if not field.key:
        return "numbers stand without a unit, in the one that the key has (docs/scene-reference.md)"
    if field.unit and same_unit(unit[2], field.unit):
        return f'numbers stand without a unit: leave out "{unit[2]}"'
    text = f'numbers stand without a unit, and "{field.key}" is {f"in {field.unit}" if field.unit else "a pure number"}'
    part_of_a_number = line.value[: unit.start()].endswith(",")  # 0,2 kHz
    value = None if part_of_a_number else in_unit(unit[1], unit[2], field)
    return text if value is None else f"{text}: write {number(value)} for {unit[0].strip()}"


def _field(line: Line, at: int, unit: str) -> Field:
    """The field of the key that a number `at` in the value of `line` belongs to; without a name if that is not known.

    unit : of a field that is not known
    """
    before = line.plain[: len(line.plain) - len(line.value) + at]
    keys = re.findall(r"([\w-]+)\s*=(?!=)", before)
    fields = _FIELDS.get(keys[-1], []) if keys else []
    return fields[0] if len({field.unit for field in fields}) == 1 else Field("", "number", "", unit)


_FIELDS: dict[str, list[Field]] = {}
"""Key -> the fields of that name that hold numbers."""
for _table in TABLES.values():
    for _each in _table:
        if _each.form in NUMERIC:
            _FIELDS.setdefault(_each.key, []).append(_each)


def _characters(line: Line) -> str:
    for char in line.plain:
        if char in _TYPOGRAPHIC:
            return f"{char} is not a character of the format: write {_TYPOGRAPHIC[char]}"
        if char not in " \t\r" and char.isspace():
            return "there is a character that only looks like a space: type it anew"
    return ""


def _quotes(line: Line) -> str:
    return "a quotation mark is missing" if line.open_quote else ""


def _heading(line: Line) -> str:
    if not line.is_heading:
        return ""
    inner = line.plain.strip().strip("[]").strip()
    name, _, rest = inner.partition(".")
    section = name.strip() if name.strip() in SECTIONS else meant_section(name.strip())
    double = not rest and section in (*THINGS, "variants")
    if re.search(r"\w +\w", rest):
        return f'a name with spaces needs quotes in a heading: write [{name}."{rest}"]'
    brackets = re.fullmatch(r"\s*(\[{1,2})[^\[\]]+(\]{1,2})", line.plain)
    if not brackets or len(brackets[1]) != len(brackets[2]):
        typed = line.text[: len(line.plain)].strip().strip("[]").strip()
        meant = heading(section) if section and not rest else f"[{typed}]"
        return f"a heading has the same brackets before and behind it: write {meant}"
    if double and len(brackets[1]) == 1:
        return f"it is a list of tables: write {heading(section)}, with two brackets, above each"
    return ""


def _equals(line: Line) -> str:
    if line.is_heading:
        return ""
    colon = re.match(r"\s*([\w-]+|\"[^\"]*\")\s*:", line.plain) if not line.deep else None
    colon = colon or re.search(r"[{,]\s*([\w-]+)\s*:", line.plain)
    if colon:
        return f"an equals sign stands between a key and its value, not a colon: write {_typed(line, colon, 1)} = .."
    if line.deep or "=" in line.plain:
        return "" if line.deep or line.value.strip() else "the value behind the equals sign is missing"
    pair = re.fullmatch(r"\s*([A-Za-z_]\w*)\s+(.+)", line.plain)
    if pair and not pair[1].isupper():
        return f"an equals sign is missing: write {pair[1]} = {line.text[pair.start(2) : pair.end(2)]}"
    return "a line is a key, an equals sign and a value; a comment begins with #"


def _keys(line: Line) -> str:
    spaced = _SPACED.match(line.plain) if not line.deep else None
    if not spaced:
        return ""
    key = spaced[1]
    return f'a key has no spaces, or quotes around it: write "{key}" or {re.sub(" +", "_", key)}'


def _values(line: Line) -> str:
    if line.deep or line.is_heading:
        return _in_lists(line.value)
    value = line.value.strip()
    comma = re.fullmatch(r"([+-]?\d+),(\d+)", value)
    if comma:
        return f"numbers have a decimal point, not a comma: write {comma[1]}.{comma[2]}"
    closed = value.count("[") == value.count("]") and value.count("{") == value.count("}")
    if value.endswith((",", ";")) and closed:
        return f"nothing stands behind a value: leave out the {value[-1]}"
    if re.search(r"[\]}\"\w]\s*(//|--)", value):
        return "a comment begins with #"
    if value.startswith("("):
        return "a list stands in square brackets: write [..]"
    word = value.rstrip(' ,;"')
    if _WORD.fullmatch(word) and word not in ("true", "false", "inf", "nan"):
        return f'text stands in quotes: write "{word}"'
    if re.fullmatch(r"[+-]?[\d.]+(?:\s*,\s*[+-]?[\d.]+|\s+[+-]?[\d.]+)+", value):
        return f"several numbers stand in square brackets, with commas: write [{', '.join(re.split('[ ,]+', value))}]"
    return _in_lists(value) or _digits(value)


def _in_lists(value: str) -> str:
    apart = re.search(r"([+-]?\d[\d.]*)[ \t]+([+-]?[\d.]+)", value)
    if apart:
        return f"a comma is missing between {apart[1]} and {apart[2]}"
    if re.search(r"\d\s*;", value):
        return "numbers in a list are separated by commas, not semicolons"
    if re.search(rf'[\]}}]\s*[\[{{]|"\s+"(?!{BLANK}*"\s*=)|["\]}}\d]\s+[A-Za-z_"][\w{BLANK}"]*\s*=', value):
        return "a comma is missing between two values"
    return ""


_DIGITS = ((r"([+-]?)(\.\d+)", r"\g<1>0\2"), (r"([+-]?\d+)\.", r"\1.0"), (r"([+-]?)0+(\d[\d.]*)", r"\1\2"))
"""A number that is not one in TOML, and how it is written."""


def _digits(value: str) -> str:
    for pattern, write in _DIGITS:
        found = re.fullmatch(pattern, value)
        if found:
            return f"numbers have digits on both sides of the point and no zeros before: write {found.expand(write)}"
    return ""


_RULES: tuple[Callable[[Line], str], ...] = (
    _lengths,
    _characters,
    _quotes,
    _heading,
    _equals,
    _keys,
    _values,
    _other_units,
)
"""The first that finds something tells of a line."""


def _typed(line: Line, found: re.Match[str], group: int) -> str:
    return line.text[found.start(group) : found.end(group)].strip()


def _commas(lines: list[Line]) -> Iterator[tuple[int, str]]:
    """Items of a list that end a line without the comma before the next, and braces over several lines."""
    for line, after in zip(lines[:-1], lines[1:], strict=True):
        if after.deep.endswith("{"):
            yield after.opened[-1], "what is in braces stands on one line"
        elif after.deep and line.deep and line.plain[-1:] in set(']}"0123456789'):
            if after.plain.lstrip()[:1] in tuple('[{"+-0123456789'):
                yield line.number, "a comma is missing at the end of the line"


def _repeated(lines: list[Line]) -> Iterator[tuple[int, str]]:
    """Keys and tables that are given twice."""
    tables: dict[str, int] = {}
    keys: dict[str, int] = {}
    for line in lines:
        if line.is_heading:
            keys = {}
            name = line.text[: len(line.plain)].strip()
            if name.startswith("[["):  # another entry of the list, which has tables of its own
                inside = f"[{name.strip('[] ')}."
                tables = {table: at for table, at in tables.items() if not table.startswith(inside)}
            elif name in tables:
                yield line.number, f"this table is given twice (first: line {tables[name]}): put all its keys into one"
            tables.setdefault(name, line.number)
        elif not line.deep and "=" in line.plain:
            key = line.text[: line.plain.index("=")].strip()
            if key in keys:
                yield line.number, f"this key is given twice (first: line {keys[key]}): keep one of them"
            keys.setdefault(key, line.number)
