"""Plain text tables and numbers in words."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from pathlib import Path

import typer

from fdtd.errors import visible

LONGEST_MESSAGE = 5000
"""Characters; messages are a few hundred long."""


def format_table(header: Sequence[str], rows: Iterable[Sequence[str]], left: int = 1) -> str:
    """A table with two spaces between columns; the first `left` columns are flush left, the rest flush right.

    A row shorter than the header leaves its last columns empty.
    """
    count = len(header)
    lines = [[*row, *[""] * (count - len(row))] for row in (header, *rows)]
    widths = [max(text_width(line[i]) for line in lines) for i in range(count)]

    def one(line: Sequence[str]) -> str:
        cells = [_padded(text, w, i < left) for i, (text, w) in enumerate(zip(line, widths, strict=True))]
        return "  ".join(cells).rstrip()

    return "\n".join([one(lines[0]), "  ".join("-" * w for w in widths), *(one(line) for line in lines[1:])])


def format_facts(facts: Iterable[tuple[str, str]]) -> str:
    """Two columns, name and value, both flush left."""
    pairs = list(facts)
    width = max(text_width(name) for name, _ in pairs)
    return "\n".join(f"{_padded(name, width, True)}  {value}" for name, value in pairs)


def text_width(text: str) -> int:
    """Columns that `text` takes on a terminal: wide characters (East Asian, emoji) take two, combining ones none."""
    if text.isascii():
        return len(text)
    wide = sum(unicodedata.east_asian_width(c) in "WF" for c in text)
    return len(text) + wide - sum(unicodedata.category(c) in ("Mn", "Me", "Cf") for c in text)


def cut(text: str, longest: int) -> str:
    """`text` in at most `longest` columns, with … at the end if some of it had to go."""
    if text_width(text) <= longest:
        return text
    while text_width(text) >= longest:
        text = text[:-1]
    return text.rstrip() + "…"


def _padded(text: str, width: int, flush_left: bool) -> str:
    space = " " * (width - text_width(text))
    return text + space if flush_left else space + text


def format_seconds(seconds: float) -> str:
    """A duration such as 'less than a second', '25 s', '3 min 05 s' or '2 h 10 min'."""
    if seconds < 1.0:
        return "less than a second"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    return f"{whole // 3600} h {whole % 3600 // 60:02d} min"


def format_estimate(seconds: float) -> str:
    """An approximate duration: 'less than a second', 'about 25 s'."""
    return format_seconds(seconds) if seconds < 1.0 else f"about {format_seconds(seconds)}"


def format_bytes(count: float) -> str:
    """An amount of memory such as '850 kB', '42 MB' or '1.3 GB' (powers of ten)."""
    if count < 1e6:
        return f"{count / 1e3:.0f} kB"
    return f"{count / 1e6:.0f} MB" if count < 1e9 else f"{count / 1e9:.1f} GB"


def print_files(paths: Iterable[Path]) -> None:
    """List written files, one per line."""
    typer.echo("Files:")
    for path in paths:
        typer.echo(f"  {visible(str(path), LONGEST_MESSAGE)}")


def print_warnings(warnings: Iterable[str]) -> None:
    """Warnings on standard error, each once."""
    for warning in dict.fromkeys(warnings):
        typer.echo(f"Warning: {visible(warning, LONGEST_MESSAGE)}", err=True)


def print_errors(message: str) -> None:
    """Every line of a message for the user on standard error."""
    for line in message.split("\n"):
        typer.echo(f"Error: {visible(line, LONGEST_MESSAGE)}", err=True)
