"""The commands that the documents show, and how to run them quickly: on coarse cells, few draws, short animations."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
_BLOCK = re.compile(r"^```(?:sh|console)\n(.*?)^```", re.MULTILINE | re.DOTALL)
_CALL = re.compile(r"^(?:.*&& |\$ )?(?:\S*/)?fdtd (.+)$")
QUICK = {
    "check": {"--grid": "0.3"},
    "run": {"--grid": "0.3"},
    "place": {"--grid": "0.3", "--perturbed-rooms": "2", "--count": "1"},
    "modes": {"--grid": "0.3"},
    "sources": {"--grid": "0.3", "--spacing": "0.8"},
    "partitions": {"--grid": "0.3"},
    "animate": {"--grid": "0.3", "--seconds": "0.5", "--rate": "4", "--size": "480"},
}
"""Options that stand in for those shown, or are added."""
FEWER = {"--mode-shapes": "1"}
"""Options that stand in for those shown only."""


@dataclass(frozen=True)
class Shown:
    """A command on a page. words : after `fdtd`."""

    page: Path
    words: tuple[str, ...]

    @property
    def name(self) -> str:
        """Of the command."""
        return self.words[0]

    def option(self, name: str) -> str | None:
        """What follows an option, None without it."""
        for k, word in enumerate(self.words):
            if word == name and k + 1 < len(self.words):
                return self.words[k + 1]
            if word.startswith(f"{name}="):
                return word.partition("=")[2]
        return None

    def reads(self) -> list[str]:
        """Files that it needs: scenes and results; a recording is the reader's own."""
        written = {self.option("--out"), self.option("--figure")}
        if self.name == "new":
            return []
        return [w for w in self.words[1:] if w.endswith((".toml", ".h5")) and w not in written]

    def makes(self) -> list[str]:
        """Files that a later command may need."""
        if self.name == "new":
            return [self.words[1] if len(self.words) > 1 else "room.toml"]
        if self.name not in ("run", "partitions", "place"):
            return []
        folder = self.option("--out") or f"{Path(self.words[1]).stem}-results"
        if self.name == "place":
            winner = [] if "--no-confirm" in self.words else [f"{folder}/winner/result.h5"]
            return [f"{folder}/placement.h5", *winner]
        return [f"{folder}/result.h5"]

    def quickened(self) -> tuple[str, ...]:
        """The same command as it is run by the tests."""
        words = [FEWER.get(before, word) for before, word in zip(("", *self.words), self.words, strict=False)]
        for option, value in QUICK.get(self.name, {}).items():
            if option in words:
                words[words.index(option) + 1] = value
            elif not (option == "--grid" and "--steady" in words):
                words += [option, value]
        if self.name in ("check", "surface") and "--out" in words:  # one run of them is as good as another
            del words[words.index("--out") : words.index("--out") + 2]
        return tuple(words)


def shown(page: Path) -> list[Shown]:
    """The commands in the `sh` and `console` blocks of a page, in order."""
    found = []
    for block in _BLOCK.findall(page.read_text(encoding="utf-8")):
        for line in block.replace("\\\n", " ").splitlines():
            call = _CALL.match(line)
            if call:
                found.append(Shown(page, tuple(shlex.split(call[1], comments=True))))
    return found
