"""The page: its numbers are those of the files, bad names break nothing, it reaches for nothing outside itself."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from itertools import combinations
from pathlib import Path

import h5py
import numpy as np
import pytest
from matplotlib.transforms import Bbox

from fdtd.errors import ResultFileError
from fdtd.listening.study import listen
from fdtd.report.answers import strongest
from fdtd.report.loading import load, scene_of_run
from fdtd.report.page import POLICY, make_page, write_report
from fdtd.report.plan_sketch import absorbers_of, furniture_of, plan_sketch
from fdtd.results.placement_reader import read_placement
from fdtd.results.store import read_result, write_result
from fdtd.scene.read import read_scene, read_scene_text
from fdtd.scene.spots import candidates
from fdtd.show.drawings import Drawing
from fdtd.wording.answer import not_confident, one_more

from .conftest import Results, advice_run

SCENES = Path(__file__).parents[2] / "scenes"
ALLOWED = (
    "ol br html head meta link title style body main header article section nav footer h1 h2 h3 a p div span ul li "
    "figure "
    "figcaption dl dt dd table caption thead tbody tr th td data bdi strong code pre details summary picture source "
    "img svg desc defs g path rect circle use text tspan clippath image polygon lineargradient stop"
).split()


class Page(HTMLParser):
    """Tags with their attributes, the exact numbers by what they are, heads, and whether tags are closed in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.numbers: dict[str, list[float]] = {}
        self.heads: list[str] = []
        self.text = ""
        self.open: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.tags.append((tag, given))
        if "data-of" in given:
            self.numbers.setdefault(given["data-of"], []).append(float(given["value"]))
        if re.fullmatch("h[1-6]", tag):
            self.heads.append(tag)
        if tag not in ("meta", "link", "img", "source", "br"):
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.fixture(scope="module")
def text(page_file: Path) -> str:
    return page_file.read_text("utf-8")


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """For pages of which only words and numbers are looked at."""
    monkeypatch.setattr("fdtd.report.sections.figure", lambda drawing, prefix, narrow=None: "<figure></figure>")


@pytest.fixture(scope="module")
def page(text: str) -> Page:
    return Page(text)


def test_the_numbers_are_those_of_the_study(page: Page, results: Results) -> None:
    with h5py.File(results.placement) as file:
        ranking, returns, answer = file["ranking"], file["returns"], file["answer"]
        shown = len(page.numbers["ranked"])
        assert page.numbers["ranked"] == ranking["unit_place"][:shown, 0].tolist()
        assert page.numbers["benefit"] == ranking["benefit"][:shown].tolist()
        assert page.numbers["rank-shorter"] == ranking["shorter"][:shown].tolist()
        known = np.isfinite(ranking["benefit_low"][:shown])
        assert page.numbers["low"] == ranking["benefit_low"][:shown][known].tolist()
        assert page.numbers["high"] == ranking["benefit_high"][:shown][known].tolist()
        assert page.numbers["worst"] == [ranking["benefit"][-1]]
        assert page.numbers["count-shorter"] == returns["shorter"][:].ravel().tolist()
        assert page.numbers["count-even"] == returns["more_even"][:].ravel().tolist()
        assert page.numbers["adds"] == np.repeat(returns["adds"][:], 2).tolist()
        assert page.numbers["units"] == [answer["worthwhile"][()]]
        assert set(page.numbers["spot"]) == set(answer["unit_place"][:].tolist())
        assert page.numbers["designs"] == [file.attrs["designs"]]
        assert set(page.numbers["grid"]) == {file.attrs["grid"]}


