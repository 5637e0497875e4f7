"""Words for messages: values as a person wrote them, nearest names, lists, lengths."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from typing import Any

from fdtd.errors import visible
from fdtd.scene.words import parts_for, terms_for

_LONGEST = 90
"""Characters of a found value that a message shows."""


def show(value: Any) -> str:
    """`value` much as it was written in the file, shortened if it is long."""
    text = _toml(value, 0)
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."


def one_line(text: str) -> str:
    """`text` on one line, without control characters and marks that change the direction of writing."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _toml(value: Any, depth: int) -> str:
    if depth > 5:
        return "..."
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) >= 10**30:
        return "a whole number of more than 30 digits"
    if isinstance(value, str):
        return f'"{visible(value, _LONGEST)}"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(v, depth + 1) for v in value[:20]) + (", ..." if len(value) > 20 else "") + "]"
    if isinstance(value, dict):
        pairs = (f"{visible(k, 40)} = {_toml(v, depth + 1)}" for k, v in list(value.items())[:10])
        return "{ " + ", ".join(pairs) + " }" if value else "{ }"
    return str(value)


def quoted(names: Iterable[str], limit: int = 12) -> str:
    """The names in quotes, separated by commas, at most `limit` of them."""
    names = list(names)
    return ", ".join(show(n) for n in names[:limit]) + (", ..." if len(names) > limit else "")


def did_you_mean(name: str, known: Iterable[str], what: str) -> str:
    """A remedy for an unknown `name`: the nearest known ones, or all of them (the likest first) if none is near.

    what : what the known ones are, in the plural ("known keys").
    """
    names = list(dict.fromkeys(known))
    near = nearest(name, names)
    if near:
        return f"did you mean {' or '.join(show(n) for n in near)}?"
    if len(names) > _MOST_LISTED:
        names.sort(key=lambda n: -_likeness(name[:80].lower(), n.lower()))
    return f"{what}: {quoted(names)}" if names else f"there are no {what}"


def nearest(name: str, known: Iterable[str]) -> list[str]:
    """Up to three of the `known` names that `name` may stand for; none if nothing is near.

    In this order: the same words in another order or case, the trade's word for it, nearly the same spelling, the
    trade's word for its last word ("left speaker"), a word in common, some likeness of spelling.
    """
    names, wanted = list(dict.fromkeys(known)), name[:80].lower()
    same = [n for n in names if sorted(_parts(n)) == sorted(_parts(wanted))]
    trade = [term for term in terms_for(wanted) if term in names]
    if same or trade:
        return same[:2] or trade[:2]
    lower = {n.lower(): n for n in reversed(names)}
    close = difflib.get_close_matches(wanted, list(lower), n=2, cutoff=_CLOSE)
    last = [term for term in terms_for(_parts(wanted)[-1]) if term in names] if _parts(wanted) and not close else []
    if last:
        return last[:2]
    shared = {n: _shared(wanted, n) for n in names} if not close else {}
    best = max(shared.values(), default=0)
    if best:
        alike = [n for n in names if shared[n] >= max(best - 1, 1)]
        meant = " ".join((parts_for(part) or [part])[0] for part in _parts(wanted))
        return sorted(alike, key=lambda n: (-shared[n], -_likeness(meant, n.lower())))[:3]
    some = _SOME if len(wanted) > 3 else _SHORT  # "oak" is half of "sofa"
    return [lower[n] for n in close or difflib.get_close_matches(wanted, list(lower), n=2, cutoff=some)]


_CLOSE, _SHORT, _SOME = 0.8, 0.65, 0.55
"""Likeness of spelling from which a name is a slip of the pen, and from which it may be: short words, others."""

_MOST_LISTED = 12

_SMALL = {"the", "and", "with", "for", "off", "under", "against", "wall"}
"""Words that say little about which name is meant."""


def _likeness(a: str, b: str) -> float:
    return difflib.SequenceMatcher(None, a, b).ratio()


def _parts(name: str) -> list[str]:
    return re.findall(r"[^\W_]+", name.lower())


def _shared(wanted: str, name: str) -> int:
    """How many words of `wanted` are in `name`, as words or beginnings: two for each, one for another word for it."""
    there = [p for p in _parts(name) if len(p) > 2]
    count = 0
    for part in _parts(wanted):
        if len(part) > 2 and not part.isdigit() and part not in _SMALL:
            count += 2 * _among(part, there) or any(_among(m, there) for m in parts_for(part))
    return count


def _among(word: str, there: list[str]) -> bool:
    return any(p.startswith(word) or (len(p) > 3 and word.startswith(p)) for p in there)


def number(value: float) -> str:
    """A number to six digits, without needless zeros."""
    return f"{value + 0.0:.6g}"


def numbers(values: Iterable[float]) -> str:
    """[1, 2.5] from (1.0, 2.5)."""
    return "[" + ", ".join(number(v) for v in values) + "]"
