"""The lines of a text that is meant to be TOML: strings and comments blanked out, and how deep in brackets each is."""

from __future__ import annotations

import re
from dataclasses import dataclass

_TOKEN = re.compile(
    r'(?<!\d)"""(?:[^\\]|\\.)*?"{3,5}'
    r"|(?<!\d)'''.*?'{3,5}"
    r'|(?<!\d)"(?:[^"\\\n]|\\.)*"'
    r"|(?<!\d)'[^'\n]*'"
    r"|(?P<comment>#[^\n]*)"
    r"|(?<!\d)(?P<open>[\"'][^\n]*)",
    re.DOTALL,
)
"""A string, a comment, or a string that its line does not close. Behind a digit a mark stands for feet or inches."""
BLANK = "\ue000"
"""Stands for a character inside quotes: it means nothing to any pattern."""
_HEADING = re.compile(r"\s*\[{1,2}\s*(?!(?:true|false|inf|nan)\b)[A-Za-z_][^\[\],=]*\]{0,2}\s*$")
_PAIR = re.compile(rf'\s*(?:[A-Za-z_][\w .-]*|"{BLANK}*")\s*=(?!=)')


@dataclass(frozen=True)
class Line:
    """number : from 1; text : as typed; plain : with what is in quotes blanked and without its comment
    deep : brackets that are open where it begins, outermost first; opened : lines on which they were opened
    open_quote : whether a string begins on it that it does not close
    """

    number: int
    text: str
    plain: str
    deep: str
    opened: tuple[int, ...]
    open_quote: bool

    @property
    def is_heading(self) -> bool:
        """Whether it is meant as the heading of a table."""
        return not self.deep and self.plain.lstrip().startswith("[")

    @property
    def value(self) -> str:
        """What stands behind its equals sign; all of it inside brackets; nothing of a heading."""
        if self.deep:
            return self.plain
        return "" if self.is_heading else self.plain.partition("=")[2]


def split_lines(text: str) -> tuple[list[Line], list[int]]:
    """The lines of `text`, and the numbers of those with a bracket that is never closed."""
    open_quotes: set[int] = set()

    def blanked(found: re.Match[str]) -> str:
        if found["comment"]:
            return ""
        if found["open"]:
            open_quotes.add(text.count("\n", 0, found.start()) + 1)
            return '"' + BLANK * max(len(found[0]) - 1, 0)
        first, *more = found[0].split("\n")
        return '"' + BLANK * (len(first) - 2 + bool(more)) + '"' + "\n" * len(more)

    bares = _TOKEN.sub(blanked, text).split("\n")
    lines: list[Line] = []
    unclosed: list[int] = []
    stack: list[tuple[str, int]] = []
    for number, (typed, plain) in enumerate(zip(text.split("\n"), bares, strict=True), start=1):
        begins_anew = _HEADING.match(plain[:500]) or (_PAIR.match(plain[:500]) and all(b != "{" for b, _ in stack))
        if stack and begins_anew:
            unclosed.append(stack[-1][1])
            stack = []
        deep, opened = "".join(b for b, _ in stack), tuple(n for _, n in stack)
        lines.append(Line(number, typed, plain.rstrip(), deep, opened, number in open_quotes))
        if not lines[-1].is_heading:
            stack = _after(plain, stack, number)
            if deep and _left_open(plain) and number < len(bares) and bares[number].lstrip().startswith("["):
                unclosed.append(number)
                stack = stack[:-1]
    if stack:
        unclosed.append(stack[-1][1])
    return lines, unclosed


def _left_open(plain: str) -> bool:
    """Whether a point of a list begins on a line and does not end on it."""
    return bool(re.fullmatch(r"\s*\[\s*[-+\d.][^\[\]]*", plain))


def _after(plain: str, stack: list[tuple[str, int]], number: int) -> list[tuple[str, int]]:
    """The open brackets behind a line."""
    stack = list(stack)
    for char in plain:
        if char in "[{":
            stack.append((char, number))
        elif char in "]}" and stack:
            stack.pop()
    return stack