@pytest.mark.usefixtures("undrawn")
def test_the_numbers_are_those_of_the_run(results: Results, tmp_path: Path) -> None:
    """The same run as an ordinary one, with a simulation long enough for its decays to be told."""
    result = read_result(results.winner)
    variants = tuple(replace(v, fallen=60.0) for v in result.variants)
    folder = results.placement.parent / "whole"
    write_result(replace(result, variants=variants), folder / "winner" / "result.h5")
    (folder / "placement.h5").write_bytes(results.placement.read_bytes())
    page = Page(str(make_page(load([folder / "placement.h5"]))))
    audible = listen(read_result(folder / "winner" / "result.h5"))
    found = strongest(audible, 0, 1, sooner=True)
    assert found is not None
    before, after = found[1].decay
    assert after < before  # what is told first is for the better
    assert set(page.numbers["decay-before"]) == {before} and set(page.numbers["decay-after"]) == {after}
    assert set(page.numbers["frequency"]) == {found[1].frequency}
    decays = set(audible.variants[0].resonances.decay_time.tolist())
    assert set(page.numbers["decay-first"]) <= decays and len(page.numbers["decay-first"]) >= 2


def test_the_first_screen_names_spot_count_and_change(text: str, results: Results) -> None:
    first = Page(text[text.index('<div class="answer') : text.index('<nav aria-label="Contents">')])
    for number in read_placement(results.placement).answer.units:  # type: ignore[union-attr]
        assert f"{number.place}" in first.text
    assert "Put " in first.text and "faster" in first.text or "instead of" in first.text
    assert "varied rooms" in first.text and "Spot" in first.text
    assert "a first look" in first.text  # cells of 0.3 m, not tried on finer ones


def test_the_first_screen_tells_what_the_terminal_tells(text: str, results: Results) -> None:
    """One source of truth: the sentences of the study on one unit more, on gain and on doubt."""
    study = read_placement(results.placement)
    first = Page(text[text.index('<div class="answer') : text.index('<nav aria-label="Contents">')])
    assert study.answer is not None
    for told in (one_more(study.answer), not_confident(study.sureness, study.answer)):
        assert " ".join(told.split()) in " ".join(first.text.split())
    assert study.worst_notes
    for note in study.worst_notes:
        assert f"{note.frequency:.0f} Hz, stands {note.before:.0f} dB above the mean level there" in first.text
    if not study.sureness.robust:  # type: ignore[union-attr]
        assert "ot sure which place" in first.text


@pytest.mark.usefixtures("undrawn")
def test_a_run_of_another_design_tells_nothing_of_the_advised_one(results: Results) -> None:
    """With a simulation that is taken as long enough for its decays to be told."""
    (subject,) = load([results.placement])
    assert subject.run is not None and subject.run.shown is not None and subject.placement is not None
    result = replace(subject.run.result, variants=tuple(replace(v, fallen=60.0) for v in subject.run.result.variants))
    own = replace(subject.run, result=result, listening=listen(result))
    other = replace(own, shown=(replace(subject.run.shown[0], place=999),))
    first, wrong = (
        Page(str(make_page([replace(subject, run=run)]).partition('<nav aria-label="Contents">')[0]))
        for run in (own, other)
    )
    assert "decay-after" in first.numbers and "shorter" not in first.numbers
    assert "decay-after" not in wrong.numbers and "instead of" not in wrong.text
    assert set(wrong.numbers["shorter"]) == {abs(subject.placement.answer.shorter)}  # type: ignore[union-attr]


def test_nothing_comes_from_outside_and_nothing_runs(page: Page, text: str) -> None:
    assert {tag for tag, _ in page.tags} <= set(ALLOWED)
    assert page.open == []
    for tag, given in page.tags:
        for name, value in given.items():
            assert not name.startswith("on"), (tag, name)
            if name in ("href", "src", "srcset", "xlink:href", "action"):
                assert value.startswith(("#", "data:image/png;base64,", "data:,")), (tag, name, value[:60])
            if name == "style":
                assert "url(" not in value or "url(#" in value
    assert "@import" not in text and "http-equiv" in text
    policies = [given["content"] for tag, given in page.tags if given.get("http-equiv") == "Content-Security-Policy"]
    assert policies == [POLICY] and "default-src 'none'" in POLICY
    style = re.search("<style>(.*?)</style>", text, re.DOTALL)
    assert style is not None and "url(" not in style.group(1)


