"""Every drawing comes with its words: true numbers, also inside the files, and harmless whatever names are used."""

from __future__ import annotations

import dataclasses
import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from fdtd.analysis.response import seat_figures
from fdtd.listening.study import Listening, variant_levels
from fdtd.results.result import RunResult
from fdtd.scene.schema import Scene
from fdtd.show import captions
from fdtd.show.drawings import Drawing, run_drawings
from fdtd.show.files import save_drawings, save_figure, svg_texts
from fdtd.show.geometry import plan_view, scene_section
from fdtd.show.levels import map_levels, resonance_near
from fdtd.show.mode_shape_views import views
from fdtd.show.plan import draw_plan
from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH, figure_style, new_figure
from fdtd.show.svg import svg_of
from fdtd.show.text import paragraph, plain_text
from show.synthetic import make_cells, make_result, make_scene
from show.test_listening_figures import listening_of

SVG = "{http://www.w3.org/2000/svg}"
NASTY = (
    "<script>alert('1')</script>",
    '"onload="x\' & ]]> -->',
    "x" * 10_000,
    "\u202eevil\u202c שלום مرحبا",
    "🙂👩‍👩‍👧 $\\frac{1}{0}$",
    "a\nb\x00c\x1b[31md\ud800e",
)


def run_of(names: tuple[str, ...] = ("off", "on"), title: str = "Room") -> tuple[Scene, RunResult, Listening]:
    scene = make_scene(names, title=title)
    result = make_result(scene, make_cells(scene, (12, 10, 5)))
    return scene, result, listening_of(result)


@pytest.fixture(scope="module")
def run() -> tuple[Scene, RunResult, Listening]:
    return run_of()


@pytest.fixture(scope="module")
def drawings(run: tuple[Scene, RunResult, Listening]) -> list[Drawing]:
    scene, result, audible = run
    return run_drawings(result, scene, audible)


def test_every_kind_is_there_with_words_of_its_own(drawings: list[Drawing]) -> None:
    kinds = {one.kind for one in drawings}
    assert kinds == {"plan", "response", "map", "resonances", "decay", "group-delay", "tail", "short-time"}
    assert len({one.stem for one in drawings}) == len(drawings)
    for one in drawings:
        assert one.title and one.alternative
        assert "fdtd 0." in one.caption and "grid of 0.24 m" in one.caption and "200 Hz" in one.caption
    assert len({one.caption for one in drawings}) == len(drawings)


def test_the_numbers_are_those_of_the_run(run: tuple[Scene, RunResult, Listening]) -> None:
    scene, result, audible = run
    words = captions.response(result, 0, None).alternative
    for variant in result.variants:
        figures = seat_figures(variant_levels(result, variant)[0], result.frequency)
        assert f"{figures.peak:+.1f} dB at {figures.peak_frequency:.1f} Hz" in words
        assert f"deviation {figures.standard_deviation:.1f} dB" in words
    change = np.median(
        (lambda a: (a[1] - a[0])[np.isfinite(a[0])])(map_levels(result, scene, 0, plan_view(scene.variants[0])))
    )
    told = captions.maps(result, scene, 0, "plan", "").alternative.replace("\N{MINUS SIGN}", "-")
    assert f"{change:+.1f} dB in the middle" in told
    found = audible.variants[0].resonances
    longest = int(np.argmax(found.decay_time))
    told = captions.resonances(result, audible).alternative
    assert f"{len(found.frequency)} resonances" in told and f"at {found.frequency[longest]:.1f} Hz" in told


def test_a_map_says_which_resonance_it_shows(run: tuple[Scene, RunResult, Listening]) -> None:
    _, _, audible = run
    own = audible.variants[0].resonances.frequency
    found = resonance_near(float(own[7]) * 1.001, audible)
    assert found is not None and found[0] == 7 and found[1] == own[7] and found[3] == pytest.approx(0.001, abs=1e-5)
    assert captions.nearest_resonance(float(own[7]), audible).startswith(f"resonance 8 ({own[7]:.1f} Hz")
    assert captions.nearest_resonance(400.0, audible).startswith("no resonance found here")
    assert captions.nearest_resonance(40.0, None) == "" and resonance_near(40.0, None) is None


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH])
def test_every_drawing_has_the_width_that_is_asked_for(run: tuple[Scene, RunResult, Listening], width: float) -> None:
    scene, result, audible = run
    made: dict[str, float] = {}
    for one in run_drawings(result, scene, audible, width=width):
        if one.kind not in made:
            with figure_style():
                made[one.kind] = one.draw().get_size_inches()[0]
    assert made == dict.fromkeys(made, pytest.approx(width))
    assert run_drawings(result, scene, None, width="column")[0].stem == run_drawings(result, scene, None)[0].stem


def test_words_stand_in_the_files(drawings: list[Drawing], tmp_path: Path) -> None:
    (one,) = [d for d in drawings if d.stem.startswith("response-1")]
    written = save_drawings([one], tmp_path, "dark")
    assert [p.name for p in written] == [f"{one.stem}.png", f"{one.stem}.svg", "captions.txt"]
    with Image.open(written[0]) as picture:
        assert picture.text["Title"] == one.title and picture.text["Description"] == one.alternative
        assert picture.text["Comment"] == one.caption and picture.text["Software"].startswith("fdtd ")
        assert picture.info["dpi"] == pytest.approx((300, 300), abs=1)
    root = ElementTree.parse(written[1]).getroot()
    assert root.find(f"{SVG}title").text == one.title and root.find(f"{SVG}desc").text == one.alternative
    assert root[0].tag == f"{SVG}title"
    told = re.sub(r"\s+", " ", written[2].read_text(encoding="utf-8"))
    assert one.caption in told and one.alternative in told


