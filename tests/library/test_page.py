"""docs/surfaces.md says what the library holds."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fdtd.cli.pages import refreshed
from fdtd.library import surfaces as library
from fdtd.library.origins import absorption
from fdtd.library.page import PARTS, disagreement

PAGE = (Path(__file__).parents[2] / "docs" / "surfaces.md").read_text(encoding="utf-8")
NUMBER = re.compile(r"\d+\.\d+")


def test_the_page_is_fresh():
    """Words exactly, numbers to a step of their last digit, which rounding may move from machine to machine."""
    fresh = refreshed(PAGE, PARTS)
    assert NUMBER.sub("#", fresh) == NUMBER.sub("#", PAGE), "run: python -m fdtd.cli.pages docs/"
    pairs = zip(NUMBER.findall(PAGE), NUMBER.findall(fresh), strict=True)
    assert [(a, b) for a, b in pairs if abs(float(a) - float(b)) > 1.01 * 10.0 ** -len(a.split(".")[1])] == []


def test_every_part_has_its_place():
    assert re.findall(r"<!-- surfaces: (\w+) -->", PAGE) == list(PARTS)


@pytest.mark.parametrize("name", [n for n in library.names() if disagreement(library.find(n))])
def test_a_disagreement_is_said_in_words(name):
    assert re.search(rf"^- `{name}`: by its build-up it absorbs [\d.]+ times (more|less)", PAGE, re.MULTILINE)


SOFT = ("carpet on concrete", "rug on felt", "heavy curtain", "medium curtain", "flat curtain")


@pytest.mark.parametrize("name", SOFT)
def test_what_is_said_of_carpets_and_curtains_holds(name):
    assert "Carpets, rugs and curtains take less than 0.06 at 63 Hz" in PAGE
    assert absorption(library.find(name), None, 63.0) < 0.06


def test_what_is_said_of_books_and_sofas_holds():
    told = re.search(r"full bookshelf about ([\d.]+) there.*?sofa about ([\d.]+)", PAGE, re.DOTALL).groups()
    for name, value in zip(("full bookshelf", "sofa"), told, strict=True):
        assert absorption(library.find(name), None, 63.0) == pytest.approx(float(value), abs=0.01)


def test_no_disagreement_within_a_factor_of_two():
    assert disagreement(library.find("painted concrete")) is None
    assert disagreement(library.find("wood panelling on battens")) is None
    assert disagreement(library.find("sash window")) is not None


@pytest.mark.parametrize("word", ["63 Hz", "fire class", "fixings", "licensed", "mains", "Hearing", "judgement"])
def test_the_page_says_what_must_be_said(word):
    assert word in PAGE
