"""Lines of a TOML text: which line a key, a table or an item of an array stands on.

The standard TOML parser gives values without their places. This walks over the text and notes a line for every key
path, such as ("patches", 1, "to") or ("room", "plan", 3). It comes before the parser, whose time and memory grow with
the square of a path's length, and tells of paths that are too long for it.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Mapping
from typing import TypeAlias

KeyPath: TypeAlias = tuple[str | int, ...]
"""Keys and (from 0) array positions that lead to a value."""

DEEPEST = 20
"""Keys and positions of the longest path that is followed; the longest one with a meaning has nine."""

_KEY = re.compile(r'"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|[A-Za-z0-9_-]+')
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_SCALAR = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'"
    r"|\d{4}-\d\d-\d\d \d\d:[^\s,\]}#]*"
    r"|[^\s,\[\]{}#\"']+",
    re.DOTALL,
)


class Lines:
    """The lines of every key path in `text` (valid TOML; of anything else, as far as it can be followed).

    too_deep : line of the first path longer than `DEEPEST`, where the walk ended; None if there is none
    written : name of a table at the top -> how the text calls it, where that differs
    """

    def __init__(self, text: str) -> None:
        scanner = _Scanner(text)
        self.too_deep: int | None = None
        try:
            scanner.document()
        except _LostError:
            pass  # lines found so far still help; the rest falls back to the nearest known ancestor
        except _DeepError:
            self.too_deep = scanner.line(scanner.at)
        self._found = scanner.found
        self.written: Mapping[str, str] = {}

    def line(self, path: KeyPath) -> int:
        """Line (from 1) of `path`, or of its nearest ancestor that is written in the text; 1 if there is none."""
        if path:
            path = (self.written.get(str(path[0]), path[0]), *path[1:])
        while path and path not in self._found:
            path = path[:-1]
        return self._found.get(path, 1)


class _LostError(Exception):
    """The text is not what was expected; stop noting lines."""


class _DeepError(Exception):
    """A path is too long."""


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[KeyPath, int] = {}
        self._starts = [0] + [m.end() for m in re.finditer("\n", text)]
        self._last: dict[KeyPath, int] = {}  # array of tables -> position of its newest element

    def document(self) -> None:
        table: KeyPath = ()
        while True:
            self._skip(_BLANK)
            if self.at >= len(self.text):
                return
            if self.text.startswith("[", self.at):
                table = self._header()
            else:
                self._pair(table)

    def line(self, at: int) -> int:
        """Line (from 1) of the character number `at`."""
        return bisect_right(self._starts, at)

    def _note(self, path: KeyPath, at: int) -> None:
        if len(path) > DEEPEST:
            raise _DeepError
        self.found.setdefault(path, self.line(at))

    def _skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        self.at = match.end() if match else self.at

    def _take(self, literal: str) -> None:
        if not self.text.startswith(literal, self.at):
            raise _LostError
        self.at += len(literal)

    def _header(self) -> KeyPath:
        start = self.at
        double = self.text.startswith("[[", start)
        self.at += 2 if double else 1
        keys = self._keys()
        path: KeyPath = ()
        for number, key in enumerate(keys):
            path += (key,)
            if double and number == len(keys) - 1:
                self._last[path] = self._last.get(path, -1) + 1
            self._note(path, start)
            if path in self._last:
                path += (self._last[path],)
                self._note(path, start)
        self._take("]]" if double else "]")
        return path

    def _keys(self) -> list[str]:
        keys = []
        while True:
            self._skip(_SPACE)
            match = _KEY.match(self.text, self.at)
            if not match:
                raise _LostError
            self.at = match.end()
            keys.append(_plain(match.group()))
            self._skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return keys
            self.at += 1

    def _pair(self, path: KeyPath) -> None:
        start = self.at
        for key in self._keys():
            path += (key,)
            self._note(path, start)
        self._take("=")
        self._value(path)

    def _value(self, path: KeyPath) -> None:
        self._skip(_SPACE)
        if self.text.startswith("[", self.at):
            self._items(path, "]")
        elif self.text.startswith("{", self.at):
            self._items(path, "}")
        else:
            match = _SCALAR.match(self.text, self.at)
            if not match:
                raise _LostError
            self.at = match.end()

    def _items(self, path: KeyPath, end: str) -> None:
        self.at += 1
        number = 0
        while True:
            self._skip(_BLANK)
            if self.text.startswith(end, self.at):
                self.at += 1
                return
            if end == "]":
                self._note((*path, number), self.at)
                self._value((*path, number))
            else:
                self._pair(path)
            number += 1
            self._skip(_BLANK)
            if not self.text.startswith(end, self.at):
                self._take(",")


def _plain(token: str) -> str:
    if token[0] not in "\"'":
        return token
    try:
        return str(tomllib.loads(f"key = {token}")["key"])
    except tomllib.TOMLDecodeError as error:
        raise _LostError from error