def test_a_figure_without_words_is_saved_as_before(drawings: list[Drawing], tmp_path: Path) -> None:
    with figure_style():
        first, second = save_figure(drawings[-1].draw(), tmp_path, "plain")
    assert first.name == "plain.png" and ElementTree.parse(second).getroot().find(f"{SVG}title") is None


def test_svg_for_a_page_keeps_to_itself(drawings: list[Drawing]) -> None:
    """Ids are its own, every reference is to one of them, nothing is fetched, no style reaches the page around it."""
    seen: set[str] = set()
    for one in [d for d in drawings if d.kind in ("response", "map")][:3]:
        text, _ = svg_texts(one)
        root = ElementTree.fromstring(text)
        own = {e.get("id") for e in root.iter() if e.get("id")}
        assert all(name.startswith(one.stem + "-") for name in own) and not own & seen
        seen |= own
        targets = re.findall(r'href="#([^"]+)"', text) + re.findall(r"url\(#([^)]+)\)", text)
        assert targets and set(targets) <= own
        outside = [u for u in re.findall(r'(?:href|src)="([^"]*)"', text) if not u.startswith(("#", "data:image/png"))]
        assert outside == [] and "<style" not in text and "<metadata" not in text and not text.startswith("<?xml")
        addresses = set(re.findall(r"https?://[^\s\"'<]+", text))
        assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}


def test_both_themes_of_a_page_come_from_one_drawing(drawings: list[Drawing]) -> None:
    made: list[str] = []
    one = next(d for d in drawings if d.kind == "map")
    counted = dataclasses.replace(one, draw=lambda: (made.append(one.stem), one.draw())[1])
    light, dark = svg_texts(counted)
    assert made == [one.stem]
    with figure_style("dark"):
        right = svg_of(one.draw(), one.stem)
    pictures = [re.findall(r'<image[^>]*href="([^"]*)"', text) for text in (light, dark, right)]
    assert pictures[1] == pictures[2] != pictures[0]


@pytest.fixture(scope="module")
def nasty() -> list[Drawing]:
    scene, result, _ = run_of(NASTY[:2], title=NASTY[5])
    result = dataclasses.replace(result, seats=(NASTY[2], NASTY[3]), sources=(NASTY[4], NASTY[5]))
    return run_drawings(result, scene, listening_of(result))


def test_nasty_names_stay_text(nasty: list[Drawing], tmp_path: Path) -> None:
    for one in nasty:
        for words in (one.title, one.caption, one.alternative):
            assert len(words) < 2500 and all(c.isprintable() for c in words)
        assert re.fullmatch(r"[a-z0-9.-]{1,100}", one.stem)
    kinds = {one.kind: one for one in nasty if one.kind in ("response", "map", "resonances")}  # one of each
    written = save_drawings(list(kinds.values()), tmp_path)
    assert {p.parent for p in written} == {tmp_path}
    for path in written:
        if path.suffix == ".svg":
            root = ElementTree.parse(path).getroot()
            tags = {element.tag.removeprefix(SVG) for element in root.iter()}
            assert tags <= {
                "svg",
                "title",
                "desc",
                "defs",
                "g",
                "path",
                "use",
                "text",
                "tspan",
                "image",
                "clipPath",
                "rect",
                "pattern",
            }
            assert not [key for element in root.iter() for key in element.attrib if key.lower().startswith("on")]
        elif path.suffix == ".png":
            with Image.open(path) as picture:
                assert "\x00" not in "".join(picture.text.values())
    response = ElementTree.parse(tmp_path / f"{kinds['response'].stem}.svg").getroot()
    assert any("<script>alert('1')" in (e.text or "") for e in response.iter(f"{SVG}text"))  # as it was written


@pytest.mark.parametrize("name", NASTY)
def test_plain_text_is_one_short_printable_line(name: str) -> None:
    line = plain_text(name, 40)
    assert 0 < len(line) <= 40 and line.isprintable() and line.encode("utf-8")
    assert plain_text(" \n\t") == "(no name)"
    assert paragraph("a\nb\x00\ud800c") == "a\nbc" and len(paragraph("x" * 9999)) == 4000


def test_captions_of_another_command_stay_while_their_figures_do(tmp_path: Path) -> None:
    one = Drawing("one", "plan", "First", lambda: new_figure(1.0, 1.0), "Caption A.", "Text A.")
    two = dataclasses.replace(one, stem="two", title="Second")
    with_text = tmp_path / "captions.txt"
    save_drawings([one], tmp_path)
    save_drawings([two], tmp_path)
    text = with_text.read_text("utf-8")
    assert [text.count(word) for word in ("First", "Second")] == [1, 1]
    save_drawings([dataclasses.replace(one, title="Third")], tmp_path)
    text = with_text.read_text("utf-8")
    assert [text.count(word) for word in ("First", "Second", "Third")] == [0, 1, 1]
    (tmp_path / "two.png").unlink()
    save_drawings([one], tmp_path)
    assert "Second" not in with_text.read_text("utf-8")


def test_all_views_of_a_scene_show_one_section() -> None:
    scene = make_scene()
    section = scene_section(scene)
    assert all(views(scene, variant)[1] == section for variant in scene.variants)
    titles = {draw_plan(scene, k).axes[1].get_title(loc="left") for k in range(len(scene.variants))}
    assert len(titles) == 1 and f"{section.position:.2f} m" in titles.pop()
