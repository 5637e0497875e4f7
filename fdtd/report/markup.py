"""HTML from plain pieces: everything that comes from outside is escaped here, and nowhere else."""

from __future__ import annotations

import html
import math
import re
import unicodedata
from collections.abc import Iterable, Sequence

from fdtd.show.text import plain_text

SHORT = 14
"""Rows of a table that is not broken over two printed pages."""
NAME, PARAGRAPH = 60, 6000
"""Characters that a name, and a paragraph, may have at most."""
GLUE = "\N{NO-BREAK SPACE}"
_OPTION = re.compile(r"(?<!\S)--[a-z][a-z-]*(?: \d+)?")
_QUOTED = re.compile(r"(?<!\w)'([^\n]+?)'(?!\w)")
"""A name between quotes; the apostrophe in 'Anna's chair' does not end it."""


class Markup(str):
    """Text that is HTML already."""


def safe(value: object, limit: int = PARAGRAPH) -> Markup:
    """`value` escaped for text and attributes alike; marks that turn the direction of writing, control characters and
    halves of characters are left out, lines are kept."""
    kept = "".join(c for c in str(value)[: 2 * limit] if c == "\n" or not _unwelcome(c))
    if len(kept) > limit:
        kept = kept[: limit - 1] + "…"
    return Markup(html.escape(kept, quote=True))


def _unwelcome(character: str) -> bool:
    # Cf holds the bidirectional controls and zero-width marks; noncharacters are Cn.
    return unicodedata.category(character) in ("Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp")


def name(value: object, limit: int = NAME) -> Markup:
    """A name that a user gave, on one line, its direction of writing kept to itself."""
    return Markup(f"<bdi>{safe(plain_text(value, limit))}</bdi>")


def quoted(value: object) -> Markup:
    """A user's name in quotation marks."""
    return Markup(f"“{name(value)}”")


def prose(text: str) -> Markup:
    """A sentence of the program's own; what stands in it between 'single quotes' are names."""
    pieces, at = [], 0
    for found in _QUOTED.finditer(text[:PARAGRAPH]):
        pieces += [_plain_prose(text[at : found.start()]), quoted(found.group(1))]
        at = found.end()
    return Markup("".join([*pieces, _plain_prose(text[at:PARAGRAPH])]))


def _plain_prose(text: str) -> str:
    """Options of the command line stay on one line."""
    return _OPTION.sub(r"<code>\g<0></code>", safe(text))


def paragraphs(text: str) -> Markup:
    """Lines of the program's own: those that are indented become a list under the line before."""
    made: list[str] = []
    items: list[str] = []

    def close() -> None:
        if items:
            made.append("<ul>" + "".join(f"<li>{item}</li>" for item in items) + "</ul>")
            items.clear()

    for line in text.splitlines():
        if line.startswith(" "):
            items.append(prose(line.strip().removeprefix("- ")))
        elif line.strip():
            close()
            made.append(f"<p>{prose(line.strip())}</p>")
    close()
    return Markup("".join(made))


def number(value: float, decimals: int = 1, unit: str = "", signed: bool = False, key: str = "") -> Markup:
    """A number for people, with the exact one for programs; key : what it is, as attribute data-of."""
    of = f' data-of="{safe(key)}"' if key else ""
    if not math.isfinite(value):
        told = "–" if math.isnan(value) else "any" if value > 0 else "none"
        return Markup(f'<data value="{value!r}"{of}>{told}</data>')
    shown = round(value, decimals) + 0.0
    told = f"{shown:{'+' if signed else ''}.{decimals}f}".replace("-", "\N{MINUS SIGN}")
    return Markup(f'<data value="{float(value)!r}"{of}>{told}{GLUE + unit if unit else ""}</data>')


def percent(share: float, signed: bool = True, key: str = "") -> Markup:
    """A share as per cent; the exact share for programs."""
    of = f' data-of="{safe(key)}"' if key else ""
    if not math.isfinite(share):
        return Markup(f'<data value="{share!r}"{of}>–</data>')
    told = f"{round(100 * share) + 0:{'+' if signed else ''}d}".replace("-", "\N{MINUS SIGN}")
    return Markup(f'<data value="{float(share)!r}"{of}>{told}{GLUE}%</data>')


def table(caption: str, header: Sequence[str], rows: Iterable[Sequence[str]], words: int = 1, kind: str = "") -> Markup:
    """A table; cells are HTML; the first `words` columns hold words and are flush left, the first one heads its row."""
    classes = ["w" if k < words else "n" for k in range(len(header))]
    head = "".join(f'<th scope="col" class="{c}">{cell}</th>' for c, cell in zip(classes, header, strict=True))
    body = []
    for row in rows:
        cells = [f'<th scope="row" class="w" data-label="{safe(_plain(header[0]))}">{row[0]}</th>']
        cells += [
            f'<td class="{c}" data-label="{safe(_plain(label))}"><span>{cell}</span></td>'
            for c, label, cell in zip(classes[1:], header[1:], row[1:], strict=True)
        ]
        body.append(f"<tr>{''.join(cells)}</tr>")
    size = " short" if len(body) <= SHORT else ""
    return Markup(
        f'<div class="table {kind}{size}" role="region" aria-label="{safe(_plain(caption))}" tabindex="0">'
        f"<table><caption>{caption}</caption><thead><tr>{head}</tr></thead><tbody>{''.join(body)}</tbody></table></div>"
    )


def _plain(text: str) -> str:
    return html.unescape(re.sub(r"<[^>]*>", "", text))


def folded(summary: str, body: str, printed: bool = True) -> Markup:
    """A part that is opened by its summary; both are HTML; printed : whether it is on paper, then whole"""
    kind = "" if printed else ' class="on-screen"'
    return Markup(f"<details{kind}><summary>{summary}</summary>{body}</details>" if body else "")


def facts(pairs: Iterable[tuple[str, str]]) -> Markup:
    """Names and what they are, as a list of two columns; both are HTML."""
    return Markup("<dl>" + "".join(f"<div><dt>{what}</dt><dd>{told}</dd></div>" for what, told in pairs) + "</dl>")


def joined(items: Sequence[object]) -> str:
    """'3', '3 and 7', '3, 7 and 9'."""
    told = [str(item) for item in items]
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"


def listed(items: Iterable[str]) -> Markup:
    """A list; items are HTML."""
    return Markup("<ul>" + "".join(f"<li>{item}</li>" for item in items) + "</ul>")
