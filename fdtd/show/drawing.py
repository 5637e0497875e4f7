"""A drawing with what belongs to it: a file name, a heading, a caption for an article, a text for who can't see it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from matplotlib.figure import Figure

from fdtd.show.text import safe_file_name

NAMES = 6
"""So many names of one kind are told; of more, their number."""


@dataclass(frozen=True)
class FigureText:
    """What goes with a figure: heading, caption, alternative text."""

    title: str
    caption: str
    alternative: str


@dataclass(frozen=True)
class Drawing:
    """One figure before it is drawn, and the words that go with it.

    stem : file name without ending; kind : "plan", "response", "map", "resonances", "decay", "tail", "short-time",
        "group-delay", "mode shape", "placement", "candidates", "loudest", "sources", "partitions", "surface"
    title : short heading, plain text; draw : makes the figure, called inside `figure_style(...)`
    caption : ready for an article: what is shown, under which conditions, by which version of the program
    alternative : for somebody who can't see it, one or two sentences with the main numbers
    """

    stem: str
    kind: str
    title: str
    draw: Callable[[], Figure]
    caption: str
    alternative: str


def described(stem: str, kind: str, text: FigureText, draw: Callable[[], Figure]) -> Drawing:
    """A drawing with its text."""
    return Drawing(stem, kind, text.title, draw, text.caption, text.alternative)


def stem_of(kind: str, number: int | str, name: str) -> str:
    """File name without ending; the number keeps names apart whatever they are."""
    return "-".join(part for part in (kind, str(number), safe_file_name(name)) if part)
