"""docs/surfaces.md says what the library holds."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fdtd.library import surfaces as library
from fdtd.library.page import PARTS, disagreement, refreshed

PAGE = (Path(__file__).parents[2] / "docs" / "surfaces.md").read_text(encoding="utf-8")
NUMBER = re.compile(r"\d+\.\d+")


def test_the_page_is_fresh():
    """Words exactly, numbers to a step of their last digit, which rounding may move from machine to machine."""
    fresh = refreshed(PAGE)
    assert NUMBER.sub("#", fresh) == NUMBER.sub("#", PAGE), "run: python -m fdtd.library.page docs/surfaces.md"
    pairs = zip(NUMBER.findall(PAGE), NUMBER.findall(fresh), strict=True)
    assert [(a, b) for a, b in pairs if abs(float(a) - float(b)) > 1.01 * 10.0 ** -len(a.split(".")[1])] == []


def test_every_part_has_its_place():
    assert re.findall(r"<!-- surfaces: (\w+) -->", PAGE) == list(PARTS)


@pytest.mark.parametrize("name", [n for n in library.names() if disagreement(library.find(n))])
def test_a_disagreement_is_told_in_words(name):
    assert re.search(rf"^- `{name}`: by its build-up it absorbs [\d.]+ times (more|less)", PAGE, re.MULTILINE)


def test_no_disagreement_within_a_factor_of_two():
    assert disagreement(library.find("painted concrete")) is None
    assert disagreement(library.find("wood panelling on battens")) is None
    assert disagreement(library.find("sash window")) is not None


@pytest.mark.parametrize("word", ["63 Hz", "fire class", "fixings", "licensed", "mains", "Hearing", "judgement"])
def test_the_page_says_what_must_be_said(word):
    assert word in PAGE
