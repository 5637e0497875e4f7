"""The templates of the page. What they print is escaped, whatever it is, unless it is `Markup` already."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from fdtd.report import markup
from fdtd.report.markup import Markup


def render(template: str, **given: object) -> Markup:
    """HTML of a file in templates/."""
    return Markup(environment().get_template(template).render(given))


def blocks(template: str, **given: object) -> Any:
    """What a file in templates/ sets, each block as an attribute."""
    return environment().get_template(template).make_module(given)


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
        extensions=["jinja2.ext.do"],
    )
    for name in ("data", "escaped", "joined", "listed", "number", "paragraphs", "percent", "quoted", "seconds", "spot"):
        made.filters[name] = getattr(markup, name)
    made.filters["tenth"] = "{:.1f}".format
    made.tests["finite"] = math.isfinite
    del made.filters["safe"]  # so that no template can let anything through unescaped
    return made


def _as_markup(value: object) -> Markup:
    return value if isinstance(value, Markup) else markup.escaped(value)
