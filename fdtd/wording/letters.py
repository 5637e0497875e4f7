"""Numbers in letters, lists and sentences put together."""

from __future__ import annotations

from collections.abc import Sequence

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
ORDINALS = ("", "first", "second", "third", "fourth", "fifth", "sixth")


def number(value: int) -> str:
    """In letters as far as that is usual."""
    return NUMBERS[value] if value < len(NUMBERS) else str(value)


def listed(names: Sequence[str]) -> str:
    """'a, b and c'."""
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + f" and {names[-1]}"


def capital(text: str) -> str:
    """`text` as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def units_counted(count: int) -> str:
    """'1 unit', '2 units'."""
    return "1 unit" if count == 1 else f"{count} units"
