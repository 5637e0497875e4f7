"""What people call things that the scene file calls otherwise: other words and their terms here, from `words.toml`."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

WORDS: Mapping[str, dict[str, Any]] = tomllib.loads(
    files("fdtd.scene").joinpath("words.toml").read_text(encoding="utf-8")
)

TERMS: dict[str, tuple[str, ...]] = {}
"""Other word, in lower case -> the terms here."""
for _group in ("choices", "keys", "tables"):
    for _term, _others in WORDS[_group].items():
        for _word in _others.split(", "):
            TERMS[_word] = (*TERMS.get(_word, ()), _term)


def terms_for(word: str) -> tuple[str, ...]:
    """The terms that a word stands for: singular or plural, with spaces, hyphens or underscores, or with a number."""
    whole = " ".join(re.split(r"[\s_-]+", word.strip().lower()))
    plain = whole.rstrip(" 0123456789")
    forms = [whole, plain, plain.removesuffix("s"), plain.removesuffix("es")]
    if plain.endswith("ves"):
        forms.append(f"{plain[:-3]}f")
    return next((TERMS[form] for form in forms if form in TERMS), ())


def parts_for(word: str) -> list[str]:
    """Words that the names of surfaces have for a `word` inside a name."""
    return [part for part in WORDS["surfaces"].get(word, "").split(", ") if part]


def _by_word(group: str) -> dict[str, str]:
    return {word: term for term, others in WORDS[group].items() for word in others.split(", ")}


POLARITY = _by_word("polarity")
"""Word -> 1 or -1."""

SPELLINGS = _by_word("spellings")
"""Other spelling of a unit -> unit."""

_FILTER = re.compile(r"(lr|linkwitz[ -]?riley|bw|butterworth)[ -]?(\d{1,2})")


def filter_meant(word: str) -> tuple[str, int] | None:
    """(kind, order) of a crossover in short hand, 'LR4' or 'BW24'; two digits are dB an octave, 6 an order."""
    found = _FILTER.fullmatch(word.strip().lower())
    if not found:
        return None
    size = int(found[2])
    order = size // 6 if size >= 12 and size % 6 == 0 else size
    return ("linkwitz-riley" if found[1].startswith("l") else "butterworth"), order
