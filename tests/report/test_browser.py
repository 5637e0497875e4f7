"""The page in a headless Chromium from file://: quiet, alone, never wider than the screen, and it prints."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from . import browser

pytestmark = pytest.mark.skipif(browser.find() is None, reason="no Chromium on the path")

WIDER = """[...document.querySelectorAll('main *')].filter(e => {
  const box = e.getBoundingClientRect();
  return box.right > document.documentElement.clientWidth + 1 && !e.closest('.table') && !e.closest('svg');
}).map(e => e.tagName + '.' + e.className).join()"""


# Height of the smallest letters of each figure, in pixels.
LETTERS = """Object.fromEntries([...document.querySelectorAll('figure')].map(f => [f.className || 'sketch',
  Math.min(...[...f.querySelectorAll('svg text')].filter(t => t.checkVisibility()).map(t => {
    const m = t.getScreenCTM();
    return Math.hypot(m.a, m.b) * parseFloat(getComputedStyle(t).fontSize);
  }))]).filter(([, size]) => size < Infinity))"""


@pytest.fixture(scope="module")
def page(page_file: Path) -> Path:
    return page_file


@pytest.fixture(scope="module")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[browser.Browser]:
    one = browser.Browser(tmp_path_factory.mktemp("browser"))
    yield one
    one.close()


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [360, 1440])
def test_quiet_alone_and_as_wide_as_the_screen(chromium: browser.Browser, page: Path, width: int, dark: bool) -> None:
    chromium.open(page, width, dark)
    assert chromium.messages == []
    assert chromium.requests == [page.resolve().as_uri()]
    assert chromium.value("window.owned") is None and "report" in chromium.value("document.title")
    assert chromium.value("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    assert chromium.value(WIDER) == ""
    background = chromium.value("getComputedStyle(document.body).backgroundColor")
    bright = sum(int(v) for v in re.findall(r"\d+", background)) > 3 * 128
    assert bright is not dark


@pytest.mark.parametrize("width", [390, 1440])
def test_letters_in_figures_can_be_read(chromium: browser.Browser, page: Path, run_page_file: Path, width: int) -> None:
    """8 pixels or more; those of the text around them are 13."""
    for one, kinds in ((page, {"whole placement", "whole candidates"}), (run_page_file, {"whole plan", "whole map"})):
        chromium.open(one, width, False)
        chromium.value("document.querySelectorAll('details').forEach(d => d.open = true)")
        sizes = chromium.value(LETTERS)
        assert kinds | {"sketch"} <= set(sizes)
        assert {kind: size for kind, size in sizes.items() if size < 8.0} == {}


def test_a_script_would_not_run(chromium: browser.Browser, page: Path, tmp_path: Path) -> None:
    """The page's own policy, and that this test would see it: the same with a script in it."""
    broken = tmp_path / "broken.html"
    broken.write_text(page.read_text("utf-8").replace("</main>", "<script>window.owned=1</script></main>"), "utf-8")
    chromium.open(broken, 800, False)
    assert chromium.value("window.owned") is None and chromium.messages != []


def test_text_stands_out_from_what_is_behind_it(chromium: browser.Browser, page: Path) -> None:
    """4.5 to 1 (WCAG 2.1, 1.4.3) for the colours of text on those behind it, in light and in dark."""
    for dark in (False, True):
        chromium.open(page, 1440, dark)
        names = ("--ink", "--paper", "--panel", "--muted", "--accent", "--mark", "--onmark")
        style = "getComputedStyle(document.documentElement)"
        colour = {n: chromium.value(f"{style}.getPropertyValue('{n}').trim()") for n in names}
        for front, back, least in (
            ("--ink", "--paper", 7.0),
            ("--ink", "--panel", 7.0),
            ("--muted", "--paper", 4.5),
            ("--muted", "--panel", 4.5),
            ("--accent", "--paper", 4.5),
            ("--onmark", "--mark", 3.0),
        ):
            assert contrast(colour[front], colour[back]) >= least, (front, back, dark)


def contrast(one: str, other: str) -> float:
    """Ratio of relative luminances, WCAG 2.1."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: str) -> float:
    digits = colour.lstrip("#")
    digits = "".join(2 * d for d in digits) if len(digits) == 3 else digits
    parts = [int(digits[k : k + 2], 16) / 255.0 for k in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_it_prints_on_a4(chromium: browser.Browser, page: Path) -> None:
    chromium.open(page, 1440, True)
    folded = (
        "[...document.querySelectorAll('details:not(.on-screen)>:last-child')].map(e => e.checkVisibility({"
        "contentVisibilityAuto: true}) && e.getBoundingClientRect().height > 0)"
    )
    assert set(chromium.value(folded)) == {False}
    chromium.call("Emulation.setEmulatedMedia", media="print")
    chromium.printed()  # lays the page out for paper
    assert set(chromium.value(folded)) == {True}  # on paper nothing is folded
    chromium.call("Emulation.setEmulatedMedia", media="")
    printed = chromium.printed()
    assert printed.startswith(b"%PDF-")
    pages = len(re.findall(rb"/Type\s*/Page\b", printed))
    assert 4 <= pages <= 40
    assert re.search(rb"/MediaBox\s*\[\s*0 0 59[45][.\d]* 84[12]", printed)
