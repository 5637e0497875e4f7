"""Drawings inside the page: vector, each once, coloured by the page's own light or dark colours."""

from __future__ import annotations

import base64
import io
import re
from dataclasses import replace

from fdtd.report.markup import Markup
from fdtd.report.templating import render
from fdtd.show.drawing import Drawing
from fdtd.show.files import svg_texts
from fdtd.show.style import FULL_WIDTH, LIGHT, figure_style

LARGEST = 700_000
"""Bytes of a vector drawing; a larger one is shown as a picture."""
DOTS = 170
"""Per inch, of such a picture."""
COLUMN = 5.0
"""Inches; a drawing narrower than this stands beside another."""

_COLOUR = re.compile(r"#[0-9a-fA-F]{6}\b")
_STYLE = re.compile(r'style="[^"]*"')
_PATH = re.compile(r' (?:d|points)="[^"]*"')
_LONG = re.compile(r"(\.\d\d)\d+")
_IMAGE = re.compile(r"<image\b[^>]*/>")
_HREF = re.compile(r'href="([^"]*)"')
_WIDTH = re.compile(r'<svg[^>]*? width="([\d.]+)pt"')


def figure(drawing: Drawing, prefix: str = "", narrow: Drawing | None = None) -> Markup:
    """`drawing` with its caption; prefix : goes before its ids, so that two parts of a page don't share any.

    narrow : the same for a telephone, if it is not just made smaller there
    """
    art, inches = _art(drawing, prefix)
    whole = inches >= COLUMN
    small = _art(narrow, f"{prefix}narrow-")[0] if narrow is not None and whole else None
    return render("figure.html", whole=whole, kind=drawing.kind, art=art, narrow=small, caption=drawing.caption)


def _art(drawing: Drawing, prefix: str) -> tuple[Markup, float]:
    """The picture, and its width in inches."""
    one = replace(drawing, stem=f"{prefix}{drawing.stem}")
    light, dark = svg_texts(one)
    svg = _slim(light)
    found = _WIDTH.search(svg)
    inches = float(found.group(1)) / 72.0 if found else FULL_WIDTH
    if len(svg) > LARGEST:
        return _picture(one), inches
    return _own_colours(_both_rasters(svg, dark)), inches


def _both_rasters(svg: str, other: str) -> str:
    """`svg` with the rasters of `other`, the dark theme, beside those of the light one, where they differ: a style
    sheet can't colour them."""
    light, dark = _IMAGE.findall(svg), _IMAGE.findall(other)

    def pair(one: str, other: str) -> str:
        if _HREF.findall(one) == _HREF.findall(other):
            return one
        copy = re.sub(r' id="[^"]*"', "", other)
        return "".join(e.replace("<image", f'<image class="{c}"') for e, c in ((one, "light"), (copy, "dark")))

    pairs = (pair(one, other) for one, other in zip(light, dark, strict=True))
    return _IMAGE.sub(lambda found: next(pairs), svg)


def _slim(svg: str) -> str:
    """Coordinates to a hundredth of a point."""
    return _PATH.sub(lambda found: _LONG.sub(r"\1", found.group()), svg)


def _own_colours(svg: str) -> Markup:
    """The colours of the house style become variables of the page."""
    names = {colour.lower(): f"var(--{name})" for name, colour in LIGHT.tokens.items()}

    def swap(found: re.Match[str]) -> str:
        return _COLOUR.sub(lambda c: names.get(c.group().lower(), c.group()), found.group())

    return Markup(_STYLE.sub(swap, svg))


def _picture(drawing: Drawing) -> Markup:
    """PNGs for both themes; the browser takes the one that fits."""
    light, dark = _png(drawing, "light"), _png(drawing, "dark")
    return render("picture.html", light=light, dark=dark, alternative=drawing.alternative)


def _png(drawing: Drawing, theme: str) -> Markup:
    buffer = io.BytesIO()
    with figure_style(theme):
        drawing.draw().savefig(buffer, format="png", dpi=DOTS)
    return Markup("data:image/png;base64," + base64.b64encode(buffer.getvalue()).decode("ascii"))
