"""A section of the page, and the parts of it that every kind of page shares."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fdtd.report.figures import figure
from fdtd.report.markup import Markup
from fdtd.show.drawings import Drawing


@dataclass(frozen=True)
class Section:
    """key : of its address in the page; heading : plain words; body : HTML"""

    key: str
    heading: str
    body: Markup


def figures(drawings: Sequence[Drawing], prefix: str, narrow: Mapping[str, Drawing] | None = None) -> list[Markup]:
    """Drawings with their captions; narrow : by stem, for a telephone"""
    small = narrow or {}
    return [figure(one, prefix, small.get(one.stem)) for one in drawings]


def of_kinds(drawings: Sequence[Drawing], *kinds: str) -> list[Drawing]:
    """Those of some kinds, in order."""
    return [one for one in drawings if one.kind in kinds]
