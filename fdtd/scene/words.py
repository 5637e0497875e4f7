"""Words for messages: values as a person wrote them, nearest names, lists, lengths."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Any

_LONGEST = 90
"""Characters of a found value that a message shows."""


def show(value: Any) -> str:
    """`value` much as it was written in the file, shortened if it is long."""
    text = _toml(value, 0)
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."


def _toml(value: Any, depth: int) -> str:
    if depth > 5:
        return "..."
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) >= 10**30:
        return "a whole number of more than 30 digits"
    if isinstance(value, str):
        return '"' + "".join(c if c.isprintable() else " " for c in value[:_LONGEST]) + '"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(v, depth + 1) for v in value[:20]) + (", ..." if len(value) > 20 else "") + "]"
    if isinstance(value, dict):
        pairs = (f"{_clip(k)} = {_toml(v, depth + 1)}" for k, v in list(value.items())[:10])
        return "{ " + ", ".join(pairs) + " }" if value else "{ }"
    return str(value)


def _clip(key: str) -> str:
    return "".join(c if c.isprintable() else " " for c in key[:40])


def quoted(names: Iterable[str], limit: int = 12) -> str:
    """The names in quotes, separated by commas, at most `limit` of them."""
    names = list(names)
    return ", ".join(show(n) for n in names[:limit]) + (", ..." if len(names) > limit else "")


def did_you_mean(name: str, known: Iterable[str], what: str) -> str:
    """A remedy for an unknown `name`: the nearest known ones, or all of them if none is near.

    what : what the known ones are, in the plural ("known keys").
    """
    names = list(dict.fromkeys(known))
    lower = {n.lower(): n for n in reversed(names)}
    near = [lower[n] for n in difflib.get_close_matches(name[:80].lower(), list(lower), n=2, cutoff=0.55)]
    if near:
        return f"did you mean {' or '.join(show(n) for n in near)}?"
    return f"{what}: {quoted(names)}" if names else f"there are no {what}"


def number(value: float) -> str:
    """A number to six digits, without needless zeros."""
    return f"{value + 0.0:.6g}"


def numbers(values: Iterable[float]) -> str:
    """[1, 2.5] from (1.0, 2.5)."""
    return "[" + ", ".join(number(v) for v in values) + "]"