def test_names_stand_there_as_text(page: Page, text: str) -> None:
    assert "<script" not in text.lower() and "<img src=x" not in text
    assert "javascript:alert(1)" in page.text and "שלום" in page.text
    assert "onerror='window.owned=1'" in page.text


def test_it_can_be_read_by_everybody(page: Page) -> None:
    assert ("html", {"lang": "en"}) in page.tags
    assert page.heads[0] == "h1" and page.heads.count("h1") == 1
    levels = [int(h[1]) for h in page.heads]
    assert all(b - a <= 1 for a, b in zip(levels, levels[1:], strict=False))
    ids = [given["id"] for _, given in page.tags if "id" in given]
    assert len(ids) == len(set(ids))
    for tag, given in page.tags:
        if tag == "svg" and given.get("aria-hidden") != "true":
            assert given["role"] == "img" and set(given["aria-labelledby"].split()) <= set(ids)
        if tag == "img":
            assert given["alt"]
        if tag == "a":
            assert given["href"][1:] in ids
    titles = [tag for tag, _ in page.tags if tag == "title"]
    assert len(titles) == 1 + sum(t == "svg" and g.get("aria-hidden") != "true" for t, g in page.tags)


def test_assumptions_cautions_and_how_to_reproduce(page: Page, results: Results) -> None:
    fingerprint = read_placement(results.placement).computed_from
    for told in (
        "assumed",
        "Loud bass tones",
        "Weight",
        "fire class",
        "electrician",
        "bears or braces",
        "Local building",
        "fdtd place SCENE.toml --grid 0.3",
        "wall admittances by a factor of 2 up or down",
        fingerprint,
    ):
        assert told in page.text, told


@pytest.mark.usefixtures("undrawn")
def test_several_results_are_parts_of_one_page(results: Results, tmp_path: Path) -> None:
    other = tmp_path / "elsewhere" / "placement.h5"
    other.parent.mkdir()
    other.write_bytes(results.placement.read_bytes())
    subjects = load([results.placement, results.winner, other])
    assert [s.run is not None for s in subjects] == [True, False]  # the run of the advice belongs to its study
    page = Page(str(make_page(subjects)))
    ids = [given["id"] for _, given in page.tags if "id" in given]
    assert len(ids) == len(set(ids)) and "part-2" in ids
    assert page.heads.count("h1") == 1 and page.heads.count("h2") == 2
    assert "was not simulated" in page.text
    scene = replace(subjects[0].scene, title="\u202e" + "y" * 10000)  # a title that no scene file may have
    long = Page(str(make_page([replace(one, scene=scene) for one in subjects])))
    assert "y" * 121 not in long.text and "y" * 100 in long.text and "\u202e" not in long.text
    (alone,) = load([results.winner])
    assert alone.placement is not None and alone.run is not None and alone.run.shown is not None


def test_what_can_not_be_read_is_said_and_nothing_is_written(results: Results, tmp_path: Path) -> None:
    target = tmp_path / "page.html"
    for path, told in (
        (tmp_path / "none.h5", "no such file"),
        (_changed(results, tmp_path / "old.h5", lambda f: f.attrs.__setitem__("format", 1)), "format 1 of a"),
        (_changed(results, tmp_path / "cut.h5", lambda f: f.__delitem__("ranking")), "damaged or cut short"),
        (_stray(results, tmp_path / "stray.h5"), "are not those of its scene"),
    ):
        with pytest.raises(ResultFileError, match=told):
            write_report([path], target)
    assert not target.exists()


