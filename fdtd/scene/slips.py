"""Slips of unit: what a number outside its range would be if it was written in a unit that is usual elsewhere."""

from __future__ import annotations

from collections.abc import Iterator

from fdtd.scene.tables import Field
from fdtd.scene.text import number
from fdtd.scene.words import SPELLINGS, WORDS

_LARGEST_SHARE = 1.5
"""A pure number up to this is a share, which people also give in per cent."""


def unit_slip(field: Field, value: float) -> str:
    """'; if it is 3200 g/m², write 3.2' for a number outside the range of `field`, or "" if no other unit helps."""
    meant = []
    for unit, factor, offset in _others(field):
        converted = value * factor + offset
        if field.low <= converted <= field.high and not (field.above and converted == field.low):
            meant.append(f"if it is {number(value)} {unit}, write {number(converted)}")
    return f"; {', '.join(meant)}" if value and meant else ""


def in_unit(text: str, unit: str, field: Field) -> float | None:
    """The number `text` with `unit` behind it in the unit of `field`; None for no number or an unknown unit."""
    for name, factor, offset in _others(field):
        if same_unit(unit, name):
            try:
                return float(text) * factor + offset
            except ValueError:
                return None
    return None


def same_unit(a: str, b: str) -> bool:
    """Whether two ways of writing a unit are the same: m2 and m², HZ and Hz, l and litres."""
    return _spelled(a) == _spelled(b)


def _spelled(unit: str) -> str:
    plain = unit.translate(_MARKS).lower()
    return SPELLINGS.get(plain, plain)


_MARKS = str.maketrans({"²": "2", "³": "3", "μ": "µ", "Ω": "ohm", "^": "", "·": "", "*": "", "°": ""})


def _others(field: Field) -> Iterator[tuple[str, float, float]]:
    """(unit, factor, offset) of the usual other units of what `field` holds."""
    unit = "share" if not field.unit and field.high <= _LARGEST_SHARE else field.unit
    for name, factor in WORDS["units"].get(unit, {}).items():
        yield (name, *factor) if isinstance(factor, list) else (name, factor, 0.0)


def length_slip(values: tuple[float, ...], largest: tuple[float, ...]) -> str:
    """'; if these are cm, write [0.6, 0.15, 0.6]' for lengths in m of which one is too large; "" if it does not help.

    values : m; largest : m, what each may be at most.
    """
    for unit, factor in (("cm", 1e-2), ("mm", 1e-3)):
        meant = [v * factor for v in values]
        if all(0.0 <= m <= most for m, most in zip(meant, largest, strict=True)) and max(values) >= 10.0:
            return f"; if these are {unit}, write [{', '.join(number(m) for m in meant)}]"
    return ""
