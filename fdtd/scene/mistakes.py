"""Mistakes and warnings, each with its place in the scene file; collected, told once, in the order of the lines."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fdtd.errors import SceneError, visible
from fdtd.scene.locate import KeyPath, Lines

MOST_MISTAKES = 100
"""Mistakes after which reading ends; nobody reads on, and thousands of them take a minute to tell."""


@dataclass(frozen=True)
class Change:
    """Where a variant changed a value: its path in the file and how messages name the place."""

    path: KeyPath
    title: str

    def below(self, key: str, inner: str) -> Change:
        """The same change, seen as one of the key `inner` in the table under `key`."""
        return Change((*self.path, inner), f"{self.title}, {key}")


@dataclass(frozen=True)
class Entry:
    """A table of the file: its place, how messages name it, its values, and which of them a variant changed."""

    path: KeyPath
    title: str
    values: dict[str, Any]
    changed: dict[str, Change] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """The table's own name ("" if it has none that is text)."""
        name = self.values.get("name", "")
        return name if isinstance(name, str) else ""

    def inner(self, key: str) -> Entry:
        """The table under `key` as an entry of its own (empty if it is not a table)."""
        values = self.values.get(key)
        below = {k[len(key) + 1 :]: c for k, c in self.changed.items() if k.startswith(key + ".")}
        whole = self.changed.get(key)
        path, title = (whole.path, whole.title) if whole else ((*self.path, key), self.title)
        return Entry(path, f"{title}, {key}", values if isinstance(values, dict) else {}, below)


@dataclass
class Report:
    """Collects mistakes and warnings. While `variant` is set, they belong to that variant.

    folder : where files that the scene names are looked for. More than `MOST_MISTAKES` raise SceneError at once.
    """

    file: str
    lines: Lines
    variant: str | None = None
    folder: Path = Path(".")
    _entered: int = 0
    _holding: dict[KeyPath, set[str]] = field(default_factory=dict)
    _about: dict[tuple[int, str], KeyPath] = field(default_factory=dict)
    _mistakes: dict[tuple[int, str], set[str | None]] = field(default_factory=dict)
    _warnings: dict[tuple[int, str], set[str | None]] = field(default_factory=dict)

    def enter(self, variant: str, things: Iterable[Entry]) -> None:
        """From here on what is told belongs to `variant`, which holds `things`."""
        self.variant = variant
        self._entered += 1
        for entry in things:
            self._holding.setdefault(entry.path, set()).add(variant)

    def mistake(self, entry: Entry, key: str | None, text: str, sub: KeyPath = ()) -> None:
        """Note a mistake at `key` of `entry` (None: the table itself), at `sub` inside its value."""
        self._mistakes.setdefault(self._place(entry, key, text, sub), set()).add(self.variant)
        if len(self._mistakes) > MOST_MISTAKES:
            end = f"{self.file}: reading ended after {MOST_MISTAKES} mistakes; correct these first"
            raise SceneError((*self._text(self._mistakes, self._entered)[:MOST_MISTAKES], end))

    def warning(self, entry: Entry, key: str | None, text: str, sub: KeyPath = ()) -> None:
        """Note something legal but suspicious; arguments as for `mistake`."""
        self._warnings.setdefault(self._place(entry, key, text, sub), set()).add(self.variant)

    def _place(self, entry: Entry, key: str | None, text: str, sub: KeyPath) -> tuple[int, str]:
        path, title = entry.path, entry.title
        if key is not None:
            change = entry.changed.get(key)
            path, title = (change.path, change.title) if change else ((*path, key), title)
            part = entry.changed.get(f"{key}.{sub[0]}") if sub and not change else None
            if part:  # a variant changed one key of a table under `key`
                path, title = part.path[:-1], part.title
            title = ", ".join(part for part in (title, f'key "{printable(key)}"') if part)
        for step in sub:
            title += f", item {step + 1}" if isinstance(step, int) else f', "{printable(step)}"'
        line = self.lines.line(path + sub)
        note = line, f"{self.file}, line {line}{', ' if title else ''}{title}: {text}"
        self._about[note] = entry.path[:2]
        return note

    @property
    def failed(self) -> bool:
        """Whether any mistake was noted."""
        return bool(self._mistakes)

    def warnings(self, variants: int) -> tuple[str, ...]:
        """The warnings in the order of their lines; `variants` is how many the scene has."""
        return self._text(self._warnings, variants)

    def raise_mistakes(self, variants: int) -> None:
        """Raise SceneError with every mistake in the order of the lines, if there is any."""
        if self._mistakes:
            raise SceneError(self._text(self._mistakes, variants))

    def _text(self, notes: dict[tuple[int, str], set[str | None]], variants: int) -> tuple[str, ...]:
        sentence = []
        for note, where in sorted(notes.items(), key=lambda item: item[0][0]):
            text = note[1]
            names = sorted(n for n in where if n is not None)
            said = any(f'[[variants]] "{printable(n)}"' in text for n in names)
            # True of the thing wherever it is, or said already: nothing to add. Else say in which variants.
            always = None in where or len(names) >= variants or set(names) == self._holding.get(self._about[note])
            sentence.append(text if said or always else text + _in_variants(names, variants))
        return tuple(sentence)


_MOST_NAMED = 3
"""Variants that a message names; more of them are counted."""


def _in_variants(names: list[str], variants: int) -> str:
    if 2 * len(names) <= variants and len(names) <= _MOST_NAMED:
        return f" (in variant {', '.join(chr(34) + printable(n) + chr(34) for n in names)})"
    return f" (in {len(names)} of {variants} variants)"


def printable(text: str) -> str:
    """`text` on one line and at most 80 characters long."""
    return visible(text, 80)