def test_no_result_is_left_out_in_silence(results: Results, tmp_path: Path) -> None:
    study = tmp_path / "placement.h5"
    study.write_bytes(results.placement.read_bytes())
    for folder in ("trial", "winner"):
        (tmp_path / folder).mkdir()
    _stray(results, tmp_path / "trial" / "result.h5")
    with pytest.raises(ResultFileError, match="are not those of its scene"):
        load([study, tmp_path / "trial" / "result.h5"])
    (tmp_path / "winner" / "result.h5").write_bytes(b"no result")
    with pytest.raises(ResultFileError, match="result.h5"):
        load([study])


def _changed(results: Results, path: Path, change: Callable[[h5py.File], None]) -> Path:
    path.write_bytes(results.placement.read_bytes())
    with h5py.File(path, "r+") as file:
        change(file)
    return path


def _stray(results: Results, path: Path) -> Path:
    path.write_bytes(results.winner.read_bytes())
    return path


@pytest.mark.usefixtures("undrawn")
def test_without_a_run_the_change_is_that_of_the_advised_design(results: Results, tmp_path: Path) -> None:
    """The weighted mean that the terminal tells, not a mean of the seats' figures."""
    alone = tmp_path / "placement.h5"
    alone.write_bytes(results.placement.read_bytes())
    (subject,) = load([alone])
    assert subject.placement is not None and subject.placement.answer is not None
    page = Page(str(make_page([subject])))
    with h5py.File(alone) as file:
        told = float(file["answer/shorter"][()])
    assert set(page.numbers["shorter"]) == {abs(told)}
    none = replace(subject.placement, answer=replace(subject.placement.answer, worthwhile=0))
    text = Page(str(make_page([replace(subject, placement=none)]))).text
    assert "Install none." in text and "the advised spot" not in text and "better than no unit" not in text


def test_rasters_of_signed_maps_are_there_for_both_themes(text: str) -> None:
    """A style sheet can't colour a raster: the light and the dark one stand beside each other."""
    light, dark = text.count('<image class="light"'), text.count('<image class="dark"')
    assert light == dark > 0
    pairs = re.findall(r'<image class="light"[^>]*href="([^"]*)"[^>]*/><image class="dark"[^>]*href="([^"]*)"', text)
    assert len(pairs) == light and all(one != other for one, other in pairs)


