"""The templates of the page. What they print is escaped, whatever it is, unless it is `Markup` already."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from fdtd.report import markup
from fdtd.report.markup import Markup


def render(template: str, **given: object) -> Markup:
    """HTML of a file in templates/."""
    return Markup(environment().get_template(template).render(given))


@cache
def environment() -> Environment:
    """What all templates share."""
    made = Environment(
        loader=PackageLoader("fdtd.report"),
        autoescape=True,
        finalize=_as_markup,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    for one in (markup.escaped, markup.joined, markup.listed, markup.number, markup.paragraphs, markup.quoted):
        made.filters[one.__name__] = one
    made.filters["tenth"] = "{:.1f}".format
    del made.filters["safe"]  # so that no template can let anything through unescaped
    return made


def _as_markup(value: object) -> Markup:
    return value if isinstance(value, Markup) else markup.escaped(value)
