"""A section of the page, and the parts of it that every kind of page shares."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from fdtd.report.figures import figure
from fdtd.report.markup import Markup
from fdtd.show.drawing import Drawing

Progress = Callable[[float, str], None]
"""(share that is done, what is done)"""


@dataclass(frozen=True)
class Section:
    """key : of its address in the page; heading : plain words; body : HTML"""

    key: str
    heading: str
    body: Markup


class Figures:
    """Puts drawings into a part of the page, and tells the progress after each.

    prefix : goes before the ids; expected : number of all drawings of the part
    """

    def __init__(self, prefix: str, expected: int, progress: Progress) -> None:
        self._prefix, self._expected, self._done = prefix, expected, 0
        self._progress = progress

    def __call__(self, drawings: Sequence[Drawing], narrow: Mapping[str, Drawing] | None = None) -> list[Markup]:
        """Drawings with their captions; narrow : by stem, for a telephone"""
        small, made = narrow or {}, []
        for one in drawings:
            made.append(figure(one, self._prefix, small.get(one.stem)))
            self._done += 1
            self._progress(self._done / self._expected, one.title)
        return made


def between(progress: Progress, start: float, end: float) -> Progress:
    """The progress of a piece of work that goes from `start` to `end` of the whole."""
    return lambda done, message: progress(start + (end - start) * done, message)


def of_kinds(drawings: Sequence[Drawing], *kinds: str) -> list[Drawing]:
    """Those of some kinds, in order."""
    return [one for one in drawings if one.kind in kinds]
