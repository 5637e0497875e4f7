"""Pieces of a line of HTML: names, sentences, numbers. What comes from outside is escaped here and in templates."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Sequence
from itertools import groupby

# Every other file of the report finds it here.
from markupsafe import Markup as Markup
from markupsafe import escape

from fdtd.show.text import plain_text
from fdtd.wording.names import shown
from fdtd.wording.seats import format_time

NAME, PARAGRAPH = 60, 6000
"""Characters that a name, and a paragraph, may have at most."""
GLUE = "\N{NO-BREAK SPACE}"


def escaped(value: object, limit: int = PARAGRAPH) -> Markup:
    """`value` escaped for text and attributes alike; marks that turn the direction of writing, control characters and
    halves of characters are left out, lines are kept."""
    kept = "".join(c for c in str(value)[: 2 * limit] if c == "\n" or not _unwelcome(c))
    if len(kept) > limit:
        kept = kept[: limit - 1] + "…"
    return escape(kept)


def _unwelcome(character: str) -> bool:
    # Cf holds the bidirectional controls and zero-width marks; noncharacters are Cn.
    return unicodedata.category(character) in ("Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp")


def name(value: object, limit: int = NAME) -> Markup:
    """A name that a user gave, on one line, its direction of writing kept to itself."""
    return Markup(f"<bdi>{escaped(plain_text(value, limit))}</bdi>")


def quoted(value: object) -> Markup:
    """A user's name in quotation marks."""
    return Markup(f"“{name(value)}”")


def prose(text: str) -> Markup:
    """A sentence of the program's own (wording/), with its names and commands marked up."""
    together = text.replace(" %", "\N{NO-BREAK SPACE}%")  # a number stays with its sign
    return Markup(shown(together, quoted, Markup("<code>{}</code>").format, escaped))


def paragraphs(text: str) -> Markup:
    """Lines of the program's own: those that are indented become a list under the line before."""
    made = []
    for indented, lines in groupby(filter(str.strip, text.splitlines()), key=lambda line: line.startswith(" ")):
        if indented:
            made.append(listed(prose(line.strip().removeprefix("- ")) for line in lines))
        else:
            made += [Markup("<p>{}</p>").format(prose(line.strip())) for line in lines]
    return Markup("").join(made)


def data(value: float, text: str, key: str = "") -> Markup:
    """`told` for people, the exact value for programs; key : what it is, as attribute data-of"""
    of = Markup(' data-of="{}"').format(key) if key else ""
    return Markup('<data value="{!r}"{}>{}</data>').format(value, of, text)


def number(value: float, decimals: int = 1, unit: str = "", signed: bool = False, key: str = "") -> Markup:
    """A number for people, with the exact one for programs."""
    if not math.isfinite(value):
        return data(float(value), "–" if math.isnan(value) else "any" if value > 0 else "none", key)
    shown = round(value, decimals) + 0.0
    text = f"{shown:{'+' if signed else ''}.{decimals}f}".replace("-", "\N{MINUS SIGN}")
    return data(float(value), text + (GLUE + unit if unit else ""), key)


def seconds(value: float, key: str) -> Markup:
    """A time, its exact value marked for programs if `key` names it."""
    text = format_time(value, 0.0).replace(" ", GLUE)
    return data(float(value), text, key) if key else Markup(text)


def spot(number: int) -> Markup:
    """The number of a spot."""
    return data(number, str(number), "spot")


def percent(share: float, signed: bool = True, key: str = "") -> Markup:
    """A share as per cent; the exact share for programs."""
    if not math.isfinite(share):
        return data(float(share), "–", key)
    text = f"{round(100 * share) + 0:{'+' if signed else ''}d}".replace("-", "\N{MINUS SIGN}")
    return data(float(share), f"{text}{GLUE}%", key)


def joined(items: Sequence[object]) -> Markup:
    """'3', '3 and 7', '3, 7 and 9'."""
    *first, last = (escape(item) for item in items)
    return Markup("{} and {}").format(Markup(", ").join(first), last) if first else Markup(last)


def listed(items: Iterable[str]) -> Markup:
    """A list."""
    return Markup("<ul>{}</ul>").format(Markup("").join(Markup("<li>{}</li>").format(item) for item in items))
