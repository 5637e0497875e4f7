"""What comes from outside is escaped, kept to one direction of writing, and cut; numbers are exact for programs."""

from __future__ import annotations

import math
from html.parser import HTMLParser

import pytest
from jinja2 import TemplateAssertionError

from fdtd.report import markup
from fdtd.report.templating import environment, render
from fdtd.wording.names import named, typed

BAD = [
    "<script>alert(1)</script>",
    '"\' onload="alert(1)',
    "]]>",
    "-->",
    "</style><b>",
    "&lt;already&gt;",
    "javascript:x",
    "\u202ereversed\u202c",
    "\u2067isolated\u2069",
    "a\u0000b\u0007c",
    "\ud800 half",
    "🛋 emoji",
    "x" * 10000,
    "",
]


class Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.text += data


def read(text: str) -> Reader:
    reader = Reader()
    reader.feed(text)
    reader.close()
    return reader


@pytest.mark.parametrize("bad", BAD)
def test_text_stays_text(bad: str) -> None:
    found = read(markup.escaped(bad))
    assert found.tags == []
    kept = "".join(c for c in bad if c not in "\u202e\u202c\u2067\u2069\u0000\u0007\ud800")
    assert found.text == (kept if len(kept) <= 6000 else kept[:5999] + "…")
    assert '"' not in markup.escaped(bad) and "'" not in markup.escaped(bad)
    markup.escaped(bad).encode("utf-8")


@pytest.mark.parametrize("bad", BAD)
def test_names_are_short_and_keep_their_direction_to_themselves(bad: str) -> None:
    found = read(markup.quoted(bad))
    assert found.tags == ["bdi"] and len(found.text) <= 62
    assert not set(found.text) & set("\u202e\u202c\u2067\u2069\u0000\n")


def test_names_in_sentences_are_isolated_and_options_kept_whole() -> None:
    told = markup.prose(f"At {named('<i>שלום</i>')} it rings (--perturbed-rooms 10 tells more).")
    assert told == "At “<bdi>&lt;i&gt;שלום&lt;/i&gt;</bdi>” it rings (--perturbed-rooms 10 tells more)."
    two = " and ".join(named(name) for name in ("Anna's chair", "sofa"))
    assert markup.prose(f"At {two}.") == "At “<bdi>Anna&#39;s chair</bdi>” and “<bdi>sofa</bdi>”."
    assert "<code>--no-robust</code>" in markup.prose(f"use {typed('--no-robust')} here")
    assert markup.paragraphs("One:\n  - a\n  b\nTwo.") == "<p>One:</p><ul><li>a</li><li>b</li></ul><p>Two.</p>"


@pytest.mark.parametrize(
    ("value", "told"), [(1.25, "1.2"), (-0.04, "0.0"), (-3.26, "−3.3"), (math.nan, "–"), (math.inf, "any")]
)
def test_numbers_are_rounded_for_people_and_exact_for_programs(value: float, told: str) -> None:
    made = markup.number(value, 1, key="what")
    assert read(made).text == told
    assert f'value="{value!r}" data-of="what"' in made
    assert read(markup.percent(0.0723)).text == "+7\N{NO-BREAK SPACE}%"


def test_a_table_has_heads_for_its_rows_and_columns() -> None:
    rows = [[("A", "1"), None, (markup.Markup("<b>B</b>"), markup.quoted('"x'))]]
    made = environment().get_template("pieces.html").module.table("What", rows)  # type: ignore[attr-defined]
    assert read(made).tags.count("th") == 3 and 'scope="row"' in made and 'scope="col"' in made
    assert 'data-label="B"' in made and 'tabindex="0"' in made


@pytest.mark.parametrize("bad", BAD)
def test_templates_escape_what_they_are_given(bad: str) -> None:
    made = render("figure.html", whole=True, kind=bad, art="", narrow=None, caption=bad)
    assert read(made).tags == ["figure", "div", "figcaption"]
    assert str(markup.escaped(bad)) in made and not set(made) & set("\u202e\u202c\u2067\u2069\u0000\ud800")


def test_no_template_can_let_text_through_as_markup() -> None:
    for template in ("{{ text|safe }}", "{% autoescape false %}{{ text }}{% endautoescape %}"):
        try:
            made = environment().from_string(template).render(text="<b>")
        except TemplateAssertionError:
            continue  # there is no such filter
        assert "<b>" not in made
