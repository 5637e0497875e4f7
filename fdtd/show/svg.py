"""SVG of a figure as text: titled for screen readers, ids that stay its own, nothing that reaches outside."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ElementTree

from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from fdtd.show.style import figure_style
from fdtd.show.text import paragraph

SVG, XLINK = "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"
FONTS = "'DejaVu Sans', Verdana, 'Bitstream Vera Sans', sans-serif"
"""The font that the layout was made with, then those of the same widths."""
_REFERENCE = re.compile(r"url\(#([^)]*)\)")
_FINE = re.compile(r"(\.\d\d)\d+")
_FONT = re.compile(r"(font(?:-family)?:[^;]*?)'DejaVu Sans'[^;]*")


def svg_of(figure: Figure, stem: str, title: str = "", description: str = "") -> str:
    """`figure` as SVG without prologue, for a file or to stand in an HTML page.

    stem : goes before every id, so that several drawings can stand in one page; title, description : what a screen
        reader says
    """
    buffer, dots = io.BytesIO(), figure.dpi
    nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    with figure_style():
        # Not `savefig`, which draws everything twice.
        FigureCanvasSVG(figure).print_svg(buffer, metadata=nothing)
    figure.set_dpi(dots)  # of rasters, which it changes
    ElementTree.register_namespace("", SVG)
    ElementTree.register_namespace("xlink", XLINK)
    root = ElementTree.fromstring(buffer.getvalue())
    _own_ids(root, stem)
    _without_style_sheet(root)
    _speak(root, stem, paragraph(title), paragraph(description))
    return ElementTree.tostring(root, encoding="unicode")


def _own_ids(root: ElementTree.Element, stem: str) -> None:
    """Every id, and every reference to one, begins with `stem`; fonts get their substitutes."""
    for element in root.iter():
        for key, value in list(element.attrib.items()):
            if key == "id":
                element.set(key, f"{stem}-{value}")
            elif key in ("href", f"{{{XLINK}}}href") and value.startswith("#"):
                element.set(key, f"#{stem}-{value[1:]}")
            elif "url(#" in value:
                element.set(key, _REFERENCE.sub(rf"url(#{stem}-\1)", value))
            elif key == "d":  # a hundredth of a point is finer than any print
                element.set(key, _FINE.sub(r"\1", value))
            if key == "style" and "font" in value:
                element.set(key, _FONT.sub(lambda found: found.group(1) + FONTS, value))


def _without_style_sheet(root: ElementTree.Element) -> None:
    """In a page, a style sheet would reach everything around the drawing; what it says stands on the root instead."""
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in (f"{{{SVG}}}style", f"{{{SVG}}}metadata"):
                parent.remove(child)
    root.set("stroke-linejoin", "round")
    root.set("stroke-linecap", "butt")


def _speak(root: ElementTree.Element, stem: str, title: str, description: str) -> None:
    root.set("role", "img")
    sentence: list[str] = []
    for place, (tag, phrase) in enumerate((("title", title), ("desc", description))):
        if phrase:
            element = ElementTree.Element(f"{{{SVG}}}{tag}", id=f"{stem}-{tag}")
            element.text = phrase
            root.insert(min(place, len(sentence)), element)
            sentence.append(f"{stem}-{tag}")
    if sentence:
        root.set("aria-labelledby", " ".join(sentence))