def test_each_drawing_is_made_once_a_width_and_said(results: Results, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[str] = []

    def blank(drawing: Drawing) -> tuple[str, str]:
        made.append(drawing.stem)
        return ('<svg width="500pt"></svg>',) * 2

    monkeypatch.setattr("fdtd.report.figures.svg_texts", blank)
    told: list[tuple[float, str]] = []
    make_page([advice_run(results)], lambda done, message: told.append((done, message)))
    assert len(made) == len(set(made))
    # Of the maps only the first is not folded: it alone has a drawing for a telephone.
    wide, narrow = ([stem for stem in made if stem.startswith(f"p1-{kind}")] for kind in ("map", "narrow-map"))
    assert len(wide) > 1 == len(narrow)
    shares = [done for done, _ in told]
    assert shares == sorted(shares) and shares[-1] == pytest.approx(1.0)
    assert len(told) == 1 + len([stem for stem in made if "narrow" not in stem])


def test_the_room_of_an_advice_is_rebuilt_for_other_commands(results: Results, tmp_path: Path) -> None:
    result = read_result(results.winner)
    scene = scene_of_run(results.winner, result)
    assert [v.name for v in scene.variants] == [v.name for v in result.variants]
    assert scene.variants[1].absorbers and not scene.variants[0].absorbers
    with pytest.raises(ResultFileError, match="beside the placement.h5"):
        scene_of_run(_stray(results, tmp_path / "stray.h5"), result)


@pytest.mark.usefixtures("undrawn")
def test_the_plan_of_a_run_marks_its_absorber(results: Results) -> None:
    """Whichever variant it is in, or the cabinet that was made for it."""
    subject = advice_run(results)
    text, units = str(make_page([subject])), len(subject.scene.variants[1].absorbers)
    sketch = Page(text[text.index("<figure>") : text.index("</figure>") + len("</figure>")])
    assert [given["class"] for tag, given in sketch.tags if tag == "path"].count("absorber") == units
    assert "Orange box: absorber." in sketch.text
    scene = read_scene(SCENES / "l-shaped-living-room.toml")
    off, on = (replace(scene.variants[k], absorbers=scene.variants[k].absorbers * k) for k in (0, 1))
    for variants in ((off, on), (on, off)):
        ((name, corners),) = absorbers_of(scene, variants)
        assert name == "corner unit" and corners.min(axis=0).tolist() == [0.0, 4.5]
        drawn = str(plan_sketch(scene, variants, (), (), "a"))
        assert drawn.count('class="absorber"') == 1 and ">corner unit</text>" in drawn


CABINET = """
scene = 1
[room]
plan = [[0, 0], [4.2, 0], [4.2, 3.3], [0, 3.3]]
height = 2.5
[surfaces]
floor = "timber floor on joists"
ceiling = "plasterboard ceiling under joists"
walls = "plastered masonry"
[devices.trap]
kind = "plate"
mass = 4.0
depth = 0.2
loss = 0.4
[[absorbers]]
name = "corner trap"
device = "trap"
cabinet = { at = [0.0, 0.5, 0.0], size = [0.5, 1.2, 1.2], facing = "+x", opening = [1.0, 1.1] }
[[sources]]
name = "subwoofer"
at = [3.6, 0.4, 0.3]
[[seats]]
name = "desk"
at = [1.4, 1.1, 1.2]
"""


def test_the_cabinet_of_an_absorber_is_no_furniture_and_no_name_is_on_its_outline() -> None:
    scene = read_scene_text(CABINET, "room.toml")
    assert scene.variants[-1].blocks and furniture_of(scene.variants) == []
    wardrobe = '[[blocks]]\nname = "wardrobe"\nfrom = [3.0, 2.7, 0]\nto = [4.2, 3.3, 2]\n'
    furnished = read_scene_text(CABINET + wardrobe, "room.toml")
    assert [one.name for one in furniture_of(furnished.variants)] == ["wardrobe"]
    drawn = str(plan_sketch(scene, scene.variants, (), (), "a"))
    (line,) = re.findall(r'class="absorber" d="M([^"]*)Z"', drawn)
    corners = np.array([[float(n) for n in corner.split()] for corner in line.split("L")])
    outline = Bbox([corners.min(axis=0), corners.max(axis=0)])
    for x, y, told in re.findall(r'<text x="([\d.]+)" y="([\d.]+)">([^<]*)<', drawn):
        box = Bbox.from_bounds(float(x) - 4.2 * len(told), float(y) - 14.0, 8.4 * len(told), 18.0)
        assert not box.overlaps(outline) or outline.containsx(box.x0) and outline.containsx(box.x1), told


def test_no_badge_of_the_first_plan_covers_another() -> None:
    """Both walls' spots in a corner, their neighbours, some advised and some as good."""
    scene = read_scene(SCENES / "l-shaped-living-room.toml")
    assert scene.spots is not None
    drawn = str(plan_sketch(scene, (scene.spots.start,), candidates(scene), (1, 2, 76), "a", (3, 74, 75)))
    marks = re.findall(r'<rect class="(?:spot|equal)" x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="(\d+)"', drawn)
    boxes = [Bbox.from_bounds(*map(float, mark)) for mark in marks]
    assert [text for text in re.findall(r'class="number \w+"[^>]*>([^<]*)<', drawn)] == ["3", "74", "75", "1+2", "76"]
    assert not any(a.overlaps(b) for a, b in combinations(boxes, 2))
    wide, high = map(float, re.search(r'viewBox="0 0 (\d+) (\d+)"', drawn).groups())  # type: ignore[union-attr]
    assert all(0.0 <= b.x0 and 0.0 <= b.y0 and b.x1 <= wide and b.y1 <= high for b in boxes)
