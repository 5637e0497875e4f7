"""Lengths as people write them, with a unit: what they are in metres."""

from __future__ import annotations

import re

_NUMBER = r"\d+(?:[.,]\d+)?|[.,]\d+"
_FEET = r"(?:'|′|’|ft\.?|feet|foot)"
_INCHES = r"(?:''|\"|″|”|in\.?|inch(?:es)?)"
_PLAIN = {"m": 1.0, **dict.fromkeys(("metre", "metres", "meter", "meters"), 1.0), "cm": 1e-2, "mm": 1e-3, "km": 1e3}
_FOOT, _INCH = 0.3048, 0.0254

LENGTH = re.compile(
    rf"(?P<sign>[+-]?)(?:(?P<feet>{_NUMBER})\s*{_FEET}(?:\s*-?\s*(?P<and>{_NUMBER})\s*(?:{_INCHES})?)?"
    rf"|(?P<inches>{_NUMBER})\s*{_INCHES}"
    rf"|(?P<plain>{_NUMBER})\s*(?P<unit>{'|'.join(sorted(_PLAIN, key=len, reverse=True))}))(?![\w.'\"])",
    re.IGNORECASE,
)
"""A number with a unit of length: 4.2 m, 420cm, 13 ft, 13'9"."""


def unit_on_each(text: str) -> str:
    """`text` with the unit of its last number behind every number, if only that has one: 5 m x 4 m for 5 x 4 m."""
    lengths = list(LENGTH.finditer(text))
    if len(lengths) != 1 or re.search(r"\d", text[lengths[0].end() :]):
        return text
    (last,) = lengths
    unit = last["unit"] or ("ft" if last["feet"] else "in")
    before = re.sub(rf"[+-]?(?:{_NUMBER})", rf" \g<0> {unit} ", text[: last.start()])
    return f"{before} {text[last.start() :]}"


def metres(text: str) -> float | None:
    """The length in m that `text` says with a unit, to the millimetre; None if it is no length with a unit."""
    found = LENGTH.fullmatch(text.strip())
    return None if found is None else metres_of(found)


def metres_of(found: re.Match[str]) -> float:
    """The length in m of a match of `LENGTH`, to the millimetre (feet and inches: to the centimetre)."""
    sign = -1.0 if found["sign"] == "-" else 1.0
    if found["plain"]:
        return round(sign * _value(found["plain"]) * _PLAIN[found["unit"].lower()], 3)
    if found["inches"]:
        return round(sign * _value(found["inches"]) * _INCH, 2)
    return round(sign * (_value(found["feet"]) * _FOOT + _value(found["and"] or "0") * _INCH), 2)


def _value(text: str) -> float:
    return float(text.replace(",", "."))
