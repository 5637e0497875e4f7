"""Plain text tables and numbers in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import typer


def format_table(header: Sequence[str], rows: Iterable[Sequence[str]], left: int = 1) -> str:
    """A table with two spaces between columns; the first `left` columns are flush left, the rest flush right.

    A row shorter than the header leaves its last columns empty.
    """
    count = len(header)
    lines = [[*row, *[""] * (count - len(row))] for row in (header, *rows)]
    widths = [max(len(line[i]) for line in lines) for i in range(count)]

    def one(line: Sequence[str]) -> str:
        cells = [
            text.ljust(w) if i < left else text.rjust(w) for i, (text, w) in enumerate(zip(line, widths, strict=True))
        ]
        return "  ".join(cells).rstrip()

    return "\n".join([one(lines[0]), "  ".join("-" * w for w in widths), *(one(line) for line in lines[1:])])


def format_facts(facts: Iterable[tuple[str, str]]) -> str:
    """Two columns, name and value, both flush left."""
    pairs = list(facts)
    width = max(len(name) for name, _ in pairs)
    return "\n".join(f"{name.ljust(width)}  {value}" for name, value in pairs)


def format_seconds(seconds: float) -> str:
    """A duration such as '0.4 s', '25 s', '3 min 05 s' or '2 h 10 min'."""
    if seconds < 1.0:
        return f"{seconds:.1f} s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    return f"{whole // 3600} h {whole % 3600 // 60:02d} min"


def format_bytes(count: float) -> str:
    """An amount of memory such as '850 kB', '42 MB' or '1.3 GB' (powers of ten)."""
    if count < 1e6:
        return f"{count / 1e3:.0f} kB"
    return f"{count / 1e6:.0f} MB" if count < 1e9 else f"{count / 1e9:.1f} GB"


def print_files(paths: Iterable[Path]) -> None:
    """List written files, one a line."""
    typer.echo("Files:")
    for path in paths:
        typer.echo(f"  {path}")


def print_warnings(warnings: Iterable[str]) -> None:
    """Warnings on standard error, each once."""
    for warning in dict.fromkeys(warnings):
        typer.echo(f"Warning: {warning}", err=True)
